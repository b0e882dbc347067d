"""Guards what a repeated record proves: where only changes are logged, that one in between was lost."""

from __future__ import annotations

import pytest

from eventlens.motion.states import States, build_states
from tests.logs import Records, at, make_log, merged, pulse, run
from tests.patterns.helpers import found, reviewed

SIGNAL = "hoist.raise.contactor"
PRESSES = [(20.0 * n, 20.0 * n + 5) for n in range(1, 11)]


def states(records: Records) -> States:
    log = make_log(records, end=400.0)
    return build_states(log.events, log.segments, log.signals())


def without(records: Records, when: float) -> Records:
    return [record for record in records if record[0] != when]


def test_between_two_ons_nothing_is_known_but_both_are_changes() -> None:
    known = states(without(pulse(SIGNAL, *PRESSES), 45.0))  # the off of the second press is lost
    assert known.lost == 1
    near = known.on(SIGNAL).filter((at(30) < known.on(SIGNAL)["start"]) & (known.on(SIGNAL)["start"] < at(70)))
    assert near.select("start", "end", "start_seen", "end_seen").rows() == [
        (at(40), at(40), True, False),
        (at(60), at(65), True, True),
    ]
    assert known.off(SIGNAL).filter(known.off(SIGNAL)["start"] == at(45)).is_empty()


def test_between_two_offs_nothing_is_known() -> None:
    known = states(without(pulse(SIGNAL, *PRESSES), 40.0))  # the on of the second press is lost
    assert known.lost == 1
    off = known.off(SIGNAL).filter(known.off(SIGNAL)["start"].is_between(at(24), at(46)))
    assert off.select("start", "end", "end_seen").rows() == [(at(25), at(25), False), (at(45), at(60), True)]


def test_a_row_that_stands_twice_proves_nothing() -> None:
    records = pulse(SIGNAL, *PRESSES)
    doubled = sorted([*records, (40.0, SIGNAL, 1.0)], key=lambda record: record[0])
    assert states(doubled).lost == 0
    assert states(doubled).on(SIGNAL).height == len(PRESSES)


def test_a_signal_that_is_recorded_again_and_again_proves_nothing() -> None:
    ticks = [(float(t), SIGNAL, 1.0 if any(a <= t < b for a, b in PRESSES) else 0.0) for t in range(300)]
    known = states(ticks)
    assert known.lost == 0
    assert known.on(SIGNAL)["end_seen"].all()


def test_a_picture_of_all_signals_proves_nothing() -> None:
    names = ("hoist.lower.contactor", "hoist.raise.command", "hoist.brake.released")
    picture: Records = [(41.0, name, 0.0) for name in names] + [(41.0, SIGNAL, 1.0)]
    rest = merged(*(pulse(name, (200.0, 201.0), (210.0, 211.0), (220.0, 221.0)) for name in names))
    assert states(merged(pulse(SIGNAL, *PRESSES), rest, picture)).lost == 0
    alone = merged(pulse(SIGNAL, *PRESSES), rest, [(41.0, SIGNAL, 1.0)])
    assert states(alone).lost == 1


@pytest.mark.parametrize("gone", ["contactor off", "command on", "brake off", "brake on"])
def test_no_lost_row_makes_a_fault(gone: str) -> None:
    kind, change = gone.split()
    name = {"contactor": SIGNAL, "command": "hoist.raise.command", "brake": "hoist.brake.released"}[kind]
    value = 1.0 if change == "on" else 0.0
    records = merged(*(run(30.0 * n, 30.0 * n + 5) for n in range(1, 20)))
    struck = next(r for r in records if r[1] == name and r[2] == value and r[0] > 150)
    review = reviewed([r for r in records if r is not struck], end=700.0)
    assert (
        found("contactor_uncommanded", review)
        .filter(found("contactor_uncommanded", review)["certainty"] == "certain")
        .is_empty()
    )
    sure = review.occurrences.filter(review.occurrences["certainty"] == "certain")
    assert sure["pattern"].to_list() == []
