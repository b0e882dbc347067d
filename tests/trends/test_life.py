"""Guards life over the weeks: what each week used, what is used in all, and the forecast, by hand."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

import polars as pl
import pytest

from eventlens import schema
from eventlens.report.trends import render
from eventlens.trends import Trends, Weeks, gather, trends_of, weeks_of
from eventlens.wiring import review_log
from tests.comparison.stories import log_of, work
from tests.patterns.helpers import M5
from tests.trends.tables import FIRST, counted, together, week

ENTRY = datetime(2026, 1, 1, tzinfo=UTC)


def days(machine: str, uses: Sequence[float], stated: Sequence[float] = (), **columns: object) -> Weeks:
    """Weeks of five observed days of eight hours that use so many hours of full load each day."""
    rows = []
    for number, use in enumerate(uses):
        for day in range(5):
            at = FIRST + timedelta(weeks=number, days=day)
            rows.append(
                {
                    "machine": machine,
                    "week": week(number),
                    "day": at.isoformat(),
                    "weekday": day + 1,
                    "observed": 1.0,
                    "full_load_h": use,
                    "duration_h": 400.0,
                    "stated_h": stated[number] if stated else 100.0,
                    "stated_at": None,
                    "until": datetime(at.year, at.month, at.day, 22, tzinfo=UTC),
                    "how": "assumed",
                    "source": "a table",
                    "confidence": "from memory",
                    **columns,
                }
            )
    return Weeks(schema.WEEKS.empty(), schema.WEEK_TIMES.empty(), pl.DataFrame(rows, schema=schema.WEEK_LIFE.schema))


def found_of(*parts: Weeks) -> Trends:
    return trends_of(together(counted("A", [1] * 10), counted("B", [1] * 10), *parts))


def test_what_each_week_used_and_what_that_makes() -> None:
    found = found_of(days("A", [2.0, 0.0, 4.0]))
    assert found.life_weeks["full_load_h"].to_list() == [10.0, 0.0, 20.0]
    assert found.life_weeks["share"].to_list() == [0.025, 0.0, 0.05]
    assert found.life_weeks["used_h"].to_list() == [110.0, 110.0, 130.0]
    row = found.life.row(0, named=True)
    assert (row["used_h"], row["used_share"], row["weeks"]) == (130.0, 0.325, 3)
    # 2 h on each of 15 days; no weekend is in the log: 270 h last 135 days from Friday of the last week, 22:00
    assert row["h_per_week"] == 14.0
    assert row["ends"] == datetime(2026, 1, 2, 22, tzinfo=UTC) + timedelta(days=135)
    assert row["earliest"] < row["ends"] < row["latest"]
    assert found.fleet.sort("machine")["life_used"].to_list() == [0.325, None]
    assert any("no life is counted for B" in note for note in found.notes)


def test_hours_that_were_written_down_later_begin_anew() -> None:
    entry = days("A", [2.0, 2.0, 2.0, 2.0], [100.0, 100.0, 300.0, 305.0])
    since = pl.when(pl.col("week") >= week(2)).then(pl.lit(ENTRY)).cast(schema.TIME).alias("stated_at")
    found = found_of(Weeks(entry.counts, entry.times, entry.life.with_columns(since)))
    # the week of the entry has 300 before it, what the log holds before the entry taken off; the next adds to it
    assert found.life_weeks["used_h"].to_list() == [110.0, 120.0, 310.0, 320.0]


@pytest.mark.parametrize(("observed", "little"), [(0.21, False), (0.19, True)])
def test_weeks_with_little_log_are_marked(observed: float, little: bool) -> None:
    part = days("A", [2.0, 2.0, 2.0, 2.0])
    short = pl.when(pl.col("week") == week(3)).then(observed).otherwise("observed").alias("observed")
    found = found_of(Weeks(part.counts, part.times, part.life.with_columns(short)))
    assert found.life_weeks["little"].to_list() == [False] * 3 + [little]
    assert ("(little log)" in render(found)) == little


def test_it_is_told_in_text_and_json() -> None:
    found = found_of(days("A", [2.0, 0.0, 4.0]), days("B", [12.0] * 10))
    text = " ".join(render(found).split())
    assert "A: 130 of 400 used, 32.5 % (a table, from memory: check it; load spectrum assumed)" in text
    assert "of all its hours 2025-W51 2.5 %, 2025-W52 0 %, 2026-W01 5 %; weeks in no log are not counted" in text
    assert "used up 2026-05-17 (95 % interval from" in text
    assert "take the hoist out of service until a qualified person" in text  # B is over: 700 of 400
    assert "B: repair: hoist: drop-out" in text
    assert "175 % of its hours of full load used" in text
    told = json.loads(found.to_json())
    assert [row["used_h"] for row in told["life"]] == [130.0, 700.0]
    assert told["life"][0]["ends"] == "2026-05-17T22:00:00+00:00"
    assert len(told["life_weeks"]) == 13


def test_the_days_of_a_review_add_up_to_its_period() -> None:
    plate = M5.model_copy(update={"life": M5.life.model_copy(update={"load_spectrum": "L2", "used_before_h": 9.0})})
    found = review_log(log_of(work(90, {3})), plate)
    period = found.life["hoist"].period
    assert period is not None
    life = weeks_of(found).life
    assert life["full_load_h"].sum() == pytest.approx(period.in_log_h)
    assert life["duration_h"].to_list() == [period.duration_h]
    assert life["stated_h"].to_list() == [9.0]
    assert trends_of(weeks_of(found)).life["used_h"].to_list() == pytest.approx([period.used_h])
    assert weeks_of(review_log(log_of(work(90, {3})), M5)).life.is_empty()  # no load spectrum is known


def test_parts_of_a_day_add_up() -> None:
    part = days("A", [2.0]).life
    halves = [Weeks(schema.WEEKS.empty(), schema.WEEK_TIMES.empty(), part.with_columns(observed=0.5))] * 2
    found = gather(halves).life
    assert found["full_load_h"].to_list() == [4.0] * 5
    assert found["observed"].to_list() == [1.0] * 5
