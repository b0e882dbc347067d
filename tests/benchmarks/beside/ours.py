"""The review itself, and the floor below it."""

from __future__ import annotations

import itertools
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

import polars as pl

import eventlens
from eventlens import patterns
from eventlens.duty.counts import MotionCounts, count_motion
from eventlens.motion import RecordAxis
from eventlens.reading import read
from eventlens.threads import both, in_threads
from eventlens.wiring import context_of, machine_of
from tests.benchmarks.beside.log import FORMAT
from tests.benchmarks.beside.numbers import Numbers

PATTERNS: Final = (
    "jogging",
    "drop_out",
    "brake_release_late",
    "speed_change_missing",
    "speed_change_short",
    "reversal_without_pause",
)


def floor(log: Path) -> int:
    """The least that any reader does with this file: read it, parse the stamps by an explicit format, sort by time."""
    if log.suffix == ".parquet":
        return pl.read_parquet(log).sort("Time", maintain_order=True).height
    frame = pl.read_csv(log, separator=";", infer_schema=False)
    frame = frame.with_columns(pl.col("Time").str.to_datetime(FORMAT, time_unit="us"))
    return frame.sort("Time", maintain_order=True).height


def review(log: Path) -> tuple[Numbers, dict[str, float]]:
    """The whole review, from the file to the JSON text: its numbers, and the CPU seconds of each stage."""
    clock = [("start", time.process_time())]
    done = eventlens.review(
        log,
        log.parent / "profile.toml",
        log.parent / "machine.toml",
        progress=lambda stage: clock.append((stage, time.process_time())),
    )
    clock.append(("causes, life, kinds of work", time.process_time()))
    done.complete()
    clock.append(("JSON", time.process_time()))
    log.with_suffix(".json").write_text(done.to_json())
    clock.append(("end", time.process_time()))
    stages = {name: later - at for (name, at), (_, later) in itertools.pairwise(clock[1:])}
    return numbers_of(done), stages


def numbers(log: Path) -> Numbers:
    """These numbers alone, by the stages of the review: no other patterns, no causes, no life, no JSON text."""
    machine = machine_of(log.parent / "machine.toml")
    record = read(log, log.parent / "profile.toml")
    axis = RecordAxis.of(record)
    context = context_of(record, machine, axis, lambda stage: None)
    catalogue = patterns.catalogue()

    def find(name: str) -> int:
        return catalogue[name].find(context, "hoist", catalogue[name].configured(machine)).height

    rows = context.states.frame.height  # side by side, as in the review
    hoist, found = both(
        lambda: count_motion("hoist", context.runs, record.observed_s, machine, record.timezone, 0),
        lambda: in_threads(find, PATTERNS, rows),
        rows,
    )
    return _numbers(context.runs, hoist, dict(zip(PATTERNS, found, strict=True)))


def numbers_of(done: eventlens.Review) -> Numbers:
    """The numbers that a review of one hoist came to."""
    found = dict(done.occurrences.group_by("pattern").len().cast({"pattern": pl.String}).iter_rows())
    return _numbers(done.runs, done.motions["hoist"], found)


def _numbers(runs: pl.DataFrame, hoist: MotionCounts, found: Mapping[str, int]) -> Numbers:
    times: dict[str, Any] = runs.select(
        pl.col("release_time_s", "speed_change_delay_s").median(),
        pl.col("duration_s").sum(),
        mean_s=pl.col("release_time_s").mean(),
    ).row(0, named=True)
    assert hoist.starts_per_hour_max is not None
    assert hoist.cyclic_duration_max is not None
    return Numbers(
        runs=hoist.runs,
        running_us=round(times["duration_s"] * 1e6),
        release_median_us=round(times["release_time_s"] * 1e6, 1),
        release_mean_us=round(times["mean_s"] * 1e6),
        speed_change_median_us=round(times["speed_change_delay_s"] * 1e6, 1),
        starts_per_hour_max=int(hoist.starts_per_hour_max.value),
        running_of_ten_minutes_max_us=round(hoist.cyclic_duration_max.value * 600e6),
        **{name: found.get(name, 0) for name in PATTERNS},
    )
