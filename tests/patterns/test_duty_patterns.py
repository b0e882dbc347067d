"""starts_per_hour_high and cyclic_duration_high: exactly the group's figure is allowed, one more is not."""

from __future__ import annotations

import pytest

from eventlens.machine import Machine
from tests.logs import Records, at, pulse
from tests.patterns.helpers import M5, found, reviewed, spans, why

CONTACTOR = "hoist.raise.contactor"


def starts(n: int, every: float, length: float = 1.0, begin: float = 5000.0) -> Records:
    return pulse(CONTACTOR, *((begin + i * every, begin + i * every + length) for i in range(n)))


@pytest.mark.parametrize(("n", "fires"), [(240, False), (241, True)])
def test_starts_at_the_groups_limit_and_one_above(n: int, fires: bool) -> None:
    """FEM 9.683: 240 starts per hour for group 2m / M5."""
    review = reviewed(starts(n, every=14.0), carries=[CONTACTOR], end=20000)
    assert bool(spans("starts_per_hour_high", review)) is fires


def test_it_spans_from_the_first_windows_beginning_to_the_last_windows_end() -> None:
    review = reviewed(starts(243, every=14.0), carries=[CONTACTOR], end=20000)
    first, last = 5000 + 240 * 14, 5000 + 242 * 14
    assert spans("starts_per_hour_high", review) == [(at(first - 3600), at(last), "certain")]
    assert found("starts_per_hour_high", review)["measured"].to_list() == [243.0]
    assert len(found("starts_per_hour_high", review)["rows"][0]) == 243


def test_a_start_one_hour_old_is_outside_the_window() -> None:
    # counted by hand: 15 s apart, (t - 3600, t] holds exactly 240 starts, however long it goes on
    review = reviewed(starts(500, every=15.0), carries=[CONTACTOR], end=20000)
    assert spans("starts_per_hour_high", review) == []
    assert review.motions["hoist"].starts_per_hour_max.value == 240  # type: ignore[union-attr]


@pytest.mark.parametrize(("length", "fires"), [(4.0, False), (4.1, True)])
def test_duty_at_the_groups_limit_and_above(length: float, fires: bool) -> None:
    """FEM 9.683: 40 % for group 2m / M5; runs every 10 s."""
    review = reviewed(starts(120, every=10.0, length=length), carries=[CONTACTOR], end=20000)
    assert bool(spans("cyclic_duration_high", review)) is fires


def test_duty_windows_begin_and_end_where_the_share_crosses_the_limit() -> None:
    # one run of 300 s: the share passes 40 % = 240 s at 5240 s; it falls to 40 % again when 60 s of it have left
    review = reviewed(pulse(CONTACTOR, (5000, 5300)), carries=[CONTACTOR], end=20000)
    assert spans("cyclic_duration_high", review) == [(at(5240 - 600), at(5660), "certain")]
    assert found("cyclic_duration_high", review)["measured"].to_list() == [pytest.approx(0.5)]


def test_without_a_group_neither_is_assessed_and_the_key_is_named() -> None:
    review = reviewed(starts(300, 10.0), carries=[CONTACTOR], machine=Machine(), end=20000)
    for pattern in ("starts_per_hour_high", "cyclic_duration_high"):
        assert why(pattern, review) == [("hoist", "missing_setting", ["machine file: [machine] group"])]


def test_travel_motions_need_their_own_group() -> None:
    records = pulse("bridge.forward.contactor", (10, 20))
    review = reviewed(records, carries=["bridge.forward.contactor"], end=20000)
    assert ("bridge", "missing_setting", ["machine file: [machine] bridge_group"]) in why(
        "starts_per_hour_high", review
    )


@pytest.mark.parametrize(("end", "too_little"), [(3599, True), (3601, False)])
def test_an_hour_of_log_is_needed_before_finding_nothing_says_something(end: float, too_little: bool) -> None:
    review = reviewed(pulse(CONTACTOR, (10, 12)), carries=[CONTACTOR], machine=M5, end=end)
    assert bool(why("starts_per_hour_high", review)) is too_little
