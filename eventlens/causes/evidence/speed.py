"""The change to fast: at once, too early, scattered, never, or lost again."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import polars as pl

from eventlens import signals
from eventlens.causes.complaints import Complaint
from eventlens.causes.evidence._presence import SELDOM, SOME, presence
from eventlens.causes.signs import ABSENT, PRESENT, Sign, lines
from eventlens.causes.subject import inside
from eventlens.motion.near import seconds

SCATTER: Final = 0.3
"""A timer keeps its time to a few per cent; from this share of the median on (tenth to ninth tenth) it scatters."""
LEAST_S: Final = 0.15
"""A shorter delay is none, and does not scatter [s] (common practice: contactors alone take up to 0.1 s)."""
LOST_S: Final = 0.2
"""Fast that goes for so long under a held fast command is lost [s] (judgement)."""


def signs(complaint: Complaint) -> Iterator[Sign]:
    """What the log says of the speed changes of the complaint's motion."""
    motion = complaint.motion
    if motion is None or f"{motion}.fast.contactor" not in complaint.subject.carried:
        return
    yield from presence(complaint, "fast_at_once", ["speed_change_missing"])
    yield from presence(complaint, "fast_early", ["speed_change_short"])
    yield from presence(complaint, "fast_never", ["fast_not_reached"])
    # these are the same for all complaints of the motion
    yield from complaint.subject.once(
        f"changes to fast of {motion}", lambda _: (*_scattered(complaint), *_lost(complaint))
    )


def _scattered(complaint: Complaint) -> Iterator[Sign]:
    """The delay scatters, or steps: changes that the operator asked for late say nothing of the timer."""
    delays = complaint.subject.runs_of(complaint.motion)["speed_change_delay_s"]
    delays = delays.filter(delays > 0).sort()
    if delays.len() < 10:
        return
    low, middle, high = (float(delays.quantile(q) or 0.0) for q in (0.1, 0.5, 0.9))
    wide = middle > LEAST_S and (middle - low) / middle > SCATTER
    text = f"slow to fast in {low:.2f} to {high:.2f} s (middle {middle:.2f} s) of {delays.len()} changes"
    yield Sign("fast_scattered", 8.0 if wide else 0.3, text)


def _lost(complaint: Complaint) -> Iterator[Sign]:
    """Fast goes while fast is commanded and the motion runs on, and no slow-down limit asks for it."""
    subject, motion = complaint.subject, complaint.motion
    slowdowns = [f"{motion}.{way}.slowdown" for way in signals.MOTIONS[motion or "hoist"]]
    if subject.lacks([f"{motion}.fast.command", *slowdowns]):
        return
    runs = subject.runs_of(motion).select(run_start="start", run_end="end")
    asked = subject.on(f"{motion}.fast.command").select(asked_on="start", asked_off="end")
    gone = subject.off(f"{motion}.fast.contactor").filter(pl.col("start_seen"))
    slow = subject.on(*slowdowns).select("start", "end").sort("start")
    gone = gone.filter(~inside(gone.with_columns(at="start"), slow, 2 * subject.log.step_s, LOST_S)).sort("start")
    gone = gone.join_asof(runs, left_on="start", right_on="run_start", strategy="backward")
    gone = gone.join_asof(asked, left_on="start", right_on="asked_on", strategy="backward")
    until = pl.min_horizontal("end", "run_end", "asked_off")
    # with the direction's contactor fast goes too: that is a loss of the motion, and not of fast
    ways = [f"{motion}.{way}.contactor" for way in signals.MOTIONS[motion or "hoist"]]
    lost = gone.filter(seconds(until, pl.col("start")) > LOST_S)
    fell = subject.off(*ways).select("start", end="start")
    lost = lost.filter(~inside(lost.with_columns(at="start"), fell, LOST_S, LOST_S))
    tries = subject.on(f"{motion}.fast.contactor").height
    if tries:
        factor = ABSENT if lost.is_empty() else PRESENT if lost.height >= SOME else SELDOM
        yield Sign(
            "fast_lost", factor, f"fast lost under its command {lost.height} x of {tries}", lines(lost["start_row"])
        )
