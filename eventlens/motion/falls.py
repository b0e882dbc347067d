"""Falls: outputs that open and inputs that operate, as a supply that goes away shows them."""

from __future__ import annotations

from datetime import timedelta
from typing import Final

import polars as pl

from eventlens import schema, signals
from eventlens.motion.near import latest, seconds
from eventlens.motion.states import States

SCHEMA: Final = pl.Schema(
    {
        "signal": schema.SIGNAL,
        "unit": pl.String(),
        "start": schema.TIME,
        "until": schema.TIME,
        "returned": pl.Boolean(),
        "start_row": schema.ROW(),
        "segment": pl.UInt32(),
    }
)
"""Falls: signal, what it belongs to (the motion of an output; of an input what it guards), the instant, until when it
stayed so and whether its return was seen, line, stretch of log."""


def outputs(states: States) -> dict[str, str]:
    """The output of each direction, contactor or, where none is logged, command -> its motion."""
    found: dict[str, str] = {}
    for motion, pair in signals.MOTIONS.items():
        for direction in pair:
            names = [f"{motion}.{direction}.{basis}" for basis in ("contactor", "command")]
            found |= dict.fromkeys([n for n in names if states.has(n)][:1], motion)
    return found


def openings(states: States) -> pl.DataFrame:
    """Every output that was seen to open (SCHEMA), by time."""
    return _joined([falls(states.off(name), name, motion) for name, motion in outputs(states).items()])


def inputs(states: States) -> dict[str, str]:
    """Every device of a motion or the machine but the emergency stop -> its unit.

    Slow-down and final limit of one direction are one unit, so is all that the overload device reports.
    """
    units = {name: name for name in ("rope.slack", "supply.phase_fault")}
    units |= {f"overload.{kind}": "overload" for kind in ("warning", "trip", "fault")}
    for motion, pair in signals.MOTIONS.items():
        units[f"{motion}.motor.hot"] = f"{motion}.motor.hot"
        units |= {f"{motion}.{way}.{kind}": f"{motion}.{way}" for way in pair for kind in ("slowdown", "limit")}
    return {name: unit for name, unit in units.items() if states.has(name)}


def operated(states: States) -> pl.DataFrame:
    """Every device that was seen to operate (SCHEMA), by time."""
    return _joined([falls(states.on(name), name, unit) for name, unit in inputs(states).items()])


def falls(states: pl.DataFrame, name: str, unit: str) -> pl.DataFrame:
    """The beginnings of the states that were seen, as falls of a signal (SCHEMA)."""
    return states.filter("start_seen").select(
        pl.lit(name, schema.SIGNAL).alias("signal"),
        pl.lit(unit).alias("unit"),
        "start",
        pl.col("end").alias("until"),
        pl.col("end_seen").alias("returned"),
        "start_row",
        "segment",
    )


def _joined(parts: list[pl.DataFrame]) -> pl.DataFrame:
    return pl.concat([SCHEMA.to_frame(), *parts]).sort("start", maintain_order=True)


def near_unlike(fallen: pl.DataFrame, within_s: float) -> pl.DataFrame:
    """The falls whose neighbour in time is of another unit and no further away than within_s."""
    gap = seconds("start", pl.col("start").shift(1))
    unlike = (gap <= within_s) & (pl.col("unit") != pl.col("unit").shift(1))
    return fallen.filter((unlike | unlike.shift(-1)).fill_null(value=False))


def held_until(fallen: pl.DataFrame, states: States) -> pl.DataFrame:
    """The falls of contactors whose command is logged, with the last command before each: `held_start`, `held_end`."""
    parts = [fallen.clear().with_columns(held_start="start", held_end="start")]
    for (name,), part in fallen.group_by("signal", maintain_order=True):
        command = str(name).replace(".contactor", ".command")
        if command != name and states.has(command):
            found = latest(part, pl.col("start"), states.on(command), "held")
            parts.append(found.select(*fallen.columns, "held_start", "held_end"))
    return pl.concat(parts).sort("start", maintain_order=True)


def against_command(fallen: pl.DataFrame, states: States, explained_s: float, doubt_s: float) -> pl.DataFrame:
    """The falls of contactors under a command that was held before and after, and that no device of their own cut."""
    held = held_until(fallen, states)
    before, after = seconds("start", "held_start"), seconds("held_end", "start")
    held = held.filter((before > doubt_s) & (after > doubt_s)).select(*fallen.columns)
    parts = [held.clear()]
    for (name,), part in held.group_by("signal", maintain_order=True):
        devices = states.on(*_own_devices(str(name)))
        found = latest(part, pl.col("start") + timedelta(seconds=doubt_s), devices, "device")
        cut = (seconds("start", "device_start") <= explained_s + doubt_s).fill_null(value=False)
        parts.append(found.filter(~cut).select(*fallen.columns))
    return pl.concat(parts).sort("start", maintain_order=True)


def _own_devices(contactor: str) -> list[str]:
    """What cuts a direction on purpose, but for the emergency stop and the supply."""
    motion, direction, _ = contactor.split(".")
    more = {"raise": ["overload.trip", "overload.fault"], "lower": ["rope.slack"]}.get(direction, [])
    return [f"{motion}.{direction}.limit", f"{motion}.motor.hot", *more]


def related(output: pl.Expr, unit: pl.Expr) -> pl.Expr:
    """Whether an input may cut an output, or belongs to the same run."""
    units = []
    for motion, pair in signals.MOTIONS.items():
        for way in pair:
            own = [f"{motion}.{way}", f"{motion}.motor.hot"]
            own += {"raise": ["overload"], "lower": ["rope.slack"]}.get(way, [])
            units += [output.cast(pl.String).str.starts_with(f"{motion}.{way}.") & unit.is_in(own)]
    return pl.any_horizontal(units)
