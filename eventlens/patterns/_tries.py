"""Tries: commands that were held long enough for their output to come; those in vain are told from those refused."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import polars as pl

from eventlens import schema, signals
from eventlens.limits import limit
from eventlens.motion.near import following, latest, seconds
from eventlens.patterns._base import Context, moved
from eventlens.patterns._refused import not_refused, surely_not

_NO_TRY = pl.Schema(
    {
        "start": schema.TIME,
        "end": schema.TIME,
        "start_row": schema.ROW(),
        "end_row": schema.ROW(),
        "segment": pl.UInt32(),
        "measured": pl.Float64(),
        "direction": schema.DIRECTION,
        "failed": pl.Boolean(),
        "sure": pl.Boolean(),
    }
).to_frame()
"""A try: the command, how long it was held [s] (fast: while running), whether it was in vain, whether that is sure."""
TRIED = tuple(_NO_TRY.columns)


def no_start_s() -> Any:
    """How long a direction's command must be held [s]."""
    return limit(
        0.7,
        "s",
        "common practice: contactors close in 0.1 s, reversing dwell takes up to 0.5 s",
        "raising it misses short presses in vain; lowering it takes the dwell after a reversal for a refusal",
    )


def contactor_close_s() -> Any:
    """How soon a contactor answers [s]."""
    return limit(
        0.1,
        "s",
        "common practice: contactors close in 0.008 to 0.1 s",
        "raising it lets a start that comes after the command count as its answer",
    )


def fast_reach_s() -> Any:
    """How long fast must be asked for while running [s]."""
    return limit(
        1.0,
        "s",
        "common practice: set delay of 0.3 to 0.5 s plus contactor times, doubled to be sure",
        "raising it misses short presses; lowering it takes a long set delay for a lost function",
    )


def direction_tries(context: Context, motion: str, direction: str, held_s: float, close_s: float) -> pl.DataFrame:
    """Commands of a direction held for at least held_s that nothing refused, by start (TRIED).

    Left out are those during which the contactor's state was not known, and what belongs to chatter or to a common
    drop-out.
    """
    key = ("tries", motion, direction, held_s, close_s)
    return context.once(key, lambda: _direction_tries(context, motion, direction, held_s, close_s))


def _direction_tries(context: Context, motion: str, direction: str, held_s: float, close_s: float) -> pl.DataFrame:
    states = context.states
    contactor = f"{motion}.{direction}.contactor"
    held = states.on(f"{motion}.{direction}.command").filter("start_seen")
    held = context.calm(
        held.with_columns(measured=seconds("end", "start")).filter(pl.col("measured") >= held_s), motion
    )
    if held.is_empty():
        return _NO_TRY
    held = latest(held, pl.col("start"), states.off(contactor), "open")
    held = following(held, _just_before(context), states.on(contactor), "next")
    answer = pl.duration(microseconds=round(close_s * 1e6))
    unanswered = pl.col("next_start").is_null() | (pl.col("next_start") > pl.col("end") + answer)
    failed = ((pl.col("open_end") >= pl.col("end")) & unanswered).fill_null(value=False)
    answered = held.filter(~failed & ~unanswered).with_columns(sure=pl.lit(value=True), failed=pl.lit(value=False))
    vain = not_refused(held.filter(failed), context, motion, direction, held_s)
    settled = pl.lit(surely_not(vain, pl.col("next_start"), context, motion, direction))
    # a contactor that closes for a moment between two records would not be seen
    fine = pl.lit(context.uncertainty_s <= close_s)
    sure = settled & fine & (moved(pl.col("measured"), -context.uncertainty_s) >= held_s)
    vain = vain.with_columns(sure=sure.fill_null(value=False), failed=pl.lit(value=True))
    of = pl.lit(direction, schema.DIRECTION).alias("direction")
    return pl.concat([part.with_columns(of).select(*TRIED) for part in (answered, vain)]).sort("start")


def _just_before(context: Context) -> pl.Expr:
    """One step before a command: the record may show its answer at the same instant, or before it."""
    return pl.col("start") - timedelta(seconds=context.step_s, microseconds=1)


def fast_tries(context: Context, motion: str, reach_s: float) -> pl.DataFrame:
    """Fast commands of a motion held while it ran for at least reach_s, and not slowed on purpose, by start (TRIED)."""
    return context.once(("fast tries", motion, reach_s), lambda: _fast_tries(context, motion, reach_s))


def _fast_tries(context: Context, motion: str, reach_s: float) -> pl.DataFrame:
    states, output = context.states, f"{motion}.fast.contactor"
    asked = context.calm(states.on(f"{motion}.fast.command").filter("start_seen"), motion)
    if asked.is_empty():
        return _NO_TRY
    asked = latest(asked, pl.col("start"), states.off(output), "idle")
    asked = following(asked, _just_before(context), states.on(output), "reached")
    came = (pl.col("reached_start") <= pl.col("end")).fill_null(value=False)
    in_vain = ((pl.col("idle_end") >= pl.col("end")) & ~came).fill_null(value=False)
    asked = asked.with_columns(failed=in_vain).filter(pl.col("failed") | came)
    answered = asked.filter(~pl.col("failed")).with_columns(
        measured=seconds("end", "start"), direction=pl.lit(None, schema.DIRECTION), sure=pl.lit(value=True)
    )
    longest = _longest_run(asked.filter("failed"), context.runs_of(motion))
    longest = longest.filter(pl.col("measured") >= reach_s)
    vain = [_not_slowed(context, longest, motion, direction, reach_s) for direction in signals.MOTIONS[motion]]
    return pl.concat([answered.select(*TRIED), *vain]).sort("start")


def _longest_run(asked: pl.DataFrame, runs: pl.DataFrame) -> pl.DataFrame:
    """Each fast command with the run that it was held in for longest: in a short one fast had no time to come."""
    runs = runs.select("direction", "basis", "command_off", run_start="start", run_end="end")
    together = asked.join_where(runs, pl.col("start") < pl.col("run_end"), pl.col("end") > pl.col("run_start"))
    # a contactor that stays on after its command is no run that the operator could want fast
    over = pl.col("command_off") <= pl.max_horizontal("start", "run_start")
    together = together.filter(~over.fill_null(value=False))
    measured = seconds(pl.min_horizontal("end", "run_end"), pl.max_horizontal("start", "run_start"))
    return (
        together.with_columns(measured=measured)
        .sort("start", "measured", "run_start")
        .group_by("start", maintain_order=True)
        .last()
    )


def _not_slowed(context: Context, asked: pl.DataFrame, motion: str, direction: str, reach_s: float) -> pl.DataFrame:
    """Those of one direction that its slow-down limit does not explain."""
    slowdown = f"{motion}.{direction}.slowdown"
    own = latest(asked.filter(pl.col("direction") == direction), pl.col("end"), context.states.on(slowdown), "slow")
    # a slow-down zone that was reached only after fast had already failed to come explains nothing
    failed = pl.max_horizontal("start", "run_start") + timedelta(seconds=reach_s)
    own = own.filter(~((pl.col("slow_end") > pl.col("start")) & (pl.col("slow_start") < failed)).fill_null(value=False))
    sure = pl.lit(context.states.has(slowdown)) & (moved(pl.col("measured"), -context.uncertainty_s) >= reach_s)
    # a command alone may have moved nothing: fast then has no reason to come
    sure &= pl.col("basis") == "contactor"
    return own.with_columns(sure=sure).select(*TRIED)
