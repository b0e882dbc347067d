"""Whether the log settles that no device cut or refused a direction: each is known to be off, or ruled out.

Looked at are the limit of the direction, the motor's thermistor, the emergency stop and, while raising, the overload
device. Supply, phase relay and slack-rope device are seldom logged and are not asked for.
"""

from __future__ import annotations

import polars as pl

from eventlens import signals
from eventlens.motion.near import following, latest, seconds
from eventlens.motion.states import States


def is_known(frame: pl.DataFrame, at: pl.Expr, states: States, signal: str) -> pl.Series:
    """For each row, sorted by the instant `at`: the signal's state is known at that instant."""
    if frame.is_empty() or not states.has(signal):
        return pl.repeat(value=False, n=frame.height, dtype=pl.Boolean, eager=True)
    found = latest(frame, at, states.known(signal), "known", ("end",))
    return found.select((pl.col("known_end") >= at).fill_null(value=False)).to_series()


def settled(
    frame: pl.DataFrame,
    at: pl.Expr,
    next_start: pl.Expr,
    states: States,
    motion: str,
    direction: str,
    *,
    same_way_again_s: float,
    stop_reset_s: float,
) -> pl.Series:
    """For each row (with `segment`, sorted by the instant `at`): no device can have cut or refused the direction.

    next_start: the next start in the same direction, null if there is none. A start soon after rules out a limit and a
    hot motor, and, sooner still, an emergency stop, unless the motion went the other way in between; an overload
    device that is not known is never ruled out while raising.
    """
    if frame.is_empty():
        return pl.Series([], dtype=pl.Boolean)
    other = signals.opposite(motion, direction)
    frame = frame.with_columns(_next=next_start, _from=at)
    for kind in ("contactor", "command"):
        frame = following(frame, pl.col("_from"), states.on(f"{motion}.{other}.{kind}"), kind, ("start",))
    away = pl.min_horizontal("contactor_start", "command_start")
    straight = away.is_null() | (away >= pl.col("_next"))
    pause = pl.when(straight).then(seconds("_next", "_from"))
    again, at_once = pause <= same_way_again_s, pause <= stop_reset_s
    proofs = {
        f"{motion}.{direction}.limit": again,
        f"{motion}.motor.hot": again,
        "stop.emergency": at_once,
    } | ({"overload.trip": pl.lit(value=False)} if direction == "raise" else {})
    columns = [
        (proof.fill_null(value=False) | pl.lit(is_known(frame, pl.col("_from"), states, signal)))
        for signal, proof in proofs.items()
    ]
    return frame.select(pl.all_horizontal(columns)).to_series()
