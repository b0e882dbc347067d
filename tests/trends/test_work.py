"""Guards kinds of work over the weeks: a share that moved is shown, one that did not is said not to have, and what
cannot be held side by side is not."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from datetime import timedelta
from typing import Any

import polars as pl
import pytest

from eventlens import schema
from eventlens.duty.kinds import items_of_work, kinds_in, kinds_of_work
from eventlens.report.trends import render
from eventlens.report.work_trends import reading
from eventlens.trends import Weeks, WorkTrends, gather, trends_of, weeks_of
from eventlens.trends import work as module
from eventlens.trends.work import FEW, LEAST_CHANGE, LEAST_DAYS, LEAST_WEEKS, work_trends
from eventlens.wiring import review_log
from tests.comparison.stories import log_of
from tests.logs import HOIST, Records, merged, off, run
from tests.patterns.helpers import M5
from tests.trends.tables import FIRST, counted, together, week

Share = Callable[[int, int], float]
FACTORS = [0.8 + 0.02 * n for n in range(21)]
"""By which lengths of a kind differ."""
LAST = [week(number) for number in range(8, 12)]


def worked(
    share: Share, weeks: int = 12, *, per_day: int = 50, days: int = 5, machine: str = "A", **columns: Any
) -> pl.DataFrame:
    """Runs of about 20 s in fast and of about 2 s in slow; share: of the long ones, by number of week and of day."""
    rows = []
    for number in range(weeks):
        for day in range(days):
            long = round(per_day * share(number, day))
            for count, length, fast, load in ((long, 20.0, 0.8, 0.5), (per_day - long, 2.0, 0.0, 0.02)):
                parts = [((count + n) // len(FACTORS), factor) for n, factor in enumerate(FACTORS)]
                rows += [
                    {
                        "machine": machine,
                        "week": week(number),
                        "day": f"{FIRST + timedelta(weeks=number, days=day)}",
                        "subject": "hoist runs",
                        "length_s": length * factor,
                        "starts": 1.0,
                        "fast": fast,
                        "together": 0.0,
                        "travel": 0.0,
                        "load": load,
                        "load_unit": "share",
                        "direction": None,
                        "count": alike,
                        **columns,
                    }
                    for alike, factor in parts
                    if alike
                ]
    return pl.DataFrame(rows, schema=schema.WEEK_WORK.schema)


def found_of(share: Share, weeks: int = 12, **how: Any) -> WorkTrends:
    return work_trends(worked(share, weeks, **how), [week(n) for n in range(weeks)][-4:], 0.95)


def long_of(found: WorkTrends) -> dict[str, Any]:
    """The row of the long runs."""
    return next(row for row in found.kinds.iter_rows(named=True) if "mostly fast" in row["words"])


def test_a_share_that_moved_from_a_fifth_to_three_fifths_is_shown() -> None:
    found = found_of(lambda number, _: 0.2 if number < 8 else 0.6)
    row = long_of(found)
    assert (row["past_count"], row["past_whole"], row["recent_count"], row["recent_whole"]) == (400, 2000, 600, 1000)
    assert row["change"] == pytest.approx(0.4)
    assert row["change_low"] < 0.4 < row["change_high"]
    assert sorted(found.kinds["verdict"]) == ["less", "more"]
    shares = found.weekly.filter(pl.col("kind") == row["kind"]).sort("week")["share"].to_list()
    assert shares == pytest.approx([0.2] * 8 + [0.6] * 4)
    said = reading(found.kinds, 0.95)
    assert said.startswith("Hoist runs of about ")
    assert "before the last weeks" in said
    assert "may have changed with the use" in said


def test_a_share_that_stays_is_said_to_stay_and_by_how_much_it_may_have_moved() -> None:
    found = found_of(lambda number, day: (0.38, 0.42, 0.4, 0.36, 0.44)[(number + day) % 5])
    assert found.kinds["verdict"].to_list() == ["not_shown", "not_shown"]
    row = long_of(found)
    assert row["change"] == pytest.approx(0.0)
    bound = 100 * max(abs(row["change_low"]), row["change_high"])
    assert reading(found.kinds, 0.95) == (
        "The kinds of work show no change: in the last weeks no share differs from that before by more than "
        f"{bound:.0f} points (95 % limits)."
    )
    assert 1 < bound < 10


def test_jobs_of_whole_days_are_no_change_of_use() -> None:
    """The shares of the weeks differ as in a change, but so do their days."""

    def jobs(number: int, day: int) -> float:
        of_ten = (2, 1) if number < 8 else (3, 2)  # days of five with long runs alone, in turn
        return float(day < of_ten[number % 2])

    found = found_of(jobs)
    assert long_of(found)["spread"] > 20
    assert set(found.kinds["verdict"]) == {"not_shown"}
    steady = found_of(lambda number, _: 0.3 if number < 8 else 0.5)  # the same weeks, every day alike
    assert long_of(steady)["change"] == pytest.approx(long_of(found)["change"])
    assert set(steady.kinds["verdict"]) == {"more", "less"}


@pytest.mark.parametrize(("by", "verdict"), [(LEAST_CHANGE - 0.01, "not_shown"), (LEAST_CHANGE + 0.01, "more")])
def test_a_small_change_is_none_however_sure(by: float, verdict: str) -> None:
    found = found_of(lambda number, _: 0.4 + by * (number >= 8), per_day=2000)
    assert long_of(found)["p_adjusted"] < 1e-6
    assert long_of(found)["verdict"] == verdict


def test_weeks_that_differ_anyway_are_no_change_of_the_last_ones() -> None:
    found = found_of(lambda number, _: (0.2, 0.6)[number % 2] + 0.1 * (number >= 8))
    row = long_of(found)
    assert row["change"] == pytest.approx(0.1)
    assert row["change_low"] < 0  # every day of a week is alike, the weeks are not
    assert row["verdict"] == "uneven"
    assert long_of(found_of(lambda number, _: 0.4 + 0.1 * (number >= 8)))["verdict"] == "more"


def test_a_single_week_of_other_work_is_uneven() -> None:
    found = found_of(lambda number, _: 0.9 if number == 3 else 0.4)
    assert long_of(found)["verdict"] == "uneven"
    assert "differs from week to week, by up to 50 points" in reading(found.kinds, 0.95)


@pytest.mark.parametrize(("weeks", "judged"), [(LEAST_WEEKS, False), (LEAST_WEEKS + 1, True)])
def test_few_weeks_are_not_judged(weeks: int, judged: bool) -> None:
    found = work_trends(
        worked(lambda number, _: 0.2 + 0.1 * number, weeks).filter(pl.col("week") != week(0)), LAST, 0.95
    )
    assert (found.kinds["verdict"] != "too_little").all() == judged
    assert any("a change of kinds takes 4 and 4" in note for note in found.notes) != judged
    assert ("Too few weeks or days" in reading(found.kinds, 0.95)) != judged


@pytest.mark.parametrize(("spare", "judged"), [(LEAST_DAYS - 1, False), (LEAST_DAYS, True)])
def test_without_second_days_nobody_knows_how_days_differ(spare: int, judged: bool) -> None:
    every = worked(lambda number, _: 0.2 if number < 4 else 0.6, 8, days=2)
    days = sorted(every["day"].unique())
    seconds = [day for day in days if day not in set(every.group_by("week").agg(pl.col("day").min())["day"])]
    found = work_trends(every.filter(~pl.col("day").is_in(seconds[spare:])), [week(n) for n in range(4, 8)], 0.95)
    assert (found.kinds["verdict"] != "too_little").all() == judged


@pytest.mark.parametrize(("number", "few"), [(FEW - 1, True), (FEW, False)])
def test_a_week_with_few_runs_is_marked_and_not_judged(number: int, few: bool) -> None:
    usual = worked(lambda *_: 0.4).filter(pl.col("week") != week(11))
    last = worked(lambda *_: 1.0, days=1, per_day=number).filter(pl.col("week") == week(11))
    found = work_trends(pl.concat([usual, last]), LAST, 0.95)
    assert found.weekly.filter("few")["week"].unique().to_list() == ([week(11)] if few else [])
    assert any(f"fewer than {FEW} in {week(11)}: not judged" in note for note in found.notes) == few
    assert long_of(found)["recent_whole"] == 750 + (0 if few else number)


def test_what_one_week_does_not_log_tells_no_kinds_apart() -> None:
    own = pl.when(pl.col("length_s") > 10).then(pl.col("length_s") / 10).otherwise("length_s")
    heavy = worked(lambda *_: 0.5).with_columns(length_s=own, fast=pl.lit(None, pl.Float64))  # loads alone differ
    assert found_of(lambda *_: 0.5).kinds.height == 2
    assert work_trends(heavy, LAST, 0.95).kinds.height == 2
    bare = pl.when(pl.col("week") == week(5)).then(None).otherwise("load").alias("load")
    found = work_trends(heavy.with_columns(bare), LAST, 0.95)
    assert found.kinds.height == 1
    said = f"the load is not logged in {week(5)}: it tells no kinds apart, so that all weeks can be compared"
    assert found.notes == (f"A: hoist runs: {said}",)
    assert "load" not in found.kinds["words"][0]
    assert reading(found.kinds, 0.95) == "Hoist runs are of one kind each in all weeks: no share can move."
    mixed = pl.when(pl.col("week") == week(5)).then(pl.lit("kg")).otherwise("load_unit").alias("load_unit")
    assert "in shares of the rated load and in kg" in work_trends(heavy.with_columns(mixed), LAST, 0.95).notes[0]


def test_too_little_work_is_said() -> None:
    found = found_of(lambda *_: 0.5, 1, per_day=19)
    assert found.kinds.is_empty()
    assert found.notes == ("A: hoist runs: 95 in all weeks, kinds need 100",)
    assert reading(found.kinds, 0.95) == "There is too little work in these logs to tell kinds of it apart."
    assert work_trends(schema.WEEK_WORK.empty(), LAST, 0.95).notes == ()


def test_it_is_told_in_text_and_json() -> None:
    moved = worked(lambda number, _: 0.2 if number < 8 else 0.6)
    steady = worked(lambda *_: 0.4, machine="B")
    weeks = together(counted("A", [1] * 12), counted("B", [1] * 12), *(_weeks(part) for part in (moved, steady)))
    found = trends_of(weeks)
    text = " ".join(render(found).split())
    assert "Kinds of work Kinds are found in all weeks together" in text
    assert "A: Hoist runs of about" in text
    assert "B: The kinds of work show no change" in text
    told = json.loads(found.to_json())["work"]
    assert {row["verdict"] for row in told["kinds"] if row["machine"] == "A"} == {"more", "less"}
    assert len(told["weekly"]) == 2 * 2 * 12
    assert found.work_of("A").kinds.equals(found.work.kinds.filter(pl.col("machine") == "A"))


def _weeks(work: pl.DataFrame) -> Weeks:
    return Weeks(schema.WEEKS.empty(), schema.WEEK_TIMES.empty(), work=work)


def records(shares: Sequence[float], per_day: int = 30) -> tuple[Records, list[tuple[float, float]]]:
    """A record of two days of each week, and the holes between: raises of 20 s and of 2 s in turn."""
    parts, holes, until = list[Records](), list[tuple[float, float]](), 0.0
    for number, share in enumerate(shares):
        for day in range(2):
            begin = number * 7 * 86_400.0 + day * 86_400.0
            if begin:
                holes.append((until, begin))
            parts.append([(begin, name, value) for _, name, value in off(*HOIST)])
            for n in range(per_day):
                at = begin + 100 + 120.0 * n
                parts.append(run(at, at + (20.0 if n % 10 < 10 * share else 2.0)))
            until = begin + 100 + 120.0 * per_day
    return merged(*parts), holes


def test_weeks_of_a_real_log_hold_its_runs_and_their_kinds() -> None:
    made, holes = records([0.2, 0.2, 0.6, 0.6])
    review = review_log(log_of(made, end=holes[-1][1] + 7200, holes=holes), M5)
    work = weeks_of(review).work
    whole = review.runs.filter(pl.col("start_seen") & pl.col("end_seen")).height
    assert work.filter(pl.col("subject") == "hoist runs")["count"].sum() == whole == 240
    own = kinds_of_work(review.runs, None).table.filter(pl.col("subject") == "hoist runs")
    assert own["count"].to_list() == [144, 96]
    found = work_trends(work, [], 0.95)
    kinds = found.kinds.filter(pl.col("subject") == "hoist runs")
    assert kinds["count"].to_list() == own["count"].to_list()
    lengths = kinds_in("hoist runs", work.filter(pl.col("subject") == "hoist runs")).table["length_s"].to_list()
    assert lengths == pytest.approx(own["length_s"].to_list(), rel=0.03)  # they are kept in steps of a twentieth
    long = found.weekly.filter((pl.col("subject") == "hoist runs") & (pl.col("kind") == 2)).sort("week")
    assert long["share"].to_list() == pytest.approx([0.2, 0.2, 0.6, 0.6])
    assert set(items_of_work(review.runs, None)) == {"hoist runs", "work cycles"}


def test_parts_of_a_week_add_up() -> None:
    one = worked(lambda *_: 0.4, 2)
    both = gather([_weeks(one), _weeks(one)]).work
    assert both["count"].sum() == 2 * one["count"].sum()
    assert both.height == one.height


def test_the_same_weeks_give_the_same_kinds_in_any_order() -> None:
    work = worked(lambda number, _: 0.2 if number < 8 else 0.6)
    again = work_trends(work.sample(fraction=1.0, shuffle=True, seed=4), LAST, 0.95)
    assert again.kinds.equals(work_trends(work, LAST, 0.95).kinds)
    assert module.__doc__ is not None
