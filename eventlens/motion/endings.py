"""How a run ended: what the log gives as the reason that the contactor opened.

Judged in this order: a common drop-out (motion.common: the supply, seen or not); an emergency stop or a loss of supply
(they drop the command as well); a limit of the run's own direction, the overload device while raising, a hot motor,
each operating during the run and no later than the command's end; the operator (reversed, when the opposite command
came at once; else let go); and dropped out, when the command was still held and nothing in the log explains it. A
command that was gone for less than a hand needs to press again was held; where the log step cannot tell, the operator
is assumed to have let go, and that is not certain. A drop-out is certain only if every device that could explain it is
logged and did not operate during the run to stay on, or is ruled out by what happened next. Where the end or the
command is not known the ending is unknown.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import polars as pl

from eventlens import schema, signals
from eventlens.limits import limit
from eventlens.motion.doubt import settled
from eventlens.motion.near import following, latest, seconds
from eventlens.motion.states import States

_DEVICES: Final = ("emergency_stop", "supply", "limit", "overload", "motor_hot")
"""Endings that a device gives as its reason, in the order in which they are asked."""
AGAIN_S: Final = 1.0
"""A motor starts again this soon [s] after a quick second press (common practice: reversing and repeat dwells)."""


@dataclass(frozen=True)
class EndingParameters:
    """What counts as the reason for the end of a run."""

    explained_within_s: float = limit(
        0.5,
        "s",
        "common practice: device, relay and contactor follow within a few scans",
        "raising it lets older events explain an end; lowering it turns slow chains into drop-outs",
    )
    hand_s: float = limit(
        0.1,
        "s",
        "from memory: no hand lets go sooner after a motor stops",
        "with log steps above half of it a drop-out just before the release is only possible, above it every one is",
    )
    regrip_s: float = limit(
        0.15,
        "s",
        "from memory: no hand lets go of a button and presses it again sooner",
        "raising it takes a quick second press for a contact that opened; lowering it a bad contact for a second press",
    )
    same_way_again_s: float = limit(
        5.0,
        "s",
        "common practice: a limit or a hot motor still blocks the direction after this time",
        "raising it takes a later restart as proof that no limit had cut the run",
    )
    stop_reset_s: float = limit(
        3.0,
        "s",
        "common practice: resetting an emergency stop and starting again takes longer",
        "raising it takes a later restart as proof that no emergency stop had cut the run",
    )


def with_ending(
    frame: pl.DataFrame,
    states: States,
    motion: str,
    direction: str,
    basis: str,
    p: EndingParameters,
    step_s: float,
    common: pl.DataFrame,
) -> pl.DataFrame:
    """The runs of one direction, sorted by start, with `ending` and `ending_certain`. common: motion.common.SCHEMA."""
    frame = _with_stop(frame, states, motion, basis, 2 * step_s)
    frame = _with_hold(frame, states, f"{motion}.{direction}.command", basis, p, step_s)
    own = common.filter(pl.col("signals").list.contains(pl.lit(f"{motion}.{direction}.{basis}", schema.SIGNAL)))
    reasons = {"common": own, "sure_common": own.filter("sure")} | _devices(states, motion, direction)
    frame = frame.with_columns(
        pl.lit(value=False).alias(f"{kind}_{reason}") for reason in reasons for kind in ("_by", "_on")
    )
    for reason, devices in reasons.items():
        frame = _explained(frame, reason, devices, p, step_s)
    other = signals.opposite(motion, direction)
    frame = _reversed(frame, states.on(f"{motion}.{other}.command"), step_s)
    frame = frame.with_columns(ending=_ending().cast(schema.ENDING))
    return _with_certainty(frame, states, motion, direction, p, step_s)


def _with_stop(frame: pl.DataFrame, states: States, motion: str, basis: str, uncertainty_s: float) -> pl.DataFrame:
    """Adds when the motor stopped: the end, or, seen through the brake, before it (`_brake_lost`)."""
    released = states.on(f"{motion}.brake.released")
    early = (pl.col("brake_on") >= pl.col("start")) & (seconds("end", "brake_off") > uncertainty_s)
    lost = frame.select(early.fill_null(value=False)).to_series()
    fell = following(frame.filter(lost), pl.col("brake_off"), released, "again", ("start",))
    came_back = fell.select((pl.col("again_start") <= pl.col("end")).fill_null(value=False)).to_series()
    lost = lost.scatter(lost.arg_true(), ~came_back)
    stop = pl.when("_brake_lost").then("brake_off").otherwise("end") if basis == "command" else pl.col("end")
    return frame.with_columns(_brake_lost=lost).with_columns(_stop=stop)


def _with_hold(
    frame: pl.DataFrame, states: States, command: str, basis: str, p: EndingParameters, step_s: float
) -> pl.DataFrame:
    """Adds whether the operator still held the command when the motor stopped, and whether that is doubtful.

    Adds also `_regripped`: whether letting go is doubtful, since the command was back about as soon as a hand can.
    """
    never = pl.lit(value=False)
    if basis == "command":
        return frame.with_columns(
            _known=~never, _held=pl.col("_brake_lost"), _doubtful=never, _cut="_stop", _regripped=never
        )
    uncertainty_s = 2 * step_s
    over = seconds("held_end", "end")
    again = (seconds("held_start", "start") > step_s) & (seconds("end", "held_start") < p.explained_within_s)
    # what opens and closes faster than a hand is a contact: the hand held the button all the time
    by_hand = again & ~(pl.col("held_dip_before") + uncertainty_s < p.regrip_s).fill_null(value=False)
    # a step that is coarser than a hand cannot tell a drop-out from a release just after it
    doubtful = (over >= step_s) & (over <= uncertainty_s) if uncertainty_s > p.hand_s else never
    known = pl.col("_linked") & pl.col("held_end").is_not_null() & (pl.col("held_end_seen") | (over > uncertainty_s))
    held = ((over > uncertainty_s) | doubtful) & ~by_hand
    if not states.has(command):
        # only the brake can tell then: it never falls before the contactor opens, unless something else let it fall
        known, doubtful, held = (pl.col("_brake_lost"),) * 3
    dip = pl.when(by_hand).then("held_dip_before").otherwise("held_dip_after")
    return frame.with_columns(
        _known=known.fill_null(value=False),
        _held=held.fill_null(value=False),
        _doubtful=doubtful.fill_null(value=False),
        _cut=pl.min_horizontal(pl.coalesce("held_end", "end"), "end"),
        _regripped=(dip - uncertainty_s < p.regrip_s).fill_null(value=False),
    )


def with_dips(commands: pl.DataFrame) -> pl.DataFrame:
    """Adds to each command how long it was off before and after (`dip_before`, `dip_after`) [s]; null: not known."""
    here = pl.col("segment") == pl.col("segment").shift(1)
    off = pl.when(here & pl.col("start_seen") & pl.col("end_seen").shift(1)).then(
        seconds("start", pl.col("end").shift(1))
    )
    return commands.with_columns(dip_before=off).with_columns(dip_after=pl.col("dip_before").shift(-1))


def _devices(states: States, motion: str, direction: str) -> dict[str, pl.DataFrame]:
    """Intervals in which a device stops the motion, by ending."""
    limit_signals = [f"{motion}.{direction}.limit"] + (["rope.slack"] if direction == "lower" else [])
    return {
        "emergency_stop": states.on("stop.emergency"),
        "supply": pl.concat([states.off("supply.control"), states.on("supply.phase_fault")]).sort("start"),
        "limit": states.on(*limit_signals),
        "motor_hot": states.on(f"{motion}.motor.hot"),
        "overload": states.on(*(("overload.trip", "overload.fault") if direction == "raise" else ())),
    }


def _explained(
    frame: pl.DataFrame, reason: str, devices: pl.DataFrame, p: EndingParameters, step_s: float
) -> pl.DataFrame:
    """Sets `_by_REASON`: the device operated shortly before the stop and no later than the command's end.

    Sets `_on_REASON`: it operated during the run, at whatever time, and was still on at the stop: a contactor that hung
    on would open so.
    Both to within the uncertainty of a difference of two stamps, two log steps.
    """
    if devices.is_empty():
        return frame
    step = pl.duration(microseconds=round(2 * step_s * 1e6))
    frame = latest(frame, pl.col("_stop") + step, devices, "device", ("start", "end"))
    recent = seconds("_stop", "device_start") <= p.explained_within_s + 2 * step_s
    on = pl.col("device_end") >= pl.col("_stop")
    still_on = (pl.col("basis") == "command") & on
    in_time = pl.col("device_start") <= pl.col("_cut") + step
    during = pl.col("device_start") >= pl.col("start") - step
    because = (during & in_time & (recent | still_on)).fill_null(value=False).alias(f"_by_{reason}")
    hung = (during & in_time & on).fill_null(value=False).alias(f"_on_{reason}")
    return frame.with_columns(because, hung).drop("device_start", "device_end")


def _reversed(frame: pl.DataFrame, opposite: pl.DataFrame, step_s: float) -> pl.DataFrame:
    """Adds `_reversed`: the opposite command came no later than one step after the run's end."""
    step = pl.duration(microseconds=round(step_s * 1e6))
    frame = latest(frame, pl.col("end") + step, opposite, "opposite", ("start", "end"))
    at_once = (pl.col("opposite_start") >= pl.col("_cut") - step) & (pl.col("opposite_start") > pl.col("start"))
    pressed_against = pl.col("_held") & (pl.col("opposite_end") >= pl.col("end"))
    return frame.with_columns(
        _reversed=((at_once | pressed_against) & (pl.col("opposite_start") > pl.col("start"))).fill_null(value=False)
    )


def _ending() -> pl.Expr:
    """The first reason that holds, in the order of the module's docstring."""
    chain: Any = pl.when(~pl.col("end_seen")).then(pl.lit("unknown")).when("_by_common").then(pl.lit("supply"))
    for reason in _DEVICES:
        chain = chain.when(pl.col(f"_by_{reason}")).then(pl.lit(reason))
    expression: pl.Expr = (
        chain.when(~pl.col("_known"))
        .then(pl.lit("unknown"))
        .when("_reversed")
        .then(pl.lit("reversed"))
        .when("_held")
        .then(pl.lit("dropped_out"))
        .otherwise(pl.lit("let_go"))
    )
    return expression


def _with_certainty(
    frame: pl.DataFrame, states: States, motion: str, direction: str, p: EndingParameters, step_s: float
) -> pl.DataFrame:
    """Adds `ending_certain`: a drop-out needs every device known to be off, or ruled out by what came next.

    One that operated during the run and is still on leaves it open: it may have cut the run, and the contactor hung on.
    A confirmation that went before the contactor opened rules out all of them: a device opens the contactor first. A
    step coarser than a hand may hide a release between two records and settles nothing else.
    """
    here = pl.col("segment").shift(-1) == pl.col("segment")
    frame = frame.with_columns(_next_start=pl.when(here).then(pl.col("start").shift(-1)))
    held = frame["ending"] == "dropped_out"
    dropped = frame.filter(held)
    quiet = settled(
        dropped,
        pl.col("_stop"),
        pl.col("_next_start"),
        states,
        motion,
        direction,
        same_way_again_s=p.same_way_again_s,
        stop_reset_s=p.stop_reset_s,
    )
    lost_first = (pl.col("_brake_lost") & (seconds("_stop", "brake_off") > 2 * step_s)).fill_null(value=False)
    # a button that was let go and pressed again between two records looks held; the motor starts again at once then
    again = (seconds("_next_start", "_stop") <= AGAIN_S + 2 * step_s).fill_null(value=False)
    shown = pl.lit(step_s <= p.hand_s) & (pl.lit(4 * step_s <= p.hand_s) | ~again)
    seen = shown & pl.lit(quiet)
    hung = pl.any_horizontal(f"_on_{reason}" for reason in _DEVICES)
    sure = dropped.select(((seen & ~hung) | lost_first) & ~pl.col("_doubtful")).to_series()
    settles = (~held).scatter(held.arg_true(), sure)
    hazy = (pl.col("ending") == "let_go") & pl.col("_regripped")
    return frame.with_columns(
        ending_certain=pl.lit(settles) & ~hazy & ~(pl.col("_by_common") & ~pl.col("_by_sure_common"))
    )
