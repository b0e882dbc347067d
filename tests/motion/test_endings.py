"""How a run ended: each reason, its nearest neighbour, and when the log leaves it open."""

from __future__ import annotations

import pytest

from eventlens.motion import build_runs, build_states
from eventlens.motion.runs import RunParameters
from tests.logs import HOIST, Records, make_log, merged, off, pulse, run

HELD = (9.9, 15.0)
"""A command that outlasts the run by two seconds."""


def ending(
    records: Records, *, carries: tuple[str, ...] = HOIST, step_s: float = 0.01, which: int = 0
) -> tuple[str, bool]:
    names = {record[1] for record in records}
    log = make_log(
        [*off(*(n for n in carries if n not in names or not _starts_off(records, n))), *records], end=100, step_s=step_s
    )
    runs = build_runs(build_states(log.events, log.segments, log.signals()), log.events, RunParameters(), step_s)
    return runs.select("ending", "ending_certain").row(which)


def _starts_off(records: Records, name: str) -> bool:
    return any(r[0] == 0 and r[1] == name for r in records)


def on(signal: str, start: float, end: float) -> Records:
    return [(start, signal, 1.0), (end, signal, 0.0)]


def test_let_go_when_the_command_ended_first() -> None:
    assert ending(run(10, 13)) == ("let_go", True)


def test_let_go_when_command_and_contactor_end_in_one_step() -> None:
    assert ending(run(10, 13, command=(9.9, 13.0))) == ("let_go", True)


def test_dropped_out_when_the_command_is_held_and_nothing_explains_it() -> None:
    assert ending(run(10, 13, command=HELD)) == ("dropped_out", True)


@pytest.mark.parametrize(
    ("signal", "reason"),
    [
        ("hoist.raise.limit", "limit"),
        ("overload.trip", "overload"),
        ("overload.fault", "overload"),
        ("stop.emergency", "emergency_stop"),
        ("hoist.motor.hot", "motor_hot"),
        ("supply.phase_fault", "supply"),
    ],
)
def test_a_device_just_before_the_end_explains_it(signal: str, reason: str) -> None:
    assert ending(merged(run(10, 13, command=HELD), on(signal, 12.95, 30))) == (reason, True)


@pytest.mark.parametrize("signal", ["hoist.lower.limit", "trolley.left.limit", "overload.warning", "rope.slack"])
def test_a_device_of_something_else_explains_nothing(signal: str) -> None:
    assert ending(merged(run(10, 13, command=HELD), on(signal, 12.95, 30))) == ("dropped_out", True)


def test_the_overload_device_does_not_explain_the_end_of_a_lowering() -> None:
    assert ending(merged(run(10, 13, "lower", command=HELD), on("overload.trip", 12.95, 30)))[0] == "dropped_out"


def test_a_slack_rope_explains_the_end_of_a_lowering() -> None:
    assert ending(merged(run(10, 13, "lower", command=HELD), on("rope.slack", 12.95, 30)))[0] == "limit"


def test_a_supply_that_fails_takes_the_command_with_it() -> None:
    records = merged(run(10, 13, command=(9.9, 13.0)), [(0, "supply.control", 1.0), *on("supply.control", 14, 99)[:1]])
    records = merged(records, [(13.0, "supply.control", 0.0)])
    assert ending(records)[0] == "supply"


@pytest.mark.parametrize(("before_s", "reason"), [(0.5, "limit"), (0.53, "dropped_out")])
def test_a_device_explains_an_end_up_to_half_a_second_later(before_s: float, reason: str) -> None:
    """Both sides of explained_within_s = 0.5 s and two log steps of 0.01 s."""
    assert ending(merged(run(10, 13, command=HELD), on("hoist.raise.limit", 13 - before_s, 30)))[0] == reason


def test_a_limit_that_operates_after_the_release_explains_nothing() -> None:
    assert ending(merged(run(10, 13, command=(9.9, 12.8)), on("hoist.raise.limit", 12.95, 30)))[0] == "let_go"


def test_reversed_when_the_opposite_command_comes_at_once() -> None:
    records = merged(run(10, 13), run(13.3, 15, "lower", command=(12.97, 14.9)))
    assert ending(records)[0] == "reversed"


def test_not_reversed_when_a_hand_moves_over_first() -> None:
    records = merged(run(10, 13), run(13.6, 15, "lower", command=(13.4, 14.9)))
    assert ending(records)[0] == "let_go"


def test_unknown_without_a_command_and_without_a_reason() -> None:
    assert ending(pulse("hoist.raise.contactor", (10, 13)), carries=()) == ("unknown", True)


def test_a_device_explains_the_end_without_a_command_too() -> None:
    records = merged(pulse("hoist.raise.contactor", (10, 13)), pulse("hoist.raise.limit", (12.97, 20)))
    assert ending(records, carries=())[0] == "limit"


def test_pressing_again_before_the_contactor_opened_is_letting_go() -> None:
    """A slow contactor may open after the button was released and pressed again."""
    records = merged(
        pulse("hoist.raise.command", (9.9, 12.8), (12.95, 14)), pulse("hoist.raise.contactor", (10, 13), (13.1, 14))
    )
    assert ending(records)[0] == "let_go"


@pytest.mark.parametrize(("dip_s", "expected"), [(0.12, ("dropped_out", True)), (0.13, ("let_go", False))])
def test_a_command_that_dips_faster_than_a_hand_was_held(dip_s: float, expected: tuple[str, bool]) -> None:
    """The near side of regrip_s = 0.15 s (from memory) less two log steps of 0.01 s."""
    commands = pulse("hoist.raise.command", (9.9, 12.8), (12.8 + dip_s, 15))
    assert ending(merged(commands, pulse("hoist.raise.contactor", (10, 13)))) == expected


@pytest.mark.parametrize(("dip_s", "certain"), [(0.16, False), (0.17, True)])
def test_a_second_press_that_takes_a_hands_time_is_surely_one(dip_s: float, certain: bool) -> None:
    """The far side of regrip_s, with two log steps."""
    commands = pulse("hoist.raise.command", (9.9, 12.8), (12.8 + dip_s, 15))
    assert ending(merged(commands, pulse("hoist.raise.contactor", (10, 13)))) == ("let_go", certain)


@pytest.mark.parametrize(("back_s", "certain"), [(0.03, False), (0.16, False), (0.17, True)])
def test_a_command_that_is_back_at_once_after_the_end_leaves_letting_go_open(back_s: float, certain: bool) -> None:
    """The button's contact may have opened for a moment and taken the contactor along."""
    commands = pulse("hoist.raise.command", (9.9, 12.98), (12.98 + back_s, 15))
    assert ending(merged(commands, pulse("hoist.raise.contactor", (10, 13)))) == ("let_go", certain)


def test_a_step_that_hides_how_long_the_command_was_gone_leaves_letting_go_open() -> None:
    records = merged(pulse("hoist.raise.command", (9, 12), (12.1, 15)), pulse("hoist.raise.contactor", (9, 12.2)))
    assert ending(records, step_s=0.1) == ("let_go", False)


@pytest.mark.parametrize("signal", ["rope.slack", "hoist.lower.limit", "hoist.motor.hot", "stop.emergency"])
@pytest.mark.parametrize(("since", "reason"), [(5.0, "dropped_out"), (9.97, "dropped_out"), (9.98, None)])
def test_a_device_that_was_on_before_the_run_began_does_not_explain_its_end(
    signal: str, since: float, reason: str | None
) -> None:
    """It let the run begin. Both sides of two log steps before the start; the run ends 0.3 s after it."""
    got = ending(merged(run(10, 10.3, "lower", command=(9.9, 15)), on(signal, since, 30)))
    assert (got == (reason, True)) if reason else (got[0] != "dropped_out")


@pytest.mark.parametrize("signal", ["rope.slack", "hoist.lower.limit"])
def test_a_device_that_was_on_and_operates_again_during_the_run_explains_its_end(signal: str) -> None:
    twice = merged(on(signal, 5, 12), on(signal, 12.95, 30))
    assert ending(merged(run(10, 13, "lower", command=HELD), twice))[0] == "limit"


@pytest.mark.parametrize("signal", ["hoist.raise.limit", "stop.emergency", "overload.trip", "hoist.motor.hot"])
@pytest.mark.parametrize(("began", "ended", "certain"), [(11, 30, False), (11, 12.9, True), (5, 30, True)])
def test_a_device_that_operated_in_the_run_and_stays_on_leaves_a_drop_out_open(
    signal: str, began: float, ended: float, *, certain: bool
) -> None:
    """It may have cut the run, and the contactor hung on; one that had been on before the start cannot have."""
    records = merged(run(10, 13, command=HELD), on(signal, began, ended))
    assert ending(records) == ("dropped_out", certain)


@pytest.mark.parametrize(("after_s", "reason"), [(0.01, "limit"), (0.02, "limit"), (0.03, "dropped_out")])
def test_a_device_stamped_up_to_two_steps_after_the_contactor_still_explains_it(after_s: float, reason: str) -> None:
    """A difference of two stamps is known to two log steps (common practice)."""
    assert ending(merged(run(10, 13, command=HELD), on("hoist.raise.limit", 13 + after_s, 30)))[0] == reason


class TestDoubt:
    """A drop-out is certain only when every device that could explain it is logged or ruled out."""

    few = ("hoist.raise.command", "hoist.raise.contactor", "hoist.brake.released")

    def test_three_signals_cannot_tell_a_limit_from_a_drop_out(self) -> None:
        assert ending(run(10, 13, command=HELD), carries=self.few) == ("dropped_out", False)

    def test_a_confirmation_lost_first_settles_it(self) -> None:
        records = run(10, 13, command=HELD, brake=(10.2, 12.8))
        assert ending(records, carries=self.few) == ("dropped_out", True)

    def test_a_restart_rules_out_limit_heat_and_stop_but_not_an_overload_device(self) -> None:
        records = merged(run(10, 13, command=(9.9, 13.4)), run(14, 17))
        assert ending(records, carries=self.few) == ("dropped_out", False)
        assert ending(records, carries=(*self.few, "overload.trip")) == ("dropped_out", True)

    def test_a_restart_after_going_the_other_way_rules_out_nothing(self) -> None:
        """Lowering frees an upper limit and gives a hot motor time."""
        carries = (*self.few, "overload.trip", "hoist.lower.command", "hoist.lower.contactor")
        dropped = run(10, 13, command=(9.9, 13.4))
        away = run(13.6, 14.2, "lower")
        assert ending(merged(dropped, away, run(15, 17)), carries=carries) == ("dropped_out", False)
        later = run(17.5, 18.2, "lower")
        assert ending(merged(dropped, run(15, 17), later), carries=carries) == ("dropped_out", True)

    @pytest.mark.parametrize("device", ["hoist.raise.limit", "hoist.motor.hot", "stop.emergency", "overload.trip"])
    def test_a_device_of_unknown_state_is_not_known_to_be_off(self, device: str) -> None:
        dropped, unknown = run(10, 13, command=HELD), (8.0, device, None)
        assert ending(merged(off(device), dropped, [unknown])) == ("dropped_out", False)
        assert ending(merged(off(device), dropped, [unknown, (9.0, device, 0.0)])) == ("dropped_out", True)

    def test_lowering_needs_no_overload_device(self) -> None:
        few = ("hoist.lower.command", "hoist.lower.contactor")
        records = merged(run(10, 13, "lower", command=(9.9, 13.4)), run(14, 17, "lower"))
        assert ending(records, carries=few) == ("dropped_out", True)

    @pytest.mark.parametrize(("pause_s", "certain"), [(2.9, True), (3.1, False)])
    def test_a_stop_is_ruled_out_by_a_restart_within_its_reset_time(self, pause_s: float, certain: bool) -> None:
        """Both sides of stop_reset_s = 3 s, with everything but the emergency stop logged."""
        carries = tuple(name for name in HOIST if name != "stop.emergency")
        records = merged(run(10, 13, command=(9.9, 13.4)), run(13 + pause_s, 19))
        assert ending(records, carries=carries) == ("dropped_out", certain)

    def test_at_a_coarse_step_a_release_just_after_the_end_leaves_it_open(self) -> None:
        records = run(10, 13, command=(9, 14), brake=(10, 14))
        assert ending(records, step_s=1.0) == ("dropped_out", False)
        assert ending(run(10, 13, command=(9, 13), brake=(10, 14)), step_s=1.0) == ("let_go", True)
        # even held for long: the button may have been let go and pressed again between two records
        assert ending(run(10, 13, command=(9, 16), brake=(10, 14)), step_s=1.0) == ("dropped_out", False)
        assert ending(run(10, 13, command=(9, 16), brake=(10, 14)), step_s=0.1) == ("dropped_out", True)


class TestCommandAndConfirmationOnly:
    """Without contactors the confirmation shows when the motor stopped."""

    def test_the_confirmation_that_goes_and_stays_away_shows_a_drop_out(self) -> None:
        records = merged(pulse("hoist.raise.command", (10, 15)), pulse("hoist.brake.released", (10.2, 11)))
        assert ending(records, carries=()) == ("dropped_out", False)

    def test_a_confirmation_that_comes_back_does_not(self) -> None:
        records = merged(
            pulse("hoist.raise.command", (10, 15)), pulse("hoist.brake.released", (10.2, 11), (11.2, 15.1))
        )
        assert ending(records, carries=())[0] == "let_go"

    def test_the_overload_device_explains_it(self) -> None:
        records = merged(
            pulse("hoist.raise.command", (10, 15)),
            pulse("hoist.brake.released", (10.2, 11)),
            pulse("overload.trip", (10.9, 30)),
        )
        assert ending(records, carries=())[0] == "overload"
