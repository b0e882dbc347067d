"""Guards shifts: as stated, by the local clock through its changes, or found from rests and from the log's rhythm."""

from __future__ import annotations

import random
from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import polars as pl
import pytest
from pydantic import ValidationError

from eventlens.duty.shifts import ROUND_THE_CLOCK, Shifts, plan_of, shifts_of
from eventlens.errors import MachineError
from eventlens.machine import Machine, Work, load_machine
from eventlens.schema import TIME
from tests.logs import ORIGIN, at

HOUR = 3600.0
BERLIN = ZoneInfo("Europe/Berlin")


def runs(*spans: tuple[float, float]) -> pl.DataFrame:
    """Runs from hour to hour after six o'clock on Monday, 2 March 2026."""
    return pl.DataFrame(
        {"start": [at(a * HOUR) for a, _ in spans], "end": [at(b * HOUR) for _, b in spans]},
        schema={"start": TIME, "end": TIME},
    )


def shifts(frame: pl.DataFrame, *stated: str, days: Iterable[str] = (), timezone: str = "UTC") -> Shifts:
    return shifts_of(frame, frame["start"], Work(shifts=stated, days=tuple(days)), timezone)


def instants(*hours: float) -> pl.Series:
    return pl.Series([at(h * HOUR) for h in hours], dtype=TIME)


class TestStated:
    def test_they_begin_by_the_local_clock(self) -> None:
        found = shifts(runs((0.0, 0.1), (12.0, 12.1)), "06:00-14:00", "14:00-22:00")
        assert (found.how, found.plan.stated) == ("as the machine file says", True)
        numbers = found.number(instants(-1, 0, 7, 8)).to_list()
        assert numbers[2] == numbers[1] == numbers[0] + 1  # 05:00 belongs to the late shift of the day before
        assert numbers[3] == numbers[2] + 1
        assert found.since_s(instants(0, 7, 8)).to_list() == [0.0, 7 * HOUR, 0.0]

    def test_the_clock_change_moves_them(self) -> None:
        # Berlin, 29 March 2026: 06:00 is 05:00 UTC on the day before the change and 04:00 UTC on the day itself
        day = datetime(2026, 3, 28, 12, tzinfo=UTC)
        frame = pl.DataFrame({"start": [day, day + timedelta(hours=24)]}, schema={"start": TIME})
        frame = frame.with_columns(end=pl.col("start") + timedelta(seconds=5))
        begins = shifts(frame, "06:00-14:00", timezone="Europe/Berlin").begins.to_list()
        assert [b.hour for b in begins] == [5, 4, 4]

    def test_a_beginning_that_summer_time_skips_is_left_out(self) -> None:
        day = datetime(2026, 3, 28, 12, tzinfo=UTC)
        frame = pl.DataFrame({"start": [day, day + timedelta(hours=24)]}, schema={"start": TIME})
        frame = frame.with_columns(end=pl.col("start") + timedelta(seconds=5))
        begins = shifts(frame, "02:30-10:00", timezone="Europe/Berlin").begins.to_list()
        assert [b.day for b in begins] == [28, 30]  # on the 29th there is no half past two

    def test_after_a_step_of_the_clock_they_follow_the_clock(self) -> None:
        # the same two runs, of which the second one lies 40 days and 5 hours further on the record's own axis
        clock = instants(1, 30)
        moved = pl.DataFrame({"start": [at(HOUR), at(30 * HOUR) + timedelta(days=40, hours=5)]}, schema={"start": TIME})
        frame = moved.with_columns(end=pl.col("start") + timedelta(seconds=5))
        found = shifts_of(frame, clock, Work(shifts=("06:00-14:00",)), "UTC")
        assert found.since_s(frame["start"]).to_list() == [HOUR, 6 * HOUR]

    def test_on_their_days_only_and_after_a_rest_on_the_others(self) -> None:
        work = [(24.0 * day + 1, 24.0 * day + 1.1) for day in range(7)]  # each day at 07:00
        found = shifts(runs(*work), "06:00-14:00", days=("mon", "tue", "wed", "thu", "fri"))
        assert found.since_s(instants(1, 24 * 4 + 1, 24 * 5 + 1)).to_list() == [HOUR, HOUR, 0.0]


class TestRests:
    @pytest.mark.parametrize(("rest_h", "number"), [(3.9, 1), (4.0, 2)])
    def test_a_long_rest_parts_shifts(self, rest_h: float, number: int) -> None:
        found = shifts(runs((0.0, 1.0), (1.0 + rest_h, 6.0)))
        assert len(found.begins) == number
        assert found.since_rest_s(instants(0.5)).to_list() == [0.5 * HOUR]
        assert found.how == "found from rests of 4 h and more in the log: fewer than 3 working days show no rhythm"

    def test_a_run_that_still_goes_on_is_no_rest(self) -> None:
        assert len(shifts(runs((0.0, 9.0), (1.0, 1.1), (10.0, 10.1))).begins) == 1

    def test_no_runs_no_shifts(self) -> None:
        assert shifts(runs()).begins.is_empty()


def worked(days: Iterable[int], *hours: tuple[float, float], seed: int = 0, zone: ZoneInfo = BERLIN) -> pl.Series:
    """Starts of runs on days from Monday, 2 March 2026, within hours of the local clock: about twenty an hour."""
    rng, found = random.Random(seed), []
    midnight = datetime(2026, 3, 2)
    for day in days:
        for begin, end in hours:
            for _ in range(int(20 * (end - begin))):
                local = midnight + timedelta(days=day, hours=rng.uniform(begin, end))
                found.append(local.replace(tzinfo=zone).astimezone(UTC))
    return pl.Series(sorted(found), dtype=TIME)


def times(*parts: pl.Series, timezone: str = "Europe/Berlin") -> tuple[str, ...]:
    return plan_of(pl.concat(parts), Work(), timezone).times


WEEK = (0, 1, 2, 3, 4)


class TestRhythm:
    @pytest.mark.parametrize(
        ("hours", "expected"),
        [
            (((6, 14),), ("06:00-14:00",)),
            (((6, 12), (12.5, 14)), ("06:00-14:00",)),  # a break is no rest
            (((6, 22),), ("06:00-14:00", "14:00-22:00")),
            (((7, 12), (17, 21)), ("07:00-12:00", "17:00-21:00")),
            (((0, 5), (20, 24)), ("20:00-05:00",)),
            (((0, 24),), ROUND_THE_CLOCK),
            (((6, 18),), ("06:00-18:00",)),  # twelve hours may be one shift
            (((6, 18.5),), ("06:00-12:00", "12:00-18:30")),
        ],
    )
    def test_the_hours_of_most_days(self, hours: tuple[tuple[float, float], ...], expected: tuple[str, ...]) -> None:
        assert times(worked(WEEK, *hours)) == expected

    def test_how_it_was_found_is_said(self) -> None:
        plan = plan_of(worked(WEEK, (6, 22)), Work(), "Europe/Berlin")
        assert "rhythm of 5 working days" in plan.how
        assert "more than 12 h on end are taken as shifts of equal length" in plan.how
        assert not plan.stated

    def test_holidays_and_a_short_saturday_do_not_change_it(self) -> None:
        weeks = worked([day for day in range(21) if day % 7 < 5 and day not in (7, 8, 9)], (6, 14))
        assert times(weeks, worked((5, 12, 19), (9, 10))) == ("06:00-14:00",)

    def test_overtime_on_some_days_does_not_move_it(self) -> None:
        assert times(worked(WEEK, (6, 14)), worked((1, 3), (14, 18), seed=1)) == ("06:00-14:00",)

    def test_those_who_come_early_and_stay_a_little_longer_do_not_move_it(self) -> None:
        assert times(worked(WEEK, (6, 14)), worked(WEEK, (5.92, 6), (14, 14.08), seed=2)) == ("06:00-14:00",)

    def test_summer_time_does_not_move_it(self) -> None:
        # the clock changes on Sunday, 29 March 2026: days 21 to 25 before it, 28 to 32 after it
        assert times(worked([*range(21, 26), *range(28, 33)], (6, 14))) == ("06:00-14:00",)

    @pytest.mark.parametrize(("days", "known"), [(2, False), (3, True)])
    def test_three_working_days_are_needed(self, days: int, known: bool) -> None:
        plan = plan_of(worked(range(days), (6, 14)), Work(), "Europe/Berlin")
        assert bool(plan.times) is known
        assert known or "fewer than 3 working days show no rhythm" in plan.how

    def test_work_at_any_hour_keeps_to_none(self) -> None:
        few = [worked((day,), (hour, hour + 0.3)) for day, hour in enumerate((1, 5, 9, 13, 17, 21, 3, 7))]
        plan = plan_of(pl.concat(few), Work(), "Europe/Berlin")
        assert plan.times == ()
        assert "keeps to no hours" in plan.how

    def test_a_shift_that_follows_another_begins_by_the_clock_the_others_with_their_first_run(self) -> None:
        clock = worked(WEEK, (6, 22), zone=ZoneInfo("UTC"))
        frame = pl.DataFrame({"start": clock, "end": clock + timedelta(seconds=5)})
        found = shifts(frame)
        first = clock.filter(clock.dt.date() == ORIGIN.date()).min()
        day = found.begins.filter(found.begins.dt.date() == ORIGIN.date()).to_list()
        assert day == [first, ORIGIN.replace(hour=14)]
        assert found.rested.to_list()[0] == first
        assert len(found.rested) == 5


class TestMachineFile:
    @pytest.mark.parametrize("text", ["6-14", "06:00", "25:00-26:00", "06:00 to 14:00", "24:00-06:00", ""])
    def test_a_shift_is_written_in_one_way(self, text: str) -> None:
        with pytest.raises(ValidationError, match="06:00-14:00"):
            Work(shifts=(text,))

    def test_it_is_kept_in_one_form(self) -> None:
        assert Work(shifts=("6:00 - 14:00", "22:00-24:00")).shifts == ("06:00-14:00", "22:00-00:00")
        assert Work(days=("Monday", "TUE")).days == ("mon", "tue")

    @pytest.mark.parametrize(
        ("work", "wanted"),
        [
            ('shifts = ["06:00-06:00"]', "a shift that ends at another time than it begins"),
            ('shifts = ["06:00-14:00", "6:00-15:00"]', "shifts that begin at different times"),
            ('days = ["someday"]', "days of the week as 'mon'"),
            ('shift = ["06:00-14:00"]', "did you mean 'shifts'?"),
        ],
    )
    def test_a_fault_is_one_sentence_with_its_line(self, work: str, wanted: str, tmp_path: object) -> None:
        path = tmp_path / "machine.toml"  # type: ignore[operator]
        path.write_text(f'[machine]\nid = "A"\n[work]\n{work}\n', "utf-8")
        with pytest.raises(MachineError, match="line 4") as caught:
            load_machine(path, [])
        assert wanted in str(caught.value)
        assert "\n" not in str(caught.value)

    def test_shifts_that_overlap_at_the_handover_are_accepted(self) -> None:
        assert len(Machine.model_validate({"work": {"shifts": ["06:00-14:15", "14:00-22:00"]}}).work.shifts) == 2
