"""The truth: what happened, noted by the machine as it happens, from its hidden state and on its own exact time.

The recorder is told of each contact, button and device, together with what only the machine knows: which part opened
the contactor, whether a relay failed to make, whether a delay was skipped. Spans are those of the table of patterns.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import datetime, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Final, NamedTuple

import polars as pl

from eventlens import schema
from eventlens.signals import MOTIONS

JOG_LONGEST_S: Final = 1.0
JOG_PAUSE_S: Final = 2.0
JOGS_OF_A_BURST: Final = 3
HELD_LONG_ENOUGH_S: Final = 0.7
FAST_HELD_S: Final = 1.0
MISSING_S: Final = 0.10
SHORT_S: Final = 0.30
"""Three quarters of the usual 0.40 s."""
SNATCH_S: Final = 1.0
CHATTER_S: Final = 2.0
REPEAT_S: Final = 30.0
UNCONFIRMED_S: Final = 1.0
"""Running this long without confirmation is a fault even where the operator lets go before the controller gives up."""

PATTERNS: Final = (
    "jogging",
    "drop_out",
    "brake_not_confirmed",
    "no_start",
    "speed_change_missing",
    "speed_change_short",
    "fast_not_reached",
    "overload_trip",
    "overload_repeat",
    "overload_snatch",
    "starts_per_hour_high",
    "cyclic_duration_high",
    "log_hole",
    "clock_step",
    "brake_release_late",
    "brake_apply_late",
    "brake_confirmed_at_rest",
    "brake_confirmation_lost",
    "contactor_late",
    "contactor_stuck",
    "contactor_uncommanded",
    "opposed_directions",
    "reversal_without_pause",
    "chatter",
    "common_drop_out",
    "lost_function",
    "limit_as_stop",
    "emergency_stop_running",
    "motor_hot",
    "overload_device_fault",
    "run_too_long",
    "idle_too_long",
    "frozen_signal",
    "overload_no_trip",
)
"""Patterns for which the truth is known, in this order."""


class Span(NamedTuple):
    """One thing that happened, in seconds of the simulation."""

    pattern: str
    motion: str | None
    start: float
    end: float
    margin_s: float | None = None
    """How far the quantity that decides it is from its limit [s]; None where no limit decides."""


class _Motion:
    """What the recorder remembers of one motion."""

    def __init__(self) -> None:
        self.runs: list[tuple[str, float, float, str]] = []
        """Direction, start, end, reason of the end."""
        self.direction: str | None = None
        self.start = 0.0
        self.fast_seen = False
        self.confirmed = True
        """The brake's confirmation came in this run; motions without one count as confirmed."""
        self.fast_at: float | None = None
        self.jogs: list[tuple[float, float]] = []
        self.commands: dict[str, float] = {}
        self.refused: set[str] = set()
        """Directions whose relay failed to make under the present command."""
        self.fast_command: float | None = None
        self.fast_refused = False
        self.fast_given = False
        self.fast_waited = 0.0
        self.slowed_at: float | None = None
        self.opposed = False
        """The other direction was on too during this run."""
        self.beside: tuple[str, float] | None = None
        """Direction and start of a run that goes on although the other direction has closed too."""


class Recorder:
    """Notes what happens; `spans` is the truth so far."""

    def __init__(self) -> None:
        self.spans: list[Span] = []
        self._motions = {motion: _Motion() for motion in MOTIONS}
        self._trip: tuple[str, float, float | None] | None = None
        """Kind, first on, last off of the trip that chatter may still belong to."""
        self._margin: float | None = None
        """How far that trip is from the limit between the kinds [s]."""
        self._trips: list[float] = []
        """First on of each trip."""

    def runs(self, motion: str) -> list[tuple[str, float, float, str]]:
        """Finished runs of a motion: direction, start, end, reason of the end."""
        return self._motions[motion].runs

    def _note(self, pattern: str, motion: str | None, start: float, end: float, margin_s: float | None = None) -> None:
        self.spans.append(Span(pattern, motion, start, end, margin_s))

    # Runs

    def contactor_closed(self, motion: str, direction: str, now: float) -> None:
        """A directional contactor has closed: a run begins."""
        its = self._motions[motion]
        its.beside = None if its.direction is None else (its.direction, its.start)
        its.opposed = its.beside is not None
        its.direction, its.start, its.fast_seen = direction, now, False
        its.confirmed = motion != "hoist"
        its.slowed_at = None
        if its.fast_at is not None:  # the fast contactor was there before
            self._fast_begins(motion, its.fast_at)

    def brake_confirmed(self, motion: str) -> None:
        """The confirmation is there while the motion runs."""
        self._motions[motion].confirmed = True

    def contactor_opened(self, motion: str, direction: str, now: float, reason: str, held: bool) -> None:
        """It has opened, and why; `held`: its button is still pressed."""
        its = self._motions[motion]
        if its.beside is not None and its.beside[0] == direction:
            its.runs.append((*its.beside, now, reason))
            self._chain_jogs(motion, its, its.beside[1], now, "opposed")
            its.beside = None
            return
        self._wait_for_fast(its, now)
        its.direction = None
        reason = "let_go" if reason == "relay" and not held else reason
        its.runs.append((direction, its.start, now, reason))
        if reason in ("relay", "feedback_lost", "brake_lost"):
            self._note("drop_out", motion, its.start, now)
        elif reason == "brake_not_confirmed":
            self._note("brake_not_confirmed", motion, its.start, now)
        elif reason == "let_go" and not its.confirmed and now - its.start >= UNCONFIRMED_S:
            self._note("brake_not_confirmed", motion, its.start, now, now - its.start - UNCONFIRMED_S)
        self._chain_jogs(motion, its, its.start, now, "opposed" if its.opposed else reason)
        if its.beside is not None:  # the one that had closed before is on still
            (its.direction, its.start), its.beside = its.beside, None

    def _chain_jogs(self, motion: str, its: _Motion, start: float, end: float, reason: str) -> None:
        jog = reason == "let_go" and end - start < JOG_LONGEST_S
        if its.jogs and not (jog and start - its.jogs[-1][1] < JOG_PAUSE_S):
            self._close_burst(motion, its)
        if jog:
            its.jogs.append((start, end))

    def _close_burst(self, motion: str, its: _Motion) -> None:
        if len(its.jogs) >= JOGS_OF_A_BURST:
            lengths = [JOG_LONGEST_S - (end - start) for start, end in its.jogs]
            pauses = [JOG_PAUSE_S - (b[0] - a[1]) for a, b in pairwise(its.jogs)]
            self._note("jogging", motion, its.jogs[0][0], its.jogs[-1][1], min(lengths + pauses))
        its.jogs = []

    # Speed change

    def fast_closed(self, motion: str, now: float) -> None:
        """The fast contactor has closed."""
        its = self._motions[motion]
        its.fast_at, its.fast_given = now, True
        if its.direction is not None:
            self._fast_begins(motion, now)

    def fast_opened(self, motion: str) -> None:
        """It has opened."""
        self._motions[motion].fast_at = None

    def _fast_begins(self, motion: str, at: float) -> None:
        its = self._motions[motion]
        if its.fast_seen:
            return
        its.fast_seen = True
        delay = at - its.start
        if delay < SHORT_S:
            pattern = "speed_change_missing" if delay <= MISSING_S else "speed_change_short"
            margin = min(abs(delay - MISSING_S), SHORT_S - delay)
            self._note(pattern, motion, min(its.start, at), max(its.start, at), margin)

    def fast_failed(self, motion: str) -> None:
        """The fast output was given and its contactor does not pull in."""
        self._motions[motion].fast_refused = True

    def slowed(self, motion: str, direction: str, now: float) -> None:
        """A slow-down limit in the direction of the run was reached."""
        its = self._motions[motion]
        if its.direction == direction and its.slowed_at is None:
            its.slowed_at = now

    def _wait_for_fast(self, its: _Motion, now: float) -> None:
        if its.fast_command is None or its.direction is None:
            return
        end = now if its.slowed_at is None else min(now, its.slowed_at)
        its.fast_waited = max(its.fast_waited, end - max(its.fast_command, its.start))

    # Buttons

    def command(self, motion: str, kind: str, on: bool, now: float) -> None:
        """A button of a motion was pressed or released; kind is a direction or "fast"."""
        its = self._motions[motion]
        if kind == "fast":
            self._fast_command(motion, its, on, now)
        elif on:
            its.commands[kind] = now
            its.refused.discard(kind)
        elif (pressed := its.commands.pop(kind, None)) is not None:
            if kind in its.refused and now - pressed >= HELD_LONG_ENOUGH_S:
                self._note("no_start", motion, pressed, now, now - pressed - HELD_LONG_ENOUGH_S)
            if kind == "raise" and (left := self._time_left_to_repeat(pressed)) is not None:
                self._note("overload_repeat", "hoist", pressed, now, left)

    def relay_failed(self, motion: str, direction: str) -> None:
        """The output of a direction was given and its relay does not make."""
        self._motions[motion].refused.add(direction)

    def _fast_command(self, motion: str, its: _Motion, on: bool, now: float) -> None:
        if on:
            its.fast_command, its.fast_waited = now, 0.0
            its.fast_refused, its.fast_given = False, its.fast_at is not None
            return
        if its.fast_command is None:
            return
        self._wait_for_fast(its, now)
        if its.fast_refused and not its.fast_given and its.fast_waited >= FAST_HELD_S:
            self._note("fast_not_reached", motion, its.fast_command, now, its.fast_waited - FAST_HELD_S)
        its.fast_command = None

    # Overload

    def trip(self, on: bool, now: float) -> None:
        """The overload device cuts, or releases, the lifting motion."""
        if not on:
            if self._trip is not None:
                self._trip = (self._trip[0], self._trip[1], now)
            return
        if self._trip is not None and self._trip[2] is not None and now - self._trip[2] < CHATTER_S:
            self._trip = (self._trip[0], self._trip[1], None)
            return
        self._close_trip()
        hoist = self._motions["hoist"]
        early = hoist.direction == "raise" and now - hoist.start <= SNATCH_S
        self._margin = abs(now - hoist.start - SNATCH_S) if hoist.direction == "raise" else None
        self._trip = ("overload_snatch" if early else "overload_trip", now, None)
        self._trips.append(now)

    def _close_trip(self) -> None:
        if self._trip is not None and self._trip[2] is not None:
            self._note(self._trip[0], "hoist", self._trip[1], self._trip[2], self._margin)
        self._trip = None

    def _time_left_to_repeat(self, pressed: float) -> float | None:
        """What is left of the 30 s since the last trip before this press; None if over, or if it was lowered since."""
        before = [trip for trip in self._trips[-4:] if trip < pressed]
        if not before or pressed - before[-1] > REPEAT_S:
            return None
        hoist = self._motions["hoist"]
        lowered = any(
            direction == "lower" and end > before[-1] and start < pressed
            for direction, start, end, _ in hoist.runs[-6:]
        )
        if lowered or (hoist.direction == "lower" and hoist.start < pressed):
            return None
        return REPEAT_S - (pressed - before[-1])

    # The end

    def finish(self) -> None:
        """Nothing more will happen."""
        for motion, its in self._motions.items():
            self._close_burst(motion, its)
        self._close_trip()


def as_frame(spans: Sequence[Span], start: datetime) -> pl.DataFrame:
    """Spans as a frame, sorted: pattern, motion (null: the log), start, end [UTC, microseconds], margin_s."""
    rows = sorted(spans, key=lambda span: (span.pattern, span.motion or "", span.start, span.end))
    return pl.DataFrame(
        {
            "pattern": [span.pattern for span in rows],
            "motion": [span.motion for span in rows],
            "start": [start + timedelta(microseconds=round(span.start * 1e6)) for span in rows],
            "end": [start + timedelta(microseconds=round(span.end * 1e6)) for span in rows],
            "margin_s": [span.margin_s for span in rows],
        },
        schema={
            "pattern": pl.String,
            "motion": schema.MOTION,
            "start": schema.TIME,
            "end": schema.TIME,
            "margin_s": pl.Float64,
        },
    )


def write(truth: pl.DataFrame, path: Path) -> Path:
    """The truth as JSON: a list of {pattern, motion, start, end}, times in UTC to the microsecond."""
    shown = truth.select(
        "pattern", pl.col("motion").cast(str), pl.col("start", "end").dt.strftime("%Y-%m-%dT%H:%M:%S%.6fZ")
    )
    lines = [json.dumps(row) for row in shown.iter_rows(named=True)]
    path.write_text("[\n" + ",\n".join(lines) + "\n]\n", "utf-8", newline="\n")
    return path
