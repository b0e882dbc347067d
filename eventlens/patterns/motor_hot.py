"""Motor hot: the thermistor of a motor trips.

Definition: the thermistor's signal is seen to go on; it spans on to off. Measured is how many starts the motion made in
the hour before; the summary adds the share of running time in the ten minutes before. Both count what the log shows: a
hole in that time makes them lower bounds. A thermistor that chatters is `chatter`, one that operates together with
other inputs because their supply went is `common_drop_out`.

Where the machine file gives a group (or the motor's plate), a model of the motor's heat (life.heat: first order, its
time constants from memory) says how warm the work alone had made it, how much of that came from starts, and whether
that explains the trip. It is a model: it knows no ambient, load or voltage, and takes the motor for cold where the log
begins or has a hole; within three time constants of that its level is a minimum.

Starts heat a motor more than running does, each by a current of several times the rated one; a motor that gets hot
with few of them has another trouble (a brake that drags, a phase missing, a fan).

Certain: the device says so.
Source: common practice; running time over ten minutes: IEC 60034-1. Cost: one match of trips with the runs.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from eventlens import schema, signals
from eventlens.duty.groups import motor_limits
from eventlens.life.heat import HeatModel, HeatParameters, at, heat
from eventlens.limits import configure
from eventlens.motion.near import time_on
from eventlens.patterns._base import FOUND, Context, Pattern, extent, graded, nothing


@dataclass(frozen=True)
class Parameters:
    """It has no limits."""


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """Trips of the thermistor of one motion."""
    name = f"{motion}.motor.hot"
    hot = context.calm(context.states.on(name).filter("start_seen"), motion)
    if hot.is_empty():
        return nothing()
    starts = context.runs_of(motion).filter("start_seen")["start"]
    until = starts.search_sorted(hot["start"], side="left").cast(pl.Int64)
    since = starts.search_sorted(hot.select(pl.col("start") - pl.duration(hours=1))["start"]).cast(pl.Int64)
    return hot.with_columns(
        graded(pl.lit(value=True)),
        measured=(until - since).cast(pl.Float64),
        limit=pl.lit(None, pl.Float64),
        direction=pl.lit(None, schema.DIRECTION),
        rows=pl.concat_list("start_row", "end_row"),
        signal=pl.lit(name),
    ).select(*FOUND, "signal")


def describe(context: Context, motion: str, found: pl.DataFrame, p: Parameters) -> str:
    runs, before = context.runs_of(motion), found.select(pl.col("start") - pl.duration(minutes=10))["start"]
    ways = [runs.filter(pl.col("direction") == way) for way in signals.MOTIONS[motion]]
    share = sum((time_on(way, before, found["start"]) / 600 for way in ways), pl.repeat(0.0, found.height, eager=True))
    least, most = extent(found)
    return (
        f"{_span(least, most)} starts in the hour before, running "
        f"{_span(100 * min(min(share), 1.0), 100 * min(max(share), 1.0))} % of the ten minutes before; "
        f"{_by_the_model(context, motion, found)}"
    )


def _by_the_model(context: Context, motion: str, found: pl.DataFrame) -> str:
    """How warm the work alone made the motor, and what that explains."""
    rated = motor_limits(context.machine, motion)
    if rated is None:
        return "the motor's group in the machine file would let a model say whether this work explains it"
    p = configure(HeatParameters, context.machine.limits)
    model = HeatModel.of(rated, p)
    trips = found.sort("start")["start"]
    level = at(trips, heat(context.runs_of(motion), model), model)
    explained = level.filter(pl.col("heat") >= p.motor_heat_explained_from).height
    hardly = level.filter(pl.col("heat") < p.motor_heat_unexplained_below).height
    early = " or more" if (_since_unknown_s(context, trips) < 3 * model.tau_rest_s).any() else ""
    return (
        f"a simple model, from memory, puts the motor at {_range(100 * level['heat'])} %{early} of the level of rated "
        f"duty ({_range(100 * level['from_starts'] / level['heat'].clip(1e-9))} % of it from starts), which "
        f"{_verdict(found.height, explained, hardly)}"
    )


def _verdict(trips: int, explained: int, hardly: int) -> str:
    if explained == trips:
        return "explains it"
    if hardly == trips:
        return "does not explain it: look for a brake that drags, a phase missing, poor cooling"
    if trips == 1:
        return "may explain it"
    return f"explains {explained} of {trips}, does not explain {hardly}, may explain the others"


def _since_unknown_s(context: Context, instants: pl.Series) -> pl.Series:
    """Time since the log began, had a hole or a step of its clock [s]: before that the motor's heat is not known."""
    begins = [context.states.frame["start"].min(), *context.holes["end"], *context.clock_steps["end"]]
    known = pl.Series(begins, dtype=schema.TIME).drop_nulls().sort()
    last = known.gather((known.search_sorted(instants, side="right").cast(pl.Int64) - 1).clip(0))
    return (instants - last).dt.total_microseconds() / 1e6


def _range(values: pl.Series) -> str:
    return _span(float(values.min()), float(values.max()))  # type: ignore[arg-type]  # of floats


def _span(least: float, most: float) -> str:
    low, high = f"{least:.0f}", f"{most:.0f}"
    return low if low == high else f"{low} to {high}"


EXAMPLE = """
1 s
hoist.raise.command    .(########..)*6.........
hoist.raise.contactor  .(########..)*6.........
hoist.motor.hot        .(..........)*6..######.
"""

PATTERN = Pattern(
    name="motor_hot",
    title="motor hot",
    parameters=Parameters,
    find=find,
    motions=tuple(signals.MOTIONS),
    needs=(("{motion}.motor.hot",),),
    severity="watch",
    why_severity="the device did its work; what needs a person is what heated the motor",
    usually="more starts or running than the motor is built for, a brake that drags, a phase missing, cooling",
    unit="starts in the hour before",
    look_back_s=3600.0,
    exposure="running_h",
    describe=describe,
    example=EXAMPLE,
)
