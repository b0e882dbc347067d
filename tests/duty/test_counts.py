"""Guards the counts of one motion: what each number takes in and leaves out, against hand counts and a database."""

from __future__ import annotations

import random
from datetime import UTC, datetime, timedelta
from typing import Any

import duckdb
import polars as pl
import pytest
from polars.testing import assert_frame_equal

from eventlens import schema
from eventlens.duty.counts import MotionCounts, Spread, count_motion
from eventlens.machine import Machine, Plate

SIX = datetime(2024, 5, 1, 6, tzinfo=UTC)
DAY_S = 86_400.0


def at(seconds: float) -> datetime:
    return SIX + timedelta(microseconds=round(seconds * 1e6))


def make_runs(*rows: dict[str, Any]) -> pl.DataFrame:
    """Runs of the hoist from `start` and `end` in seconds after six; every other column has a plain default."""
    plain = {
        "motion": "hoist",
        "direction": "raise",
        "start_seen": True,
        "end_seen": True,
        "basis": "contactor",
        "ending": "let_go",
        "ending_certain": True,
        "start_row": 2,
        "end_row": 3,
        "rows": [2, 3],
        "segment": 0,
    }
    full = [
        dict.fromkeys(schema.RUNS.columns)
        | plain
        | {"run": number, "duration_s": row["end"] - row["start"]}
        | row
        | {"start": at(row["start"]), "end": at(row["end"])}
        for number, row in enumerate(rows)
    ]
    return pl.DataFrame(full, schema=schema.RUNS.schema)


def count(
    runs: pl.DataFrame, *, motion: str = "hoist", observed_s: float = DAY_S, group: str | None = None, **more: Any
) -> MotionCounts:
    machine = Machine(machine=Plate(group=group))
    return count_motion(motion, runs, observed_s, machine, more.pop("timezone", "UTC"), more.pop("jogs", 0), **more)


def test_nothing_ran() -> None:
    found = count(schema.RUNS.empty())
    assert (found.runs, found.starts, found.running_s, found.reversals) == (0, 0, 0.0, 0)
    assert found.fast_s is None
    assert found.starts_per_hour_max is None
    assert found.starts_per_hour_mean == 0.0
    assert found.cyclic_duration_max is None
    assert found.release_time_s is None
    assert found.endings == dict.fromkeys(schema.ENDINGS, 0)
    assert found.clock_hours.is_empty()


def test_only_its_own_motion_counts() -> None:
    runs = make_runs({"start": 0, "end": 5}, {"start": 10, "end": 40, "motion": "bridge", "direction": "forward"})
    hoist, bridge, trolley = (count(runs, motion=motion) for motion in ("hoist", "bridge", "trolley"))
    assert [(found.runs, found.running_s) for found in (hoist, bridge, trolley)] == [(1, 5.0), (1, 30.0), (0, 0.0)]


def test_a_run_whose_beginning_was_not_seen_is_no_start() -> None:
    found = count(make_runs({"start": 0, "end": 5, "start_seen": False}, {"start": 10, "end": 15}))
    assert (found.runs, found.starts, found.running_s) == (2, 1, 10.0)
    assert found.starts_per_hour_max is not None
    assert (found.starts_per_hour_max.value, found.starts_per_hour_max.at) == (1, at(10))


def test_time_with_both_directions_on_counts_once() -> None:
    found = count(make_runs({"start": 0, "end": 10}, {"start": 5, "end": 12, "direction": "lower"}))
    assert (found.runs, found.running_s) == (2, 12.0)


def test_fast_is_none_only_where_no_run_has_it() -> None:
    none = {"start": 0, "end": 5}
    assert count(make_runs(none)).fast_s is None
    assert count(make_runs({**none, "fast_s": 0.0})).fast_s == 0.0
    assert count(make_runs(none, {"start": 6, "end": 9, "fast_s": 1.5})).fast_s == 1.5


@pytest.mark.parametrize(
    ("reversed_", "pause_s", "reversals"), [(True, 0.3, 1), (False, 0.3, 0), (True, None, 0), (None, None, 0)]
)
def test_a_reversal_needs_a_known_pause(reversed_: bool | None, pause_s: float | None, reversals: int) -> None:
    second = {"start": 6, "end": 9, "direction": "lower", "reversed": reversed_, "pause_s": pause_s}
    assert count(make_runs({"start": 0, "end": 5}, second)).reversals == reversals


def test_mean_divides_by_observed_hours() -> None:
    runs = make_runs({"start": 0, "end": 5}, {"start": 10, "end": 15}, {"start": 20, "end": 25})
    assert count(runs, observed_s=1800.0).starts_per_hour_mean == 6.0
    assert count(runs, observed_s=0.0).starts_per_hour_mean is None


def test_spreads_leave_out_what_was_not_measured() -> None:
    # 0.1 to 0.5 s: median 0.3; the 95th percentile lies 0.8 of the way from the 4th to the 5th value (type 7): 0.48
    times = [0.1, 0.2, None, 0.3, 0.4, 0.5]
    runs = make_runs(*({"start": 10 * k, "end": 10 * k + 5, "release_time_s": t} for k, t in enumerate(times)))
    found = count(runs)
    assert found.release_time_s is not None
    assert found.release_time_s.n == 5
    assert (found.release_time_s.median, found.release_time_s.p95) == pytest.approx((0.3, 0.48))
    assert found.apply_time_s is None
    assert found.speed_change_delay_s is None


def test_each_spread_reads_its_own_column() -> None:
    row = {"start": 0, "end": 5, "release_time_s": 0.1, "apply_time_s": 0.2, "speed_change_delay_s": 0.4}
    found = count(make_runs(row))
    assert found.release_time_s == Spread(0.1, 0.1, 1)
    assert found.apply_time_s == Spread(0.2, 0.2, 1)
    assert found.speed_change_delay_s == Spread(0.4, 0.4, 1)


def test_endings_have_every_key_in_the_order_of_the_schema() -> None:
    endings = ["limit", "let_go", "limit", "unknown"]
    found = count(make_runs(*({"start": 10 * k, "end": 10 * k + 5, "ending": e} for k, e in enumerate(endings))))
    assert list(found.endings) == list(schema.ENDINGS)
    assert {k: n for k, n in found.endings.items() if n} == {"let_go": 1, "limit": 2, "unknown": 1}


def test_jogs_and_limits_are_handed_through() -> None:
    found = count(make_runs({"start": 0, "end": 5}), jogs=7, group="2m")
    assert found.jogs == 7
    assert found.limits is not None
    assert found.limits.starts_per_hour == 240
    assert count(make_runs({"start": 0, "end": 5})).limits is None


def test_peak_for_the_limit_uses_the_window_of_the_group() -> None:
    # 450 s on end: three quarters of ten minutes, an eighth of an hour
    runs = make_runs({"start": 0, "end": 450})
    peaks = [count(runs, group=group) for group in ("M5", "H3", None)]
    assert [found.cyclic_duration_max.value for found in peaks if found.cyclic_duration_max] == [0.75, 0.75, 0.75]
    assert [found.limit_window_max and found.limit_window_max.value for found in peaks] == [0.75, 0.125, None]


def test_burst_across_the_hour_mark() -> None:
    # counted by hand: 06:40 06:45 06:50 06:55 07:05 07:10 07:15 07:30, each run 60 s
    minutes = (40, 45, 50, 55, 65, 70, 75, 90)
    found = count(make_runs(*({"start": 60 * m, "end": 60 * m + 60} for m in minutes)))
    assert found.starts_per_hour_max is not None
    assert (found.starts_per_hour_max.value, found.starts_per_hour_max.at) == (8, at(90 * 60))
    assert found.clock_hours["count"].to_list() == [4, 4]
    assert found.running_s == 480.0
    # any ten minutes hold at most two of them whole: 120 s, first reached at 06:46
    assert found.cyclic_duration_max is not None
    assert (found.cyclic_duration_max.value, found.cyclic_duration_max.at) == (0.2, at(46 * 60))


def test_clock_hours_are_those_of_the_zone() -> None:
    found = count(make_runs({"start": 0, "end": 5}), timezone="Europe/Lisbon")
    assert [hour.isoformat() for hour in found.clock_hours["hour"]] == ["2024-05-01T07:00:00+01:00"]


def test_windows_never_reach_over_a_clock_step() -> None:
    # set back by two minutes after the second run; the runs of the other motion carry labels too
    runs = make_runs(
        {"start": 100, "end": 160},
        {"start": 130, "end": 150, "motion": "trolley", "direction": "left"},
        {"start": 200, "end": 260},
        {"start": 150, "end": 210, "segment": 1},
    )
    stepped = count(runs, clock=pl.Series([0, 0, 0, 1]))
    assert stepped.running_s == 180.0
    assert stepped.starts_per_hour_max is not None
    assert (stepped.starts_per_hour_max.value, stepped.starts_per_hour_max.at) == (2, at(200))
    assert stepped.cyclic_duration_max is not None
    assert stepped.cyclic_duration_max.value == 0.2
    # the same runs over a hole: one clock, one window; 150 to 160 and 200 to 210 are then on twice
    whole = count(runs)
    assert whole.starts_per_hour_max is not None
    assert whole.starts_per_hour_max.value == 3
    assert whole.running_s == 160.0


def test_the_callers_frame_stays_as_it_was() -> None:
    runs = make_runs({"start": 0, "end": 5}, {"start": 10, "end": 15})
    before = runs.clone()
    count(runs)
    assert_frame_equal(runs, before)


def test_a_frame_that_is_not_the_table_of_runs_is_refused() -> None:
    with pytest.raises(schema.SchemaError):
        count(make_runs({"start": 0, "end": 5}).drop("ending"))


@pytest.mark.parametrize("seed", range(3))
def test_counts_agree_with_a_database(seed: int) -> None:
    chance = random.Random(seed)
    rows: list[dict[str, Any]] = []
    now = 0.0
    for _ in range(500):
        start = now + chance.choice([0.0, 1.0, 30.0, chance.uniform(0, 900)])
        now = start + chance.choice([0.5, 2.0, chance.uniform(0.1, 60)])
        rows.append(
            {
                "start": start,
                "end": now,
                "direction": chance.choice(["raise", "lower"]),
                "start_seen": chance.random() > 0.05,
                "fast_s": chance.choice([None, (now - start) / 2]),
                "release_time_s": chance.choice([None, chance.uniform(0.1, 0.6)]),
                "ending": chance.choice(schema.ENDINGS),
            }
        )
    runs = make_runs(*rows)
    found = count(runs, observed_s=now)
    plain = runs.select(
        pl.col("start", "end").to_physical(),
        pl.col("ending").cast(pl.String),
        "start_seen",
        "fast_s",
        "release_time_s",
    )
    with duckdb.connect() as database:
        database.register("runs", plain.to_arrow())
        totals = database.execute(
            """SELECT count(*), count(*) FILTER (start_seen), sum("end" - start) / 1e6, sum(fast_s),
               median(release_time_s), quantile_cont(release_time_s, 0.95), count(release_time_s) FROM runs"""
        ).fetchall()[0]
        endings = dict(database.execute("SELECT ending, count(*) FROM runs GROUP BY ending").fetchall())
        (busiest,) = database.execute(
            """SELECT max(n) FROM (SELECT count(*) OVER (ORDER BY start RANGE BETWEEN 3599999999 PRECEDING
               AND CURRENT ROW) AS n FROM runs WHERE start_seen)"""
        ).fetchall()[0]
    spread = found.release_time_s
    assert spread is not None
    got = (found.runs, found.starts, found.running_s, found.fast_s, spread.median, spread.p95, spread.n)
    assert got == pytest.approx(totals)
    assert {k: n for k, n in found.endings.items() if n} == endings
    assert found.starts_per_hour_max is not None
    assert found.starts_per_hour_max.value == busiest
    assert found.starts_per_hour_mean == pytest.approx(totals[1] / (now / 3600))
    assert found.clock_hours["count"].sum() == totals[1]
