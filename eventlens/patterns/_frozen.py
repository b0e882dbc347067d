"""Signals that stand still while the machine works on; what rests on one of them proves nothing."""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlens import schema, signals
from eventlens.limits import configure, limit
from eventlens.motion.near import merged
from eventlens.motion.spells import overlaps
from eventlens.patterns._base import FOUND, Context, nothing

BEFORE_RUN: Final = pl.duration(seconds=2)
"""A command comes before its run: a change up to 2 s before a start belongs to that run (common practice)."""
CLUSTER_US: Final = 8 * 3_600_000_000
LEVEL: Final = 0.975


@dataclass(frozen=True)
class FrozenParameters:
    """The limits of the stillness that is called frozen."""

    frozen_false_alarm: float = limit(
        0.001,
        "probability",
        "common practice: one log in a thousand; no source",
        "raising it finds shorter stillness, and calls more logs frozen in which the signal only had a rest",
    )
    frozen_least_runs: float = limit(
        20.0,
        "runs",
        "common practice, no source",
        "raising it misses short stillness of a quick signal; lowering it judges on a few runs",
    )


def watched(context: Context, motion: str) -> Iterator[tuple[str, str | None]]:
    """The signals of a motion that move with its work, each with the direction whose runs move it (None: both)."""
    pair = signals.MOTIONS[motion]
    by_contactor = any(f"{motion}.{side}.contactor" in context.carried for side in pair)
    kinds = ("command", "slowdown", "limit") if by_contactor else ("slowdown", "limit")
    names: list[tuple[str, str | None]] = [
        (f"{motion}.{name}", None) for name in ("brake.released", "fast.command", "fast.contactor")
    ]
    names += [(f"{motion}.{side}.{kind}", side) for side in pair for kind in kinds]
    if motion == "hoist":
        names += [("overload.warning", "raise"), ("overload.trip", "raise"), ("rope.slack", "lower")]
    return ((name, side) for name, side in names if name in context.carried)


def _judged(context: Context) -> int:
    """How many signals the limit of false alarms is shared among."""
    return max(sum(1 for motion in signals.MOTIONS for _ in watched(context, motion)), 1)


def frozen(context: Context, motion: str, least_runs: float | None = None) -> pl.DataFrame:
    """The longest stillness of each signal of a motion, where it is improbable (FOUND and `signal`).

    least_runs: so many runs of it at least; None: the limit `frozen_least_runs`.
    """
    key = ("frozen", motion, least_runs)
    known = [context.still[key]] if key in context.still else []
    return context.once(key, lambda: pl.concat([*known, _frozen(context, motion, least_runs)]))


def still_frozen(context: Context) -> dict[Hashable, pl.DataFrame]:
    """What stood still to the end of a log, of all that was asked for: Context.still of its last part."""
    found = {key: frame for key, frame in context.asked("frozen").items() if not frame.is_empty()}
    return {key: frame.filter(_has_not_moved(context, frame)) for key, frame in found.items()}


def going_on(still: Mapping[Hashable, pl.DataFrame], context: Context) -> dict[Hashable, pl.DataFrame]:
    """What stood still before a part of a log, to its first change in the part, else to the end of the part."""
    last = context.states.frame["end"].max()
    return {key: frame.with_columns(end=_moves_again(context, frame).fill_null(last)) for key, frame in still.items()}


def _has_not_moved(context: Context, frame: pl.DataFrame) -> pl.Series:
    return _moves_again(context, frame).is_null()


def _moves_again(context: Context, frame: pl.DataFrame) -> pl.Series:
    """The first change of each signal after its stillness (start, end, signal); null where there is none."""
    found = []
    for signal, end in frame.select(pl.col("signal").cast(pl.String), "end").iter_rows():
        known = context.states.known(signal)
        found.append(known.filter(pl.col("start_seen") & (pl.col("start") > end))["start"].min())
    return pl.Series(found, dtype=schema.TIME)


def _frozen(context: Context, motion: str, least_runs: float | None) -> pl.DataFrame:
    p = configure(FrozenParameters, context.machine.limits)
    p = p if least_runs is None else replace(p, frozen_least_runs=min(least_runs, p.frozen_least_runs))
    chance = p.frozen_false_alarm / _judged(context)
    enough = context.runs_of(motion).height >= p.frozen_least_runs
    looked = (_still(context, motion, name, side, chance, p) for name, side in watched(context, motion) if enough)
    parts = [part for part in looked if part is not None]
    return pl.concat(parts) if parts else nothing("signal")


def while_frozen(
    context: Context, motion: str, signal: str, frame: pl.DataFrame, least_runs: float | None = None
) -> pl.Series:
    """For each row (start, end): it lies in a stillness of a signal of its motion, so that nobody knows its state.

    least_runs: as for `frozen`; fewer make a finding doubtful sooner than the stillness is a finding of its own.
    """
    still = frozen(context, motion, least_runs)
    if still.is_empty():
        return overlaps(frame, still, 0.0)
    return overlaps(frame, still.filter(pl.col("signal").cast(pl.String) == signal), 0.0)


def runs_that_move(context: Context, motion: str, name: str, side: str | None) -> pl.DataFrame:
    """The runs that should move a signal and at whose start its state is known, each with whether it changed."""
    return context.once(("moved", motion, name, side), lambda: _runs_that_move(context, motion, name, side))


def _runs_that_move(context: Context, motion: str, name: str, side: str | None) -> pl.DataFrame:
    runs = context.runs_of(motion).select("start", "end", "start_row", "end_row", "direction")
    if side is not None:
        runs = runs.filter(pl.col("direction") == side)
    known = context.states.known(name)
    if runs.is_empty() or known.is_empty():
        return runs.with_columns(moved=pl.lit(value=False)).clear()
    place = merged(known["start"], runs["start"], "right") - 1
    until = known["end"].gather(np.maximum(place, 0))
    runs = runs.filter((until >= runs["start"]) & pl.Series(place >= 0))
    changes = known["start"].filter(known["start_seen"])
    before = merged(changes, runs.select(pl.col("start") - BEFORE_RUN)["start"], "left")
    return runs.with_columns(moved=pl.Series(np.diff(before, append=changes.len()) > 0))


def _still(
    context: Context, motion: str, name: str, side: str | None, chance: float, p: FrozenParameters
) -> pl.DataFrame | None:
    runs = runs_that_move(context, motion, name, side)
    if runs.height < p.frozen_least_runs:
        return None
    moved = runs["moved"].to_numpy()
    confirms = name.endswith(".brake.released")
    first, last = _longest_stillness(moved, from_start=confirms)
    length = last - first
    least = p.frozen_least_runs
    if moved.any():
        others = moved if confirms else moved[:first]
        at = runs["start"].dt.epoch("us").to_numpy()[: len(others)][others]
        count = (
            len(at) if confirms or ".fast." in name or name.endswith(".command") else len(np.unique(at // CLUSTER_US))
        )
        rate = _lowest_share(count, runs.height - length if confirms else first)
        least = max(least, math.log(chance / (moved.sum() + 1)) / math.log1p(-rate)) if rate > 0 else math.inf
    elif not confirms:
        return None
    if length < least:
        return None
    row = runs.slice(first, length)
    return pl.DataFrame(
        {
            "start": [row["start"][0]],
            "end": [row["end"].max()],
            "certainty": ["certain" if confirms else "possible"],
            "measured": [float(length)],
            "limit": [float(math.ceil(least))],
            "direction": pl.Series([side], dtype=schema.DIRECTION),
            "rows": pl.Series([[row["start_row"][0], row["end_row"][-1]]], dtype=pl.List(schema.ROW)),
            "signal": pl.Series([name], dtype=schema.SIGNAL),
        },
        schema_overrides={"start": schema.TIME, "end": schema.TIME},
    ).select(*FOUND, "signal")


def _longest_stillness(moved: npt.NDArray[np.bool_], *, from_start: bool = True) -> tuple[int, int]:
    """The longest stretch of runs without a change: first run, and the run after its last.

    from_start: the runs before the first change are looked at too.
    """
    changes = np.flatnonzero(moved)
    borders = np.concatenate(([-1] if from_start or not len(changes) else [], changes, [len(moved)]))
    widest = int(np.argmax(np.diff(borders)))
    return int(borders[widest]) + 1, int(borders[widest + 1])


def _lowest_share(count: int, tries: int) -> float:
    """Lower limit of the share that gave `count` of `tries` (Clopper and Pearson)."""
    # scipy is imported here because nothing else needs it when the package starts
    from scipy.special import betaincinv

    return float(betaincinv(count, tries - count + 1, 1 - LEVEL)) if 0 < count <= tries else 0.0
