"""What the record can prove: its step and rhythm, where it is broken, and why: silence, restart, or a clock step."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import polars as pl

from eventlens.reading import counters, quality
from eventlens.reading.order import STEP_BACK, STEP_YEAR
from eventlens.reading.profile import Profile
from eventlens.reading.record import Record
from eventlens.reading.restarts import Names, counter_of, no_such, restarts_of
from eventlens.reading.rhythm import Edges, Rhythm, heartbeat_rhythm, longest_silence_us, sample_rhythm
from eventlens.reading.shape import Shape
from eventlens.threads import both

COLUMNS_LOOKED_AT: Final = 64
HOUR_US: Final = 3_600_000_000
SILENCE: Final = "silence"
RESTART: Final = "restart"
BY_COUNTER: Final = "set forward: the record's counter runs on"
BY_HOUR: Final = "set forward by an hour: the beat goes on in step"


@dataclass(frozen=True)
class Proof:
    """Step and rhythm of a record [s], and its unbroken stretches."""

    step_s: float
    rhythm_s: float | None
    segment: pl.Series
    holes: pl.DataFrame
    """at (position of the row after), why, limit_s (longest silence that was allowed there; null: another reason)."""
    steps: pl.DataFrame
    """at (position of the row after a clock step), why."""
    notes: tuple[str, ...] = ()


def prove(record: Record, shape: Shape, profile: Profile, codes: pl.Series | None, distinct: Sequence[str]) -> Proof:
    """Step and rhythm are taken from stretches between clock steps; holes and restarts then cut these further."""
    time = record.time.cast(pl.Int64)
    keys = profile.log
    rough = quality.segments_of(len(time), [record.steps])
    names = None
    if codes is not None:
        names = Names(codes, distinct, record.frame[shape.value] if shape.value else None)
    step_us, rhythm = both(
        lambda: quality.find_step_us(time, rough, record.resolution_us),
        lambda: _rhythm(record, shape, profile, time, rough, names),
        len(time),
    )
    stated_us = None if keys.longest_silence_s is None else round(keys.longest_silence_s * 1e6)
    silent = _silent(time, record.steps, rhythm, step_us, stated_us)
    restarts = restarts_of(record, shape, profile, names)
    silent = silent.filter(~pl.col("at").is_in(restarts.implode()))
    counted = counter_of(record, shape)
    forward = _forward(time, silent, rhythm, step_us, counted)
    silent = silent.filter(~pl.col("at").is_in(forward["at"].implode()))
    restarts = restarts.filter(~restarts.is_in(pl.concat([record.steps, forward["at"]]).implode()))
    holes = pl.concat([silent, _because(restarts, RESTART).with_columns(limit_s=pl.lit(None, pl.Float64))]).sort("at")
    steps = pl.concat([_steps(time, record.steps), forward]).sort("at")
    period = None if rhythm is None else rhythm.period_us
    if period is None and stated_us is not None:
        period = stated_us
    return Proof(
        step_us / 1e6,
        None if period is None else period / 1e6,
        quality.segments_of(len(time), [holes["at"], steps["at"]]),
        holes,
        steps,
    )


def _because(at: pl.Series, why: str) -> pl.DataFrame:
    return pl.DataFrame({"at": at.cast(pl.UInt32)}).with_columns(why=pl.lit(why))


def _steps(time: pl.Series, at: pl.Series) -> pl.DataFrame:
    back = (time.gather(at) < time.gather(at - 1)) if len(at) else pl.Series(dtype=pl.Boolean)
    frame = pl.DataFrame({"at": at.cast(pl.UInt32), "back": back})
    return frame.select("at", why=pl.when("back").then(pl.lit(STEP_BACK)).otherwise(pl.lit(STEP_YEAR)))


def _rhythm(
    record: Record, shape: Shape, profile: Profile, time: pl.Series, rough: pl.Series, names: Names | None
) -> Rhythm | None:
    beat = profile.log.heartbeat
    if beat is None:
        if shape.layout == "runs":
            return None  # rows come when runs end, however regular: silence proves nothing
        if names is not None:
            return heartbeat_rhythm(time, rough, names.codes, names.value)
        return sample_rhythm(time, rough, _sample_edges(record, shape, time))
    known = names.distinct if names is not None else record.frame.columns
    if beat not in known:
        raise no_such("heartbeat", beat, known, record.raws[0].path)
    if names is not None:
        beats = names.rows_of(beat)
    else:
        value = record.frame[beat]
        beats = value.ne_missing(value.shift()).arg_true()
    period = quality.beat_of_us(time.gather(beats), rough.gather(beats))
    return None if period is None else Rhythm(period, beats.to_numpy().astype(np.intp))


def _sample_edges(record: Record, shape: Shape, time: pl.Series) -> Edges:
    """Changes of each column of samples; looked at only where the record pauses at all."""
    gaps = time.head(100_000).diff().drop_nulls()
    if not len(gaps) or int(gaps.max()) <= 3 * float(gaps.median() or 0):  # type: ignore[arg-type]
        return ()
    head = record.frame.head(300_000)
    columns = [name for name in shape.data if name in head.columns][:COLUMNS_LOOKED_AT]
    return [
        head[name].ne_missing(head[name].shift()).arg_true().to_numpy().astype(np.intp)
        for name in columns
        if head[name].n_unique() <= 16  # states, not measured values
    ]


def _silent(
    time: pl.Series, steps: pl.Series, rhythm: Rhythm | None, step_us: int, stated_us: int | None
) -> pl.DataFrame:
    """at, why, limit_s of silences longer than the rhythm around them allows, or than the profile states."""
    nothing = pl.DataFrame(schema={"at": pl.UInt32, "why": pl.String, "limit_s": pl.Float64})
    if stated_us is not None:
        at = quality.find_holes(time, steps, stated_us)
        return _because(at, SILENCE).with_columns(limit_s=pl.lit(stated_us / 1e6))
    if rhythm is None:
        return nothing
    at = quality.find_holes(time, steps, min(rhythm.period_us, _quickest(time, rhythm)) * 3)
    if at.is_empty():
        return nothing
    stamps, rows = time.to_numpy(), at.to_numpy().astype(np.intp)
    usual = rhythm.near(stamps, rows, steps.to_numpy().astype(np.intp))
    limit = longest_silence_us(usual, step_us)
    kept = stamps[rows] - stamps[rows - 1] > limit
    return _because(at.filter(pl.Series(kept)), SILENCE).with_columns(limit_s=pl.Series(limit[kept] / 1e6))


def _quickest(time: pl.Series, rhythm: Rhythm) -> int:
    """The shortest period that the beat keeps for a while [microseconds]: the tenth part of its gaps."""
    stamps = time.to_numpy() if rhythm.beats is None else time.to_numpy()[rhythm.beats]
    gaps = np.diff(stamps[:1_000_000])
    return int(np.quantile(gaps, 0.1, method="nearest")) or rhythm.period_us if len(gaps) else rhythm.period_us


def _forward(
    time: pl.Series, silent: pl.DataFrame, rhythm: Rhythm | None, step_us: int, counted: pl.Series | None
) -> pl.DataFrame:
    """Silences that are none, because something in the record shows that no time passed: at, why.

    A counter of rows that runs on by one says that none is missing, though the rhythm owes some. A beat that comes an
    hour and one period after the one before is in step by chance once in some hundred holes only.
    """
    at = silent["at"]
    parts = [_because(at.clear(), "")]
    if counted is not None and len(at):
        parts.append(_because(counters.runs_on(counted, at), BY_COUNTER))
    if rhythm is not None and len(at):
        stamps = time.to_numpy()
        beats = np.arange(len(stamps)) if rhythm.beats is None else rhythm.beats
        rows = at.to_numpy()
        after = np.clip(np.searchsorted(beats, rows), 0, len(beats) - 1)
        before = np.clip(after - 1, 0, None)
        gap = stamps[beats[after]] - stamps[beats[before]] - HOUR_US
        usual = rhythm.near(stamps, rows.astype(np.intp), np.empty(0, np.intp))
        close = np.minimum(0.2 * usual, np.maximum(2 * step_us, 0.01 * usual))
        parts.append(_because(at.filter(pl.Series(np.abs(gap - usual) <= close)), BY_HOUR))
    return pl.concat(parts).unique("at", keep="first").sort("at")
