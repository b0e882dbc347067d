"""Guards the windings of two-speed motors: the published shares, what is a start, and a walk through the states."""

from __future__ import annotations

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eventlens.duty.windings import Winding, count_windings, pieces, winding_limits
from eventlens.errors import MachineError
from eventlens.machine import Machine, Plate
from eventlens.motion import build_runs, build_states
from eventlens.motion.runs import RunParameters
from eventlens.report import text
from eventlens.result import Review
from tests.dashboards.weeks import set_back
from tests.logs import HOIST, Records, at, make_log, merged, run
from tests.patterns.helpers import M5, as_json, reviewed

FAST = "hoist.fast.contactor"

# User guide of a hoist maker, on a window of ten minutes: group, starts per hour slow and fast, minutes slow and fast;
# minutes are printed to one place
PRINTED = [
    ("M3", 100, 50, 0.8, 1.7),
    ("M4", 120, 60, 1.0, 2.0),
    ("M5", 160, 80, 1.3, 2.7),
    ("M6", 200, 100, 1.7, 3.3),
    ("M7", 240, 120, 2.0, 4.0),
]


@pytest.mark.parametrize(("group", "slow", "fast", "slow_min", "fast_min"), PRINTED)
def test_limits_are_those_of_the_published_table(
    group: str, slow: float, fast: float, slow_min: float, fast_min: float
) -> None:
    machine = Machine(machine=Plate(group=group))
    for name, most, minutes in (("slow", slow, slow_min), ("fast", fast, fast_min)):
        found = winding_limits(machine, name)
        assert found is not None
        assert found.starts_per_hour == pytest.approx(most)
        assert found.cyclic_duration * 10 == pytest.approx(minutes, abs=0.05)
        assert found.confidence == ("from memory" if group == "M7" else "from one place")


def test_the_plate_of_the_motor_comes_first() -> None:
    own = {"hoist_slow_starts_per_hour": 300.0, "hoist_slow_cyclic_duration": 0.15, "hoist_fast_starts_per_hour": 90.0}
    machine = Machine(machine=Plate(group="M5"), limits=own)
    slow, fast = winding_limits(machine, "slow"), winding_limits(machine, "fast")
    assert slow is not None
    assert (slow.starts_per_hour, slow.cyclic_duration, slow.confidence) == (300, 0.15, "machine file")
    assert fast is not None
    assert fast.starts_per_hour == 90
    assert fast.cyclic_duration == pytest.approx(0.4 * 2 / 3)
    assert fast.source.startswith("machine file, else FEM 9.683")
    with pytest.raises(MachineError, match=r"write 40 % as 0\.40"):
        winding_limits(Machine(limits={"hoist_fast_cyclic_duration": 25}), "fast")


@pytest.mark.parametrize("group", [None, "H3"])
def test_no_group_of_fem_no_limits(group: str | None) -> None:
    assert winding_limits(Machine(machine=Plate(group=group)), "slow") is None


def windings(records: Records, machine: Machine = M5, **more: float) -> dict[str, Winding]:
    return {one.winding: one for one in reviewed(records, machine=machine, **more).motions["hoist"].windings}


def test_slow_to_fast_is_a_start_of_the_fast_winding() -> None:
    # 2 s slow, 6 s fast, 2 s slow again before the stop; then a run that stays slow. Counted by hand
    found = windings(merged(run(10, 20, fast=(12, 18)), run(30, 33)))
    slow, fast = found["slow"], found["fast"]
    assert (slow.starts, slow.changes, slow.running_s) == (3, 1, 7.0)
    assert (fast.starts, fast.changes, fast.running_s) == (1, 1, 6.0)
    assert slow.starts_per_hour_max is not None
    assert (slow.starts_per_hour_max.value, slow.starts_per_hour_max.at) == (3, at(30))
    assert fast.cyclic_duration_max is not None
    assert fast.cyclic_duration_max.value == pytest.approx(6 / 600)


@pytest.mark.parametrize(("late", "slow"), [(0.1, 0), (0.11, 1)])  # contactors open in up to 0.1 s (common practice)
def test_a_contactor_that_is_still_opening_is_no_start(late: float, slow: int) -> None:
    found = windings(run(10, 20, fast=(10, 20 - late)))
    assert (found["fast"].starts, found["fast"].changes, found["slow"].starts) == (1, 0, slow)


def test_a_fast_output_that_opens_late_belongs_to_the_run_before() -> None:
    found = windings(merged(run(10, 20, fast=(12, 20.05)), run(20.0, 25, "lower")))
    assert (found["fast"].starts, found["slow"].starts) == (1, 2)


def test_time_of_an_unknown_output_is_in_neither() -> None:
    unknown: Records = [(12.0, FAST, None), (15.0, FAST, 1.0), (20.0, FAST, 0.0)]
    found = windings(merged(run(10, 20), unknown))
    assert (found["slow"].running_s, found["slow"].starts) == (2.0, 1)
    assert (found["fast"].running_s, found["fast"].starts) == (5.0, 0)  # its beginning was not seen


def test_a_hole_parts_what_lies_on_either_side() -> None:
    again = [(25.0, name, float(name in (FAST, "hoist.raise.contactor"))) for name in HOIST]
    after: Records = [(30.0, FAST, 0.0), (30.0, "hoist.raise.contactor", 0.0)]
    found = windings(merged(run(10, 30, fast=(12, 40))[:4], again, after), holes=[(20, 25)])  # type: ignore[arg-type]
    assert found["fast"].starts == 1
    assert found["fast"].running_s == 8 + 5


@pytest.mark.parametrize(
    ("carries", "said", "number", "assumed"),
    [
        (HOIST, None, 2, True),
        (HOIST, True, 2, False),
        (HOIST, False, 0, False),
        (("hoist.raise.contactor",), None, 0, False),
        (("hoist.raise.contactor",), True, 0, False),
    ],
)
def test_whose_motor_has_two_windings(carries: tuple[str, ...], said: bool | None, number: int, assumed: bool) -> None:
    plate = Machine(machine=Plate(group="M5", two_windings=said))
    counts = reviewed(run(10, 20), carries=carries, machine=plate).motions["hoist"]
    assert (len(counts.windings), counts.windings_assumed) == (number, assumed)


def busy() -> Review:
    """81 runs with a fast step of 10 s in an hour, where the fast winding may start 80 times."""
    return reviewed(merged(*(run(40.0 * n, 40.0 * n + 12, fast=(40.0 * n + 1, 40.0 * n + 11)) for n in range(1, 82))))


def test_report_and_json_say_which_winding_is_above_its_limit() -> None:
    review = busy()
    page = " ".join(text.render(review).split())
    assert "fast winding 81 starts (81 by going to fast); 81 in the hour to" in page
    assert "ABOVE the limit of 80" in page
    assert "a start of a winding is each time it is switched on" in page
    assert "found in one place only: check it" in page
    slow, fast = as_json(review)["duty"]["hoist"]["windings"]
    assert (slow["starts"], slow["starts_per_hour_limit"], slow["starts_by_change"]) == (162, 160, 81)
    assert (fast["starts"], fast["starts_per_hour_limit"]) == (81, 80)
    assert fast["confidence"] == "from one place"
    assert review.motions["hoist"].starts == 81  # raw starts stay: every run once


@pytest.mark.parametrize(("group", "marked"), [("M4", False), ("M2", True)])
def test_a_finding_that_rests_on_a_figure_from_memory_says_so(group: str, marked: bool) -> None:
    # 200 starts in an hour, where 180 (M4) and 120 (M2, from memory) are allowed
    many = merged(*(run(15.0 * n, 15.0 * n + 3) for n in range(1, 201)))
    review = reviewed(many, machine=Machine(machine=Plate(group=group)))
    told = review.findings.filter(pl.col("pattern") == "starts_per_hour_high")["summary"][0]
    assert ("from memory: check it" in told) == marked


def test_a_clock_that_was_set_back_does_not_bring_starts_together() -> None:
    slow = set_back().motions["hoist"].windings[0]
    # the run after the step is not counted: nothing says there whether fast is on
    assert (slow.starts, slow.running_s) == (2, 18.0)
    assert slow.starts_per_hour_max is not None
    assert slow.starts_per_hour_max.value == 2


def test_what_follows_a_lost_record_is_in_neither() -> None:
    """The fast output comes on twice: in between it went off, nobody knows when. Counted by hand."""
    plain = merged(*(run(30.0 * n, 30.0 * n + 10, fast=(30.0 * n + 5, 30.0 * n + 10)) for n in range(1, 9)))
    before = windings(plain)
    found = windings(merged(plain, run(300, 320, fast=(305, 320)), [(315.0, FAST, 1.0)]))
    # slow for 5 s; fast from 315 s on: from 305 s to 315 s it is known to be on at its first instant only
    assert found["slow"].running_s == before["slow"].running_s + 5.0
    assert found["fast"].running_s == before["fast"].running_s + 5.0


steps = st.lists(st.tuples(st.sampled_from(["rest", "slow", "fast"]), st.integers(1, 5)), min_size=1, max_size=12)


@settings(max_examples=60, deadline=None)
@given(steps)
def test_against_a_walk_through_the_states(drawn: list[tuple[str, int]]) -> None:
    records: Records = [(0.0, "hoist.raise.contactor", 0.0), (0.0, FAST, 0.0)]
    now, before = 10.0, "rest"
    begun, ran = {"slow": 0, "fast": 0}, {"slow": 0.0, "fast": 0.0}
    for state, length in [*drawn, ("rest", 1)]:
        if state != before:  # oracle: a winding starts when its state begins
            if "rest" in {state, before}:  # changes only: a record that repeats a state tells of a lost one
                records.append((now, "hoist.raise.contactor", float(state != "rest")))
            if "fast" in {state, before}:
                records.append((now, FAST, float(state == "fast")))
            if state != "rest":
                begun[state] += 1
        if state != "rest":
            ran[state] += length
        now, before = now + length, state
    log = make_log(records, end=now)
    states = build_states(log.events, log.segments, log.signals())
    runs = build_runs(states, log.events.clear(), RunParameters(), log.step_s)
    for one in count_windings(pieces(runs, states.known(FAST), RunParameters().fast_lag_s), M5):
        assert (one.starts, one.running_s) == (begun[one.winding], pytest.approx(ran[one.winding]))


def test_a_run_of_no_length_does_not_run_on_to_the_next_one() -> None:
    """A lost record leaves a run of no length: the slow winding was switched on, for no time that is known."""
    moment = [(10.0, "hoist.raise.contactor", 1.0), (10.0, "hoist.raise.contactor", 0.0)]
    found = windings(merged(moment, run(100.0, 110.0)))
    assert (found["slow"].starts, found["slow"].changes, found["slow"].running_s) == (2, 0, 10.0)
