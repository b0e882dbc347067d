"""Emergency stop while running: the emergency stop is operated while a motion is switched on.

Definition: the emergency stop is seen to go on while a run is on, of whatever motion, or within the log's uncertainty
of its end. It spans the stop, from on to off. Measured is how many motions ran. A stop that chatters is `chatter`, one
that operates together with other inputs because their supply went is `common_drop_out`.

Every such stop brings the load to rest by the brake alone and from full speed; where it is used as a switch, a person
should know.

Certain if the run had begun before it and either ended later, or its command was still held, each by more than the
log's uncertainty.
Source: common practice. Cost: one match of stops with the runs of each motion.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from eventlens import schema, signals
from eventlens.motion.near import latest, seconds, without
from eventlens.patterns._base import FOUND, Context, Pattern, graded, nothing


@dataclass(frozen=True)
class Parameters:
    """It has no limits."""


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """Emergency stops that met a run."""
    u = context.uncertainty_s
    stops = context.calm(context.states.on("stop.emergency").filter("start_seen"), None)
    if stops.is_empty():
        return nothing()
    stops = stops.with_columns(measured=pl.lit(0.0), sure=pl.lit(value=False), proof=pl.lit([], pl.List(schema.ROW)))
    for name in signals.MOTIONS:
        stops = _with_motion(stops, context.runs_of(name), u)
    return (
        stops.filter(pl.col("measured") > 0)
        .with_columns(
            graded(pl.col("sure")),
            limit=pl.lit(None, pl.Float64),
            direction=pl.lit(None, schema.DIRECTION),
            rows=pl.concat_list("start_row", "end_row", "proof"),
            signal=pl.lit("stop.emergency"),
        )
        .select(*FOUND, "signal")
    )


def _with_motion(stops: pl.DataFrame, runs: pl.DataFrame, u: float) -> pl.DataFrame:
    """The stops, with the run of one motion that each of them met, if any."""
    stops = latest(stops, pl.col("start"), runs, "run")
    held = runs.select(
        _start="start", _held=pl.when(pl.col("command_on").is_not_null()).then(pl.coalesce("command_off", "end"))
    )
    stops = stops.join(held.unique("_start"), left_on="run_start", right_on="_start", how="left", maintain_order="left")
    met = (seconds("start", "run_end") <= u).fill_null(value=False)
    until = seconds(pl.max_horizontal("run_end", "_held"), "start")
    sure = met & (seconds("start", "run_start") > u) & (until > u)
    return without(
        stops.with_columns(
            measured=pl.col("measured") + met.cast(pl.Float64),
            sure=pl.col("sure") | sure.fill_null(value=False),
            proof=pl.when(met).then(pl.concat_list("proof", "run_start_row", "run_end_row")).otherwise("proof"),
        ),
        "run",
    ).drop("_held")


def describe(context: Context, motion: str, found: pl.DataFrame, p: Parameters) -> str:
    stops = context.states.on("stop.emergency").filter("start_seen").height
    return f"of {stops} operations of the emergency stop"


EXAMPLE = """
0.1 s
hoist.raise.command    ..##########.........
hoist.raise.contactor  ..########...........
stop.emergency         .........########....
"""

PATTERN = Pattern(
    name="emergency_stop_running",
    title="emergency stop while running",
    parameters=Parameters,
    find=find,
    motions=(),
    needs=tuple(
        ("stop.emergency", f"{motion}.*.{basis}") for motion in signals.MOTIONS for basis in ("contactor", "command")
    ),
    severity="watch",
    why_severity="it did its work; what a person should know is how often it was needed, or used as a switch",
    usually="a danger that somebody saw, a motion that did not stop, or a way of working",
    unit="motions running",
    look_back_s=600.0,
    exposure="running_h",
    describe=describe,
    example=EXAMPLE,
)
