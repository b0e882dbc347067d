"""Guards the cut of a log: nothing is made up at it, little is lost by it, and two logs say the same."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import polars as pl
import pytest

import eventlens
from eventlens import EventlensError, schema
from eventlens.comparison.cut import cut, instant_of, part_of
from eventlens.reading.log import Log
from eventlens.wiring import review_log
from tests.comparison.stories import log_of, spaced, work
from tests.logs import at, make_log, merged, run
from tests.patterns.helpers import M5, logged
from tests.patterns.test_contract import BUSY

KEY = ["pattern", "motion", "signal", "start"]


@pytest.mark.parametrize(
    "second",
    [11.0, 20.2, 20.7, 30.5, 31.5, 41.0, 45.0, 51.0, 62.0, 80.1, 93.0, 102.0],
    # in a run, a jog, a pause of a burst; where a brake never confirms; under commands without a run; in a trip
)
def test_a_cut_invents_nothing_and_shares_out_the_starts_and_the_time(second: float) -> None:
    log = logged(BUSY)
    whole, parts = review_log(log, M5), [review_log(part, M5) for part in cut(log, at(second))]
    found = pl.concat([part.occurrences for part in parts])
    assert found.join(whole.occurrences, on=KEY, how="anti", nulls_equal=True).is_empty()
    assert found.height >= whole.occurrences.height - 4  # bursts and repeats that it goes through
    assert sum(part.motions["hoist"].starts for part in parts) == whole.motions["hoist"].starts
    assert sum(part.motions["hoist"].running_s for part in parts) == pytest.approx(whole.motions["hoist"].running_s)
    assert sum(part.log.observed_s for part in parts) == log.observed_s


def test_a_run_that_the_cut_goes_through_is_censored_on_both_sides() -> None:
    before, after = (review_log(part, M5).runs for part in cut(logged(run(10, 15)), at(12)))
    assert before.select("start", "end", "start_seen", "end_seen").rows() == [(at(10), at(12), True, False)]
    assert after.select("start", "end", "start_seen", "end_seen").rows() == [(at(12), at(15), False, True)]
    assert before["ending"].to_list() == ["unknown"]


def test_a_trip_whose_raise_began_before_the_cut_is_only_possible() -> None:
    log = logged(BUSY)
    _, after = cut(log, at(60.3))  # within the raise from 60 s to 60.6 s that the device cuts at 60.58 s
    trips = review_log(after, M5).occurrences.filter(pl.col("start") == at(60.58))
    assert trips.select("pattern", "certainty").rows() == [("overload_trip", "possible")]


def test_signals_that_no_longer_change_are_still_carried() -> None:
    log = logged(run(10, 15))
    _, after = cut(log, at(100))
    assert after.signals() == log.signals()
    assert set(after.events["time"]) == {at(100)}


def test_signals_that_came_later_were_not_carried_before() -> None:
    before, after = cut(make_log([(0, "hoist.raise.contactor", 0), (50, "overload.trip", 1)], end=90), at(30))
    assert before.signals() == {"hoist.raise.contactor"}
    assert after.signals() == {"hoist.raise.contactor", "overload.trip"}


def test_two_logs_give_what_the_cut_gives() -> None:
    first, later = work(120, spaced(12, 120)), work(100, {50}, begin=20_000)
    one = log_of(first, later)
    parts = cut(one, at(19_000))
    two = log_of(first, end=19_000), log_of(later, begin=19_000)
    by_cut, by_logs = (eventlens.compare_reviews(*(review_log(part, M5) for part in pair)) for pair in (parts, two))
    assert by_cut.patterns.select("pattern", "before_count", "after_count", "verdict").rows() == [
        ("drop_out", 12, 1, "less")
    ]
    assert by_cut.patterns.equals(by_logs.patterns)
    assert by_cut.times.equals(by_logs.times)


def holed() -> Log:
    return make_log(merged(run(10, 15), run(210, 215)), end=300, holes=[(100, 200)])


def test_a_cut_in_a_hole_leaves_the_hole_on_neither_side() -> None:
    for second in (100, 150, 200):
        before, after = cut(holed(), at(second))
        assert (before.end, after.start) == (at(100), at(200))
        assert before.holes.is_empty()
        assert after.holes.is_empty()
        review_log(before, M5)
        review_log(after, M5)


def test_holes_and_steps_stay_with_their_side() -> None:
    before, after = cut(holed(), at(50))
    assert (before.holes.height, after.holes.height) == (0, 1)
    assert after.segments["segment"].to_list() == [0, 1]
    before, after = cut(holed(), at(250))
    assert (before.holes.height, after.holes.height) == (1, 0)
    assert after.segments["segment"].to_list() == [0]


TABLES = ("events", "segments", "holes", "clock_steps", "names", "rejected")


@pytest.mark.parametrize("end", [None, 45, 150, 210.5, 230, 299])
@pytest.mark.parametrize("begin", [None, 0.5, 11, 40, 120, 200, 212, 240])
def test_a_part_is_what_two_cuts_leave(begin: float | None, end: float | None) -> None:
    log = holed()
    low, high = (None if second is None else at(second) for second in (begin, end))

    def cut_twice() -> Log:
        rest = log if high is None else cut(log, high)[0]
        return rest if low is None else cut(rest, low)[1]

    last = 100 if end is not None and 100 <= end <= 200 else end or 300  # before `end`; the hole is from 100 to 200
    if begin is not None and begin >= last:
        for way in (cut_twice, lambda: part_of(log, low, high)):
            with pytest.raises(EventlensError, match=r"within 2026-03-02 06:00:00 to 2026-03-02 06:0\d:"):
                way()
        return
    found = cut_twice()
    part = part_of(log, low, high)
    for table in TABLES:
        assert getattr(part, table).equals(getattr(found, table)), table
    assert replace(part, **{table: getattr(found, table) for table in TABLES}) == found


def test_work_on_the_machine_is_on_neither_side() -> None:
    before, after = cut(logged(merged(run(10, 15), run(50, 55), run(90, 95))), at(40), at(60))
    assert (before.end, after.start) == (at(40), at(60))
    assert [review_log(part, M5).motions["hoist"].starts for part in (before, after)] == [1, 1]


def test_an_instant_that_the_clock_showed_twice_is_refused() -> None:
    log = holed()
    # the clock is set back in place of the hole: the second stretch begins at 50 s once more
    back = timedelta(seconds=150)
    second = pl.col("segment") == 1
    moved = (pl.when(second).then(pl.col(name) - back).otherwise(name).alias(name) for name in ("start", "end"))
    segments = log.segments.with_columns(moved)
    stepped = replace(log, segments=segments, holes=schema.HOLES.empty())
    with pytest.raises(EventlensError, match="showed once"):
        cut(stepped, at(70))
    assert cut(stepped, at(120))[1].start == at(120)


@pytest.mark.parametrize("second", [0, 300, -5, 400])
def test_an_instant_outside_the_log_is_refused_with_its_span(second: float) -> None:
    with pytest.raises(EventlensError, match="within 2026-03-02 06:00:00 to 2026-03-02 06:05:00"):
        cut(holed(), at(second))


def test_an_end_of_the_work_before_its_beginning_is_refused() -> None:
    with pytest.raises(EventlensError, match="not before its beginning"):
        cut(holed(), at(60), at(50))


def test_instants_are_in_the_zone_of_the_log_unless_they_say_else() -> None:
    ten = datetime(2026, 7, 1, 9, tzinfo=UTC)
    assert instant_of("2026-07-01 10:00", "Europe/Lisbon") == ten
    assert instant_of(datetime(2026, 7, 1, 10), "Europe/Lisbon") == ten
    assert instant_of("2026-07-01T11:00+02:00", "Europe/Lisbon") == ten
    assert instant_of("2026-07-01", "UTC") == datetime(2026, 7, 1, tzinfo=UTC)
    with pytest.raises(EventlensError, match="got 'next week'; write year, month"):
        instant_of("next week", "UTC")
