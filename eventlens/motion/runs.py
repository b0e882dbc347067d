"""Known states -> runs.

A run is one energised interval of one motion in one direction. It begins when the directional contactor closes (or
its command comes, where no contactor of that direction is logged) and ends when it opens. A run that a hole or an end
of the log cuts is censored: it counts as a start only if its start was seen, and its duration is a lower bound.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

import polars as pl

from eventlens import schema, signals
from eventlens.limits import limit
from eventlens.motion.common import CommonParameters, common_drop_outs
from eventlens.motion.endings import EndingParameters, with_dips, with_ending
from eventlens.motion.kinds import of_last_ended
from eventlens.motion.near import around, latest, merged, neighbours, seconds, time_on, without
from eventlens.motion.states import States
from eventlens.spill import laid_down
from eventlens.threads import in_threads


@dataclass(frozen=True)
class RunParameters(EndingParameters, CommonParameters):
    """How times of a run are linked."""

    contactor_answer_s: float = limit(
        0.5,
        "s",
        "common practice: contactors close in 0.01 to 0.1 s, reversing dwell up to 0.5 s",
        "raising it links a contactor to a command that has already ended; lowering it calls slow chains uncommanded",
    )
    brake_lag_s: float = limit(
        0.5,
        "s",
        "common practice: brakes apply within 0.05 to 0.5 s",
        "raising it takes a confirmation that falls after a quick restart for the stop before; lowering it for a loss",
    )
    fast_lag_s: float = limit(
        0.1,
        "s",
        "common practice: contactors open in 0.004 to 0.1 s",
        "raising it ignores a fast output that is still on at a start; lowering it calls an opening contactor fast",
    )


def build_runs(
    states: States,
    measures: pl.DataFrame,
    parameters: RunParameters,
    step_s: float,
    common: pl.DataFrame | None = None,
) -> pl.DataFrame:
    """All runs of all motions (schema.RUNS). `measures` are events of measured signals; step_s the log step [s].

    common: the common drop-outs, where they have been found already (motion.common.SCHEMA).
    """
    if common is None:
        common = common_drop_outs(states, parameters, parameters, step_s)
    found = [
        _runs_of_motion(states, motion, measures, parameters, step_s, common)
        for motion in signals.MOTIONS
        if _logged(states, motion)
    ]
    frame = pl.concat(found) if found else schema.RUNS.empty().drop("run")
    if len(found) > 1:
        frame = frame.sort("segment", "start", "motion", maintain_order=True)
    return schema.RUNS.check(laid_down(frame.with_row_index("run").select(*schema.RUNS.columns), states.frame.height))


def basis_of(states: States, motion: str, direction: str) -> str | None:
    """'contactor' where it is logged for the direction, else 'command', else None."""
    for basis in ("contactor", "command"):
        if states.has(f"{motion}.{direction}.{basis}"):
            return basis
    return None


def _logged(states: States, motion: str) -> bool:
    return any(basis_of(states, motion, direction) for direction in signals.MOTIONS[motion])


def _runs_of_motion(
    states: States, motion: str, measures: pl.DataFrame, p: RunParameters, step_s: float, common: pl.DataFrame
) -> pl.DataFrame:
    ways = [(way, basis) for way in signals.MOTIONS[motion] if (basis := basis_of(states, motion, way))]
    rows = states.frame.height
    parts = in_threads(lambda item: _runs_of_direction(states, motion, *item, p, step_s, common), ways, rows)
    frame = _with_pause(_by_start(parts, rows))
    frame = _with_load(frame, measures) if motion == "hoist" else frame.with_columns(load_kg=pl.lit(None, pl.Float64))
    return frame.with_columns(duration_s=seconds("end", "start"), motion=pl.lit(motion, schema.MOTION)).select(
        name for name in schema.RUNS.columns if name != "run"
    )


def _by_start(parts: list[pl.DataFrame], rows: int) -> pl.DataFrame:
    """The runs of all directions by start. Column by column, each let go at once: runs are wide, and stand only once in
    memory. rows: of the log."""
    order = pl.concat(part.select("start") for part in parts).select(pl.arg_sort_by("start", maintain_order=True))

    def in_order(name: str) -> pl.Series:
        return pl.concat([part.drop_in_place(name) for part in parts], rechunk=True).gather(order["start"])

    frame = pl.DataFrame(in_threads(in_order, parts[0].columns, rows))
    return frame.with_columns(pl.col("start").set_sorted())


def _runs_of_direction(
    states: States, motion: str, direction: str, basis: str, p: RunParameters, step_s: float, common: pl.DataFrame
) -> pl.DataFrame:
    """The runs of one direction with everything that does not need the other direction's runs."""
    frame = states.on(f"{motion}.{direction}.{basis}").with_columns(
        direction=pl.lit(direction, schema.DIRECTION),
        basis=pl.lit(basis, schema.RUNS.columns["basis"].dtype),
    )
    frame = _with_command(frame, states.on(f"{motion}.{direction}.command"), p, step_s)
    frame = _with_brake(frame, states.on(f"{motion}.brake.released"), p)
    frame = _with_fast(frame, states, motion, p)
    frame = with_ending(frame, states, motion, direction, basis, p, step_s, common)
    return frame.select(name for name in schema.RUNS.columns if name in frame.columns)


def _with_command(frame: pl.DataFrame, commands: pl.DataFrame, p: RunParameters, step_s: float) -> pl.DataFrame:
    """Adds the command that called each run, and the one in force at its end."""
    step = pl.duration(microseconds=round(step_s * 1e6))
    frame = latest(frame, pl.col("start") + step, commands, "called", ("start", "end", "start_seen", "start_row"))
    held = ("start", "end", "end_seen", "end_row", "dip_before", "dip_after")
    frame = latest(frame, pl.col("end"), with_dips(commands), "held", held)
    answer = pl.duration(microseconds=round(p.contactor_answer_s * 1e6))
    linked = (pl.col("called_end") >= pl.col("start") - answer).fill_null(value=False)
    first = (pl.col("called_start") != pl.col("called_start").shift(1)).fill_null(value=True)
    timed = linked & first & pl.col("start_seen") & pl.col("called_start_seen") & (pl.col("basis") == "contactor")
    frame = frame.with_columns(
        command_on=pl.when(linked).then("called_start"),
        command_off=pl.when(linked & pl.col("held_end_seen")).then("held_end"),
        contactor_delay_s=pl.when(timed).then(seconds("start", "called_start").clip(0.0)),
        command_on_row=pl.when(linked).then("called_start_row"),
        command_off_row=pl.when(linked & pl.col("held_end_seen")).then("held_end_row"),
        _linked=linked,
    )
    return without(frame, "called")


def _with_brake(frame: pl.DataFrame, released: pl.DataFrame, p: RunParameters) -> pl.DataFrame:
    """Adds the brake's confirmation: the one that came during the run, else one that was on when it began."""
    resting, coming = neighbours(frame, pl.col("start"), released)
    last, _ = neighbours(frame, pl.col("end"), released)
    lag = timedelta(seconds=p.brake_lag_s)
    resting_end = released["end"].gather(resting)
    comes = (released["start"].gather(coming) <= frame["end"]).fill_null(value=False)
    was_on = (resting_end > frame["start"]).fill_null(value=False)
    # a confirmation that falls just after a quick restart belongs to the stop before
    fresh = comes & (~was_on | (resting_end < frame["start"] + lag).fill_null(value=False))
    first = coming.zip_with(fresh, resting.set(~was_on, None))
    brake_on = released["start"].gather(first)
    # of a confirmation that bounced, or went and came again, the last one tells when the brake set
    later = (released["start"].gather(last) >= brake_on).fill_null(value=False)
    last = last.zip_with(later, first)
    last = last.set(~released["end_seen"].gather(last).fill_null(value=False), None)
    frame = frame.with_columns(
        brake_on=brake_on,
        brake_on_row=released["start_row"].gather(first),
        brake_off=released["end"].gather(last),
        brake_off_row=released["end_row"].gather(last),
    )
    begun = (pl.col("brake_on") >= pl.col("start")) & pl.col("start_seen")
    return frame.with_columns(release_time_s=pl.when(begun).then(seconds("brake_on", "start")))


def _with_fast(frame: pl.DataFrame, states: States, motion: str, p: RunParameters) -> pl.DataFrame:
    """Adds the first fast output of each run and its time in fast; judged on the output, never on the button."""
    output = states.on(f"{motion}.fast.contactor")
    frame = around(frame, pl.col("start"), output, "running", "step", ("start", "end", "start_row"))
    lag = pl.duration(microseconds=round(p.fast_lag_s * 1e6))
    was_on = (pl.col("running_end") > pl.col("start") + lag).fill_null(value=False)
    comes = (pl.col("step_start") < pl.col("end")).fill_null(value=False)
    frame = frame.with_columns(
        fast_on=pl.when(was_on).then(pl.max_horizontal("running_start", "start")).when(comes).then("step_start"),
        fast_on_row=pl.when(was_on).then("running_start_row").when(comes).then("step_start_row"),
    )
    frame = without(frame, "running", "step")
    in_fast = time_on(output, frame["start"], frame["end"])
    return frame.with_columns(
        speed_change_delay_s=pl.when("start_seen").then(seconds("fast_on", "start")),
        fast_s=in_fast.alias("fast_s") if states.has(f"{motion}.fast.contactor") else pl.lit(None, pl.Float64),
    )


def _with_pause(frame: pl.DataFrame) -> pl.DataFrame:
    """Adds the pause since the motion's run before, whether it reversed, and the time the brake took to apply."""
    together = (pl.col("segment") == pl.col("segment").shift(1)).fill_null(value=False)
    pause = seconds("start", of_last_ended("end"))
    frame = _with_what_follows(frame)
    next_start = pl.when(pl.col("_next_segment") == pl.col("segment")).then(pl.col("_next_start"))
    applied = (
        pl.col("end_seen")
        & ~pl.col("_driven")
        & pl.col("brake_off").is_not_null()
        & (pl.col("brake_off") >= pl.col("end"))
        & (next_start.is_null() | (next_start >= pl.col("brake_off")))
    )
    paused = together & of_last_ended("end_seen") & pl.col("start_seen") & (pause >= 0)
    return frame.with_columns(
        pause_s=pl.when(paused).then(pause),
        reversed=pl.when(together).then(pl.col("direction") != of_last_ended("direction")),
        apply_time_s=pl.when(applied).then(seconds("brake_off", "end")),
    )


def _with_what_follows(frame: pl.DataFrame) -> pl.DataFrame:
    """Adds the first run that begins at or after each run's end, and whether the other direction drives on at that end.

    Both directions are on at once where an interlock fails: the brake sets after the last of them.
    """
    begun = pl.Series(merged(frame["start"], frame["end"], "left"))
    ended = pl.Series(merged(frame["end"].sort(), frame["end"], "right"))
    following = begun.set(begun >= frame.height, None)
    return frame.with_columns(
        _driven=begun > ended,
        _next_start=frame["start"].gather(following),
        _next_segment=frame["segment"].gather(following),
    )


def _with_load(frame: pl.DataFrame, measures: pl.DataFrame) -> pl.DataFrame:
    """Adds the highest load measured during each run [kg]."""
    loads = measures.filter(pl.col("signal") == "load.kg").select("time", "value", "segment")
    if loads.is_empty() or frame.is_empty():
        return frame.with_columns(load_kg=pl.lit(None, pl.Float64))
    spans = frame.with_row_index("_n").select("_n", "start", "end", pl.col("segment").alias("_segment"))
    highest = (
        loads.join_asof(spans, left_on="time", right_on="start", strategy="backward")
        .filter((pl.col("time") <= pl.col("end")) & (pl.col("segment") == pl.col("_segment")))
        .group_by("_n")
        .agg(load_kg=pl.col("value").max())
    )
    return frame.with_row_index("_n").join(highest, on="_n", how="left", maintain_order="left").drop("_n")
