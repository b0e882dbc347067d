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
from dataclasses import dataclass

import polars as pl

from eventlens import signals
from eventlens.patterns._base import Context, Pattern
from eventlens.patterns._frozen import FrozenParameters, frozen, runs_that_move, watched


@dataclass(frozen=True)
class Parameters(FrozenParameters):
    """Those shared with the patterns that rest on such signals."""


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """The longest stillness of each signal of a motion, where it is improbable."""
    return frozen(context, motion)


def too_short(context: Context, motion: str, p: Parameters) -> str | None:
    """Too few runs, or no signal that has a rate of its own."""
    enough = context.runs_of(motion).height >= p.frozen_least_runs
    for name, side in watched(context, motion) if enough else ():
        runs = runs_that_move(context, motion, name, side)
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
    settles_s=math.inf,
    exposure="start",
    too_short=too_short,
    describe=describe,
    example=EXAMPLE,
)
