"""Frozen signal: a signal that should have moved with the work stands still while the machine works on.

Definition: the longest row of runs, after its first change, in which the signal shows no change, held against its own
earlier rate. It is reported if so long a row would come by chance, anywhere in the log, less often than
`frozen_false_alarm`: with k runs with a change among the n runs before, r the exact lower 97.5 % limit of the share k/n
(Clopper and Pearson), a row of m runs without one is improbable if (c + 1) (1 - r)^m, with all c changes of the log, is
below that limit divided by the number of signals judged. Changes of limits and of overload signals come in clusters,
so of these k counts at most one in eight hours (a shift). Such a signal that never moved, or only now begins to, has no
rate of its own: it may rest for weeks. A brake's release confirmation belongs to every run: its row may also stand at
the beginning, its rate is that of all other runs, and if it never moves at all, `frozen_least_runs` runs are enough.
Runs in which the signal's state is unknown are left out.

A work that changes looks alike (a limit that nobody reaches any more), so only the missing confirmation is certain.
A confirmation that misses single runs is `brake_not_confirmed`, a fast output that misses its command
`fast_not_reached`.
Source: common practice; limits of a share: Clopper and Pearson, Biometrika 26, 1934. Cost: one sort of runs with the
changes of each signal.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlens import schema, signals
from eventlens.limits import limit
from eventlens.patterns._base import FOUND, Context, Pattern, nothing

BEFORE_RUN: Final = pl.duration(seconds=2)
"""A command comes before its run: a change up to 2 s before a start belongs to that run (common practice)."""
CLUSTER_US: Final = 8 * 3_600_000_000
LEVEL: Final = 0.975


@dataclass(frozen=True)
class Parameters:
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


def _watched(context: Context, motion: str) -> Iterator[tuple[str, str | None]]:
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
    return max(sum(1 for motion in signals.MOTIONS for _ in _watched(context, motion)), 1)


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """The longest stillness of each signal of a motion, where it is improbable."""
    chance = p.frozen_false_alarm / _judged(context)
    looked = (_still(context, motion, name, side, chance, p) for name, side in _watched(context, motion))
    parts = [part for part in looked if part is not None]
    return pl.concat(parts) if parts else nothing()


def _runs(context: Context, motion: str, name: str, side: str | None) -> pl.DataFrame:
    """The runs that should move a signal and at whose start its state is known, each with whether it changed."""
    runs = context.runs_of(motion).sort("start")
    if side is not None:
        runs = runs.filter(pl.col("direction") == side)
    known = context.states.known(name)
    if runs.is_empty() or known.is_empty():
        return runs.with_columns(moved=pl.lit(value=False)).clear()
    until = known.select(pl.col("start").alias("_from"), pl.col("end").alias("_until"))
    runs = runs.join_asof(until, left_on="start", right_on="_from", strategy="backward", check_sortedness=False)
    runs = runs.filter(pl.col("_until") >= pl.col("start")).drop("_from", "_until")
    changes = known.filter(pl.col("start_seen"))["start"]
    run = runs.select(pl.col("start") - BEFORE_RUN)["start"].search_sorted(changes, side="right").cast(pl.Int64) - 1
    moved = np.zeros(runs.height, np.bool_)
    moved[run.filter(run >= 0).to_numpy()] = True
    return runs.with_columns(moved=pl.Series(moved))


def _still(
    context: Context, motion: str, name: str, side: str | None, chance: float, p: Parameters
) -> pl.DataFrame | None:
    runs = _runs(context, motion, name, side)
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


def too_short(context: Context, motion: str, p: Parameters) -> str | None:
    """Too few runs, or no signal that has a rate of its own."""
    for name, side in _watched(context, motion):
        runs = _runs(context, motion, name, side)
        if runs.height >= p.frozen_least_runs and (runs["moved"].any() or name.endswith(".brake.released")):
            return None
    return f"{p.frozen_least_runs:g} runs with a signal that moves in some of them"


def describe(context: Context, motion: str, found: pl.DataFrame, p: Parameters) -> str:
    return "; ".join(
        f"{name} did not change in {runs:.0f} runs"
        for name, runs in found.select(pl.col("signal").cast(pl.String), "measured").iter_rows()
    )


EXAMPLE = """
1 s
hoist.raise.contactor  (..###..)*80
hoist.brake.released   (..###..)*40(.......)*40
"""

PATTERN = Pattern(
    name="frozen_signal",
    title="frozen signal",
    parameters=Parameters,
    find=find,
    motions=tuple(signals.MOTIONS),
    needs=tuple(
        (basis, signal)
        for basis in ("{motion}.*.contactor", "{motion}.*.command")
        for signal in ("{motion}.brake.released", "{motion}.fast.contactor", "{motion}.*.limit", "{motion}.*.slowdown")
    ),
    severity="watch",
    why_severity="what a limit or a confirmation guards against may go unseen",
    usually="a broken wire, a switch that does not move, an input that was taken off the log; or the work changed",
    unit="runs",
    look_back_s=60.0,
    exposure="start",
    too_short=too_short,
    describe=describe,
    example=EXAMPLE,
)
