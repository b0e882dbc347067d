"""What evidence is read from: one reviewed log, and the moments at which something went wrong in it.

Times are instants as the controller's clock showed them. A moment belongs to a complaint: one question that a person
would ask of the machine ("why does the hoist stop by itself?"), with everything that was found about it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property
from threading import Lock
from typing import Any, Final, TypeVar

import polars as pl

from eventlens import schema, signals
from eventlens.duty.load import Load, load_of
from eventlens.machine import Machine
from eventlens.motion.kinds import of_motion
from eventlens.motion.spells import during
from eventlens.motion.states import by_signal
from eventlens.reading.log import Log

T = TypeVar("T")

MOMENTS: Final = {
    "pattern": pl.String(),
    "motion": schema.MOTION,
    "direction": schema.DIRECTION,
    "signal": schema.SIGNAL,
    "at": schema.TIME,
    "end": schema.TIME,
    "measured": pl.Float64(),
    "rows": pl.List(schema.ROW),
}
"""When something went wrong; direction: the run's, where the pattern has none of its own."""

TOGETHER_S: Final = 0.5
"""What comes so near to a common drop-out is a part of it [s] (judgement: contactors and inputs follow within it)."""
BRIEF_S: Final = 0.1
"""No thumb presses a button for so short a time, nor does a hook pass a limit [s] (judgement)."""
ENDS: Final = ("drop_out",)
"""Patterns that go wrong at the end of what they span; the others do at its start."""


@dataclass(frozen=True)
class Subject:
    """One reviewed log."""

    log: Log
    machine: Machine
    runs: pl.DataFrame
    """schema.RUNS."""
    states: pl.DataFrame
    """schema.STATES."""
    occurrences: pl.DataFrame
    """schema.OCCURRENCES."""
    not_assessed: pl.DataFrame
    """schema.NOT_ASSESSED."""
    shifts: tuple[str, ...]
    """Shifts by the local clock, as '06:00-14:00'."""
    work_done: tuple[datetime, ...] = ()
    """When work was done on the machine, as written down; empty: nothing is known of it."""
    _made: dict[str, Any] = field(default_factory=dict, repr=False, compare=False)
    _locks: dict[str, Lock] = field(default_factory=dict, repr=False, compare=False)

    def once(self, key: str, make: Callable[[Subject], T]) -> T:
        """What `make` finds in this log, found once for all that ask by the same key, in whatever thread."""
        with self._locks.setdefault(key, Lock()):
            if key not in self._made:
                self._made[key] = make(self)
            return self._made[key]  # type: ignore[no-any-return]

    @cached_property
    def carried(self) -> frozenset[str]:
        """The signals that the log carries."""
        return frozenset(self.log.signals())

    def on(self, *names: str) -> pl.DataFrame:
        """Known intervals in which any of the signals is on, by start (schema.STATES)."""
        return self._held(names, on=True)

    def off(self, *names: str) -> pl.DataFrame:
        """Known intervals in which any of the signals is off, by start (schema.STATES)."""
        return self._held(names, on=False)

    def _held(self, names: Iterable[str], *, on: bool) -> pl.DataFrame:
        wanted = [name for name in names if name in self.carried and name in signals.STATES]
        return self.once(f"{wanted} {on}", lambda own: own._picked(wanted, on=on)) if wanted else self.states.clear()

    def _picked(self, wanted: list[str], *, on: bool) -> pl.DataFrame:
        if len(wanted) > 1:  # what begins at one instant keeps the order of the signals
            in_order = sorted(wanted, key=signals.ALL.index)
            return _by_start(pl.concat([self._held([name], on=on) for name in in_order]))
        known = self.once("by signal", lambda own: by_signal(own.states)).get(wanted[0], self.states.clear())
        return _by_start(known.filter(known["on"] if on else ~known["on"]))

    def measured(self, name: str) -> pl.DataFrame:
        """(time, value, row) of a measured signal, by time; values that were not understood are left out."""
        if name not in self.carried:
            return schema.EVENTS.empty().select("time", "value", "row")
        events = self.log.events.filter(pl.col("signal") == pl.lit(name, schema.SIGNAL))
        return events.filter(pl.col("value").is_finite()).select("time", "value", "row").sort("time")

    def runs_of(self, motion: str | None) -> pl.DataFrame:
        """Runs of one motion (None: of all) by start."""
        return self.once(f"runs of {motion}", lambda own: own._runs_of(motion))

    def _runs_of(self, motion: str | None) -> pl.DataFrame:
        return _by_start(self.runs if motion is None else of_motion(self.runs, motion))

    def run_times(self, motion: str | None) -> pl.DataFrame:
        """(day, minute): when each of `runs_of` begins, as by `local_times`."""
        return self.once(f"times of {motion}", lambda own: own.local_times(own.runs_of(motion)["start"]))

    def local_times(self, instants: pl.Series) -> pl.DataFrame:
        """(day, minute) of instants by the local clock: calendar day, minute of the day."""
        local = instants.dt.convert_time_zone(self.log.timezone).dt.replace_time_zone(None)
        minute = local.dt.hour().cast(pl.Int32) * 60 + local.dt.minute()
        return pl.DataFrame({"day": local.dt.date(), "minute": minute})

    def found(self, patterns: Iterable[str], motion: str | None = None) -> pl.DataFrame:
        """Occurrences of patterns: of a motion and of the machine as a whole; motion None: all of them."""
        wanted = pl.col("pattern").is_in(list(patterns))
        own = pl.col("motion").is_null() | (pl.col("motion") == pl.lit(motion, schema.MOTION))
        return self.occurrences.filter(wanted & own if motion else wanted)

    def assessed(self, pattern: str, motion: str | None) -> bool:
        """Whether the log could show a pattern, on a motion if it belongs to one."""
        lacking = self.once("not assessed", lambda own: own.not_assessed.select("pattern", "motion").rows())
        return not any(name == pattern and (place is None or motion in {None, place}) for name, place in lacking)

    def moments(self, occurrences: pl.DataFrame) -> pl.DataFrame:
        """When each occurrence went wrong (MOMENTS), by time."""
        at = pl.when(pl.col("pattern").is_in(list(ENDS))).then("end").otherwise("start")
        frame = occurrences.select("pattern", "motion", "direction", "signal", "end", "measured", "rows", at=at)
        frame = frame.sort("at", maintain_order=True)
        return self._with_direction(frame).select(*MOMENTS)

    def _with_direction(self, moments: pl.DataFrame) -> pl.DataFrame:
        """Fills in the direction of the signal, or of the run at or before the moment."""
        named = pl.col("signal").cast(pl.String).str.split(".").list.get(1, null_on_oob=True)
        spoken = pl.when(named.is_in(list(signals.DIRECTIONS))).then(named).cast(schema.DIRECTION)
        parts = []
        for (motion,), part in moments.group_by("motion", maintain_order=True):
            runs = self.runs_of(str(motion) if motion else None).select("start", running="direction")
            joined = part.join_asof(runs, left_on="at", right_on="start", strategy="backward")
            parts.append(joined.with_columns(direction=pl.coalesce("direction", spoken, "running")))
        return pl.concat(parts).sort("at", maintain_order=True) if parts else moments

    def comings(self, signal: str) -> pl.DataFrame:
        """When a device came on (MOMENTS), by time."""
        came = self.on(signal).filter("start_seen")
        return came.select(
            pattern=pl.lit(""),
            motion=pl.lit(None, schema.MOTION),
            direction=pl.lit(None, schema.DIRECTION),
            signal=pl.lit(signal, schema.SIGNAL),
            at="start",
            end="end",
            measured=pl.lit(None, pl.Float64),
            rows=pl.concat_list("start_row"),
        ).pipe(self.alone)

    def alone(self, moments: pl.DataFrame, at: str = "at") -> pl.DataFrame:
        """Moments outside common drop-outs, by time: in one every signal falls, whatever it stands for."""
        common = self.found(["common_drop_out"]).select("start", "end").sort("start")
        by_time = moments.sort(at, maintain_order=True)
        return by_time.filter(~during(by_time, at, common, TOGETHER_S, TOGETHER_S))

    def off_in_runs(self, signal: str, motion: str | None) -> pl.DataFrame:
        """Intervals in which a signal went off (schema.STATES) within a run of the motion: also run_start, run_end."""
        return self.once(f"{signal} off in runs of {motion}", lambda own: own._off_in_runs(signal, motion))

    def _off_in_runs(self, signal: str, motion: str | None) -> pl.DataFrame:
        runs = self.runs_of(motion).select(run_start="start", run_end="end")
        off = self.off(signal).filter("start_seen")
        found = off.join_asof(runs, left_on="start", right_on="run_start", strategy="backward")
        return found.filter((pl.col("start") < pl.col("run_end")) & (pl.col("end") <= pl.col("run_end")))

    @cached_property
    def load(self) -> Load | None:
        """The load on the hook; None where it is not measured."""
        return load_of(self.log.events, self.log.segments, self.machine.machine.rated_load_kg)

    def with_run(self, moments: pl.DataFrame, motion: str) -> pl.DataFrame:
        """Moments of one motion with the run at or before each: run_* columns of its times, by time."""
        runs = self.runs_of(motion).select(
            "start",
            *(
                pl.col(name).alias(f"run_{name}")
                for name in ("start", "end", "brake_on", "brake_off", "command_off", "run")
            ),
        )
        return moments.sort("at").join_asof(runs, left_on="at", right_on="start", strategy="backward").drop("start")

    @cached_property
    def days(self) -> int:
        """Calendar days from the first to the last run."""
        if self.runs.is_empty():
            return 0
        first, last = self.runs["start"].min(), self.runs["start"].max()
        return int((last - first).days) + 1  # type: ignore[operator, union-attr]

    def local_day(self, column: str = "start") -> pl.Expr:
        """The calendar day of an instant by the local clock."""
        return pl.col(column).dt.convert_time_zone(self.log.timezone).dt.date()

    def lacks(self, names: Iterable[str]) -> tuple[str, ...]:
        """Which of the signals the log does not carry."""
        return tuple(name for name in names if name not in self.carried)


def _by_start(frame: pl.DataFrame) -> pl.DataFrame:
    """The frame in the order of its starts, which it is in but where the clock was set back."""
    return frame if frame["start"].is_sorted() else frame.sort("start", maintain_order=True)


def brief_spells(subject: Subject, names: Iterable[str]) -> pl.DataFrame:
    """Spells (schema.STATES) in which one of the signals is on for less than BRIEF_S, both ends seen, by start.

    Empty where the log's step does not resolve them.
    """
    on = subject.on(*names)
    if subject.log.step_s >= BRIEF_S / 2:
        return on.clear()
    length = (pl.col("end") - pl.col("start")).dt.total_microseconds() / 1e6
    return subject.alone(on.filter(pl.col("start_seen") & pl.col("end_seen") & (length < BRIEF_S)), "start")


def inside(moments: pl.DataFrame, spells: pl.DataFrame, before_s: float = 0.0, after_s: float = 0.0) -> pl.Series:
    """For each moment: it lies in a spell (start, end), widened by before_s and after_s [s]."""
    return during(moments, "at", spells, before_s, after_s)
