"""The contactors, by their feedback: none, late, staying on, contradicted by the brake, both directions at once."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import polars as pl

from eventlens import signals
from eventlens.causes.complaints import LOSSES, Complaint
from eventlens.causes.evidence._presence import presence
from eventlens.causes.signs import ABSENT, Sign, excess_factor, lines, lines_behind, share_factor, tail
from eventlens.causes.subject import Subject, inside
from eventlens.motion.near import seconds

AFTER_REVERSAL_S: Final = 3.0
"""A refusal within so long of the other direction may be its interlock [s] (judgement)."""
CONTRADICTS_S: Final = 0.3
"""So much longer than a brake sets the confirmation must stay, under the command, to contradict the feedback [s]."""


def signs(complaint: Complaint) -> Iterator[Sign]:
    """What the log says of the contactors of the complaint's motion."""
    motion = complaint.motion
    if motion is None:
        return
    yield from _after_reversal(complaint)
    if not _reported(complaint):
        return
    yield from presence(complaint, "contactor_silent", ["no_start"])
    yield from presence(complaint, "contactor_chatter", ["chatter"], ends="contactor")
    yield from presence(complaint, "contactor_late", ["contactor_late"])
    yield from presence(complaint, "contactor_stays", ["contactor_stuck"])
    yield from presence(complaint, "both_directions_on", ["opposed_directions"])
    yield from _contradicted(complaint)


def _contradicted(complaint: Complaint) -> Iterator[Sign]:
    """The feedback goes, but the brake stays released under the held command: the feedback is wrong.

    A contactor that blinks for less than a brake needs to set contradicts nothing.
    """
    subject, motion = complaint.subject, complaint.motion
    if complaint.question.key not in LOSSES or f"{motion}.brake.released" not in subject.carried:
        return
    yield from subject.once(f"feedback against brake of {motion}", lambda own: tuple(_against_brake(own, motion)))


def _against_brake(subject: Subject, motion: str | None) -> Iterator[Sign]:
    """The same for all losses of the motion."""
    times = ("apply_time_s", "ending", "end", "brake_on", "brake_off", "command_off", "end_row")
    runs = subject.runs_of(motion).select(*times, again=pl.col("start").shift(-1))
    usual = runs["apply_time_s"].median()
    lost = runs.filter((pl.col("ending") == "dropped_out") & pl.col("brake_on").is_not_null())
    if lost.is_empty() or usual is None:
        return
    stays = pl.coalesce(seconds("brake_off", "end"), pl.lit(1e9))
    held = pl.min_horizontal(seconds("command_off", "end"), seconds("again", "end"), stays)
    against = lost.filter(held > float(usual) + CONTRADICTS_S)  # type: ignore[arg-type]
    text = f"in {against.height} of {lost.height} losses the brake stays released although the feedback is gone"
    factor = share_factor(against.height, lost.height, 0.03, 0.8)
    yield Sign("feedback_contradicts", factor, text, lines(against["end_row"]))


def _reported(complaint: Complaint) -> bool:
    """Whether the log carries a contactor of the complaint's motion."""
    motion = complaint.motion or "hoist"
    return any(f"{motion}.{way}.contactor" in complaint.subject.carried for way in signals.MOTIONS[motion])


def _after_reversal(complaint: Complaint) -> Iterator[Sign]:
    """Refusals soon after the other direction, against all presses that come so soon after it.

    Where contactors are not logged, a press without confirmation is a refusal, and the confirmed runs are the work.
    """
    subject, motion = complaint.subject, complaint.motion or "hoist"
    asked = {"no_start": "no_start"} if _reported(complaint) else {"no_release": "brake_not_confirmed"}
    if complaint.question.key not in asked:
        return
    refused = complaint.moments.filter(pl.col("pattern") == asked[complaint.question.key])
    hits = tries = pressed = near = 0
    for way in signals.MOTIONS[motion]:
        command = subject.on(f"{motion}.{way}.command").select(at="start")
        other = _driven(complaint, signals.opposite(motion, way))
        own = refused.filter(pl.col("direction") == way)
        pressed, tries = pressed + command.height, tries + own.height
        near += int(inside(command, other, 0.0, AFTER_REVERSAL_S).sum())
        hits += int(inside(own, other, 0.0, AFTER_REVERSAL_S).sum())
    if not tries or not pressed:
        return
    exposure = near / pressed
    within = f"within {AFTER_REVERSAL_S:g} s of the other direction"
    text = f"{hits} of {tries} refusals {within}, as {exposure:.0%} of all presses"
    factor = excess_factor(hits, tries, exposure) if 0 < exposure < 1 else ABSENT
    yield Sign("blocked_after_reversal", factor, text, lines_behind(refused), tail(hits, tries, exposure))


def _driven(complaint: Complaint, way: str) -> pl.DataFrame:
    """(start, end): when a direction was really driven, by its contactor or else by the confirmed runs."""
    if _reported(complaint):
        return complaint.subject.on(f"{complaint.motion}.{way}.contactor").select("start", "end")
    runs = complaint.subject.runs_of(complaint.motion).filter(pl.col("direction") == way)
    return runs.filter(pl.col("brake_on").is_not_null()).select("start", "end").sort("start")
