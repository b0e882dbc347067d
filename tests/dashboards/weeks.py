"""Small reviews to look at, built by hand; seconds are those of tests.logs."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import polars as pl

from dashboards.data import Week
from eventlens.machine import Machine
from eventlens.result import Review
from eventlens.wiring import review_log
from tests.logs import HOIST, at, make_log, merged, pulse, run

SAW = Machine.model_validate({"machine": {"id": "SAW-3", "group": "M5", "rated_load_kg": 3200}})
HOLE = (5000.0, 5600.0)
DROP_OUT = (1000.0, 1001.0)
"""The contactor of a raise opens by itself while the command stays."""
LENGTH_S = 7200.0


@cache
def full() -> Review:
    """Two hours of a well-logged hoist with a measured load, a drop-out, two bursts of jogging and a hole."""
    jogs = [run(t, t + 0.4) for start in (2000.0, 3000.0) for t in (start, start + 1, start + 2, start + 3)]
    ordinary = [run(t, t + 8, "lower" if t % 120 else "raise") for t in range(60, 900, 60)]
    dropped = run(*DROP_OUT, command=(DROP_OUT[0] - 0.05, DROP_OUT[1] + 2))
    loads = [(t, "load.kg", 100.0 * (t % 700) / 28) for t in range(0, 5000, 50)]
    late = [run(t, t + 5) for t in range(5700, 7000, 100)]
    records = merged(*ordinary, *jogs, dropped, loads, *late, pulse("overload.trip"))
    again = [(HOLE[1], name, 0.0) for name in HOIST]  # after the hole every signal is recorded anew
    return review_log(make_log(merged(records, again), end=LENGTH_S, holes=[HOLE], carries=HOIST, rhythm_s=60.0), SAW)


@cache
def three_signals() -> Review:
    """A log that carries commands and a confirmation only, and a machine of which nothing is known."""
    records = merged(
        pulse("hoist.raise.command", (10.0, 14.0)),
        pulse("hoist.lower.command", (30.0, 35.0)),
        pulse("hoist.brake.released", (10.2, 14.1), (30.2, 35.1)),
    )
    return review_log(make_log(records, end=60.0, step_s=0.1), Machine())


@cache
def nothing_found() -> Review:
    """A log of one quiet run: no finding."""
    return review_log(make_log(run(10.0, 20.0), end=4000.0, carries=HOIST), SAW)


@cache
def measured_only() -> Review:
    """A log that carries a load and nothing else."""
    return review_log(make_log([(0.0, "load.kg", 10.0), (5.0, "load.kg", 800.0)], end=20.0), Machine())


@cache
def set_back() -> Review:
    """A log whose clock was set back by a day at second 1000: the second half lies before the first."""
    day = 86_400.0
    log = make_log(
        merged(run(100.0, 108.0), run(900.0, 910.0), run(1100.0, 1105.0)),
        end=2000.0,
        carries=HOIST,
        holes=[(1000, 1000)],
    )
    back = pl.duration(microseconds=round(day * 1e6))
    later = pl.col("segment") == 1
    moved = replace(
        log,
        events=log.events.with_columns(time=pl.when(later).then(pl.col("time") - back).otherwise("time")),
        segments=log.segments.with_columns(
            pl.when(later).then(pl.col(name) - back).otherwise(name).alias(name) for name in ("start", "end")
        ),
        holes=log.holes.clear(),
        clock_steps=pl.DataFrame(
            {"at": [at(1000)], "seconds": [-day], "rows": [[30, 31]], "why": ["set back"]},
            schema=log.clock_steps.schema,
        ),
    )
    return review_log(moved.check(), SAW)


def in_zone(review: Review, zone: str) -> Review:
    """The same review of a log whose times are shown in another zone."""
    return replace(review, log=replace(review.log, timezone=zone))


@cache
def full_week() -> Week:
    """`full`, made ready."""
    return Week(full())
