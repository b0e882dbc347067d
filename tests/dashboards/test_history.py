"""Guards what the pages of machines and weeks are given; numbers are counted by hand from the weeks in histories."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import polars as pl
import pytest

from dashboards.data import History
from eventlens.errors import ArchiveError
from eventlens.trends.tables import LIFE
from tests.dashboards.histories import DROP_OUT, GROWS, aging, history, history_of, weekly, yard
from tests.trends.tables import counted, week


def test_every_week_between_the_first_and_the_last_has_its_place() -> None:
    assert history().weeks == tuple(week(n) for n in range(12))
    assert history().weeks[0] == "2025-W51"
    assert history().weeks[3] == "2026-W02"  # 2025 has 52 ISO weeks


def test_what_was_compared_is_said() -> None:
    said = history().compared()
    assert said.startswith("2 patterns of machines and 2 measured times were compared.")  # two weeks are too few
    assert "at most 5 % on average are chance" in said
    assert "0.27 %" in said
    assert history().span().endswith(f"the last, {week(8)} to {week(11)}, are held against those before")


def test_changes_are_sentences_and_what_needs_a_person_comes_first() -> None:
    first, second = history().changes()
    assert (first.level, first.machine, first.series) == ("repair", "SAW-3", DROP_OUT)
    # 40 + 44 + 47 + 52 in four weeks of 1000 starts; 12 in eight weeks: 183 / 4000 over 12 / 8000 is 30.5
    assert first.text.startswith("hoist: drop-out comes oftener: 183 in 4,000 starts in the last weeks, 30.5 × (")
    assert (second.level, second.machine, second.series) == ("watch", "SAW-3", "")
    assert second.text.startswith("hoist: release time gets longer, by +20.0 ms a week (")
    assert "0.2 s in the first week, 0.42 s in the last" in second.text
    assert history().changes("SLAB-1") == []


def test_no_rank_is_given_where_limits_do_not_separate() -> None:
    rows = {row["machine"]: row for row in history().fleet()}
    assert next(iter(rows)) == "SAW-3"
    assert rows["SAW-3"]["place"] == "1"
    assert rows["SLAB-1"]["place"] == rows["SPARE-6"]["place"] == "2 to 3"
    assert history().tied()
    assert rows["SAW-3"]["severity"] == "▲ repair"
    assert rows["SAW-3"]["counted"] == "183 in 4,000 starts"
    assert (rows["SAW-3"]["weeks"], rows["SPARE-6"]["weeks"]) == (12, 2)
    assert rows["SLAB-1"]["last"] == week(10)  # the last week has no review


def test_weekly_rates_carry_their_limits_and_kinds() -> None:
    view = history().weekly_view("SAW-3", DROP_OUT)
    assert view.frame["count"].to_list() == GROWS
    assert (view.scale.per, view.scale.unit) == (100, "per 100 starts")
    assert view.frame["rate"].to_list() == pytest.approx([n / 10 for n in GROWS])
    assert view.frame["kind"].to_list()[8:] == ["above"] * 4
    assert view.recent == (8, 11)
    # Garwood's limits of 52: 38.84 and 68.19 (a table of exact Poisson limits, from memory)
    assert view.frame.row(11, named=True)["low"] == pytest.approx(3.884, abs=0.002)
    assert view.frame.row(11, named=True)["high"] == pytest.approx(6.819, abs=0.002)
    assert view.mean == pytest.approx(sum(GROWS) / 120)


def test_rates_can_be_given_against_other_use() -> None:
    assert history().bases("SAW-3", DROP_OUT) == {
        "own": "start",
        "observed_h": "observed hour",
        "running_h": "running hour",
        "lifts": "100 lifts",
    }
    per_lift = history().weekly_view("SAW-3", DROP_OUT, "lifts")
    assert (per_lift.scale.unit, per_lift.mean) == ("per 100 lifts", None)
    assert per_lift.frame["rate"][11] == pytest.approx(26)  # 52 in 200 lifts
    assert per_lift.frame["chart_high"].null_count() == 12  # the chart is for the pattern's own use
    hours = history().weekly_view("SAW-3", DROP_OUT, "running_h")
    assert hours.frame["rate"][11] == pytest.approx(52 / 5)
    assert hours.scale.unit == "per running hour"
    assert history().weekly_view("SAW-3", DROP_OUT, "no such").scale.unit == "per 100 starts"


def test_a_pattern_that_a_machine_has_not_shown_is_an_error() -> None:
    with pytest.raises(KeyError):
        history().weekly_view("SAW-3", "jogging/hoist")


def test_the_curve_of_the_funnel_goes_through_the_limits_of_each_machine() -> None:
    view = yard().funnel(DROP_OUT)
    for name, limit in zip(("low", "high", "low_outer", "high_outer"), view.limits, strict=True):
        for amount, wanted in view.frame.select("amount", name).iter_rows():
            assert np.interp(amount, view.use, limit) == pytest.approx(wanted, rel=0.02, abs=1e-6)
    assert view.of == "starts"
    assert dict(view.frame.select("machine", "beyond").iter_rows())["SAW-3"] > 0
    assert view.reading == "SAW-3 lies above the limits; 11 machines within them, not told apart by chance alone."


def test_times_that_drift_carry_a_line_and_a_sentence() -> None:
    drifting, still = history().times("SAW-3")[0], history().times("SLAB-1")[0]
    assert drifting.drifts
    assert drifting.needs
    (x0, y0, x1, y1) = drifting.level[0]
    assert (x0, x1) == (0, 11)
    assert (y0, y1) == pytest.approx((0.20, 0.42))
    assert (still.drifts, still.level) == (False, ())
    assert still.reading == "No drift shown; all medians are 0.2 s."


def test_each_week_says_what_the_machine_did_or_why_there_is_no_review() -> None:
    rows = {row["week"]: row for row in history().week_rows("SLAB-1")}
    assert list(rows) == [week(n) for n in reversed(range(12))]
    assert (rows[week(0)]["observed_h"], rows[week(0)]["starts"], rows[week(0)]["lifts"]) == (40.0, 1000, 200.0)
    assert (rows[week(11)]["reviewed"], rows[week(11)]["why"]) == (False, "nothing was recorded")
    spare = {row["week"]: row for row in history().week_rows("SPARE-6")}
    assert (spare[week(0)]["starts"], spare[week(0)]["why"]) == (None, "no log")
    assert spare[week(0)]["monday"] == "2025-12-15"


def test_a_week_is_found_or_said_to_be_missing() -> None:
    assert history().stored("SAW-3", None)["week"] == week(11)
    assert history().stored("SLAB-1", None)["week"] == week(10)
    with pytest.raises(ArchiveError, match="nothing was recorded"):
        history().stored("SLAB-1", week(11))
    with pytest.raises(ArchiveError, match="wanted a week of SLAB-1, got '2019-W01'"):
        history().stored("SLAB-1", "2019-W01")


def test_work_has_its_place_among_the_weeks() -> None:
    [work] = history().works("SAW-3")  # on the first Monday of the history: at the left edge of the first week
    assert (work.at, work.text) == (-0.5, "2025-12-15 repair: <b>brake</b> adjusted")
    assert history().weekly_view("SAW-3", DROP_OUT).works == (work,)
    assert history().times("SAW-3")[0].works == (work,)


def test_what_could_not_be_assessed_is_said_with_its_reason() -> None:
    lacking = counted("SAW-3", [1, 2], lack="missing_signal: hoist.fast.contactor; too_little_log: 40 h")
    assert history_of(lacking).not_assessed("SAW-3") == [
        (
            "hoist: drop-out",
            "the log does not carry what it needs: hoist.fast.contactor; the log is too short: 40 h",
        )
    ]
    assert history().not_assessed("SAW-3") == []


def test_what_people_wrote_down_is_told() -> None:
    assert history().entries("SAW-3") == [("2025-12-15", "repair", "<b>brake</b> adjusted")]
    assert history().entries("SLAB-1") == []


def test_hours_of_full_load_are_said_with_their_forecast_and_only_where_they_are_known() -> None:
    assert history().life("SAW-3") == []
    row = {
        "machine": "SAW-3",
        "duration_h": 1600.0,
        "used_h": 400.0,
        "used_share": 0.25,
        "weeks": 12,
        "little": 0,
        "ends": datetime(2040, 1, 1, tzinfo=UTC),
        "earliest": datetime(2035, 1, 1, tzinfo=UTC),
        "latest": None,
        "how": "measured",
        "source": "FEM 9.511",
        "confidence": "from memory",
    }
    empty = {name: None for name in LIFE.schema if name not in row}
    known = replace(history().found, life=pl.DataFrame([row | empty], schema=LIFE.schema))
    told = History(known, weekly(), history()._stored, history()._entries).life("SAW-3")
    assert told == [
        "400 of 1600 h of full load are used, 25.0 % (load spectrum measured; FEM 9.511, from memory: check it).",
        "At this rate they are used up on 2040-01-01 (95 % limits 2035-01-01 to later than in two hundred years).",
    ]
    over = replace(known, life=known.life.with_columns(used_share=pl.lit(1.1)))
    assert "general overhaul" in History(over, weekly(), history()._stored, history()._entries).life("SAW-3")[1]


def test_life_is_told_week_by_week_and_carried_on_to_its_limit() -> None:
    view = aging().life_view("SAW-3")
    assert view is not None
    assert view.frame["full_load_h"].to_list() == pytest.approx([4.0] * 12)  # five days of 0.8 h
    assert view.frame["used_h"][-1] == pytest.approx(1248)  # 1200 and twelve weeks of 4 h
    assert view.h_per_week == pytest.approx(4)
    assert view.ahead is not None
    # 352 h are left, at 4 h a week 88 weeks from the end of the log on (2026-03-09): 2027-11-15
    assert datetime.fromtimestamp(view.ahead.ends / 1000, UTC).date().isoformat() == "2027-11-15"
    line = view.ahead.used + (view.ahead.middle - view.ahead.used) * (view.ahead.ends - view.ahead.start) / (
        view.ahead.until - view.ahead.start
    )
    assert line == pytest.approx(1.0, abs=0.002)  # the line crosses the limit on that day
    assert view.reading.startswith("48 h of full load in 12 weeks with log: 4 h in a week")
    assert aging().life_view("SLAB-1") is None


def test_a_used_up_period_has_no_forecast() -> None:
    found = aging().found
    over = replace(found, life=found.life.with_columns(used_share=pl.lit(1.2)))
    view = History(over, weekly(), aging()._stored, aging()._entries).life_view("SAW-3")
    assert view is not None
    assert view.ahead is None


def test_the_fleet_tells_what_is_used_and_where_it_is_not_known() -> None:
    rows = {row["machine"]: row for row in aging().fleet()}
    assert rows["SAW-3"]["life"] == pytest.approx(0.78)  # 1248 of 1600
    assert rows["SAW-3"]["life_text"] == "78.0 %, to 2027"
    assert (rows["SLAB-1"]["life"], rows["SLAB-1"]["life_text"]) == (None, "not known")


def test_bursts_are_marked_in_the_numbers_of_the_funnel() -> None:
    found = history().found
    wide = found.rates.with_columns(spread=pl.when(pl.col("machine") == "SAW-3").then(2.5).otherwise(1.0))
    crowded = History(replace(found, rates=wide), weekly(), history()._stored, history()._entries)
    rows = crowded.funnel(next(iter(crowded.funnels()))).frame
    assert rows.filter(machine="SAW-3")["bursts"].to_list() == [2.5]
    assert set(rows.filter(pl.col("machine") != "SAW-3")["bursts"]) == {1.0}
