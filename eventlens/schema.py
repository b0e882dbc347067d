"""THE tables: name, columns, dtypes, units and sort order, each written once and checked at each border.

Times are microseconds in UTC. `row` is the line of the log: for one file its physical line number (a Parquet file:
the row, from 1); for several files the lines run on as if the later files' data had been appended to the first.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import polars as pl

from eventlens import signals

TIME: Final = pl.Datetime("us", "UTC")
SIGNAL: Final = pl.Enum(signals.ALL)
MOTION: Final = pl.Enum(tuple(signals.MOTIONS))
DIRECTION: Final = pl.Enum(signals.DIRECTIONS)
ROW: Final = pl.UInt32

ENDINGS: Final = (
    "let_go",
    "limit",
    "overload",
    "emergency_stop",
    "motor_hot",
    "supply",
    "reversed",
    "dropped_out",
    "unknown",
)
ENDING: Final = pl.Enum(ENDINGS)
CERTAINTIES: Final = ("certain", "possible")
CERTAINTY: Final = pl.Enum(CERTAINTIES)
SEVERITIES: Final = ("out_of_service", "repair", "watch", "note")
SEVERITY: Final = pl.Enum(SEVERITIES)
NOT_ASSESSED_WHY: Final = ("missing_signal", "missing_setting", "not_resolvable", "too_little_log")


class SchemaError(AssertionError):
    """A stage handed over a table that is not as written here: a fault of the program, never of a log."""


@dataclass(frozen=True)
class Column:
    """One column: dtype, and what it means with its unit."""

    dtype: pl.DataType
    meaning: str
    nullable: bool = False


@dataclass(frozen=True)
class Table:
    """One table: its columns in order and the columns it is sorted by."""

    name: str
    columns: dict[str, Column]
    sort: tuple[str, ...] = ()

    @cached_property
    def schema(self) -> pl.Schema:
        return pl.Schema({name: column.dtype for name, column in self.columns.items()})

    @cached_property
    def _blank(self) -> pl.DataFrame:
        return self.schema.to_frame()

    def empty(self) -> pl.DataFrame:
        """The table without rows."""
        return self._blank.clear()  # making one from its dtypes takes a hundred times as long

    def check(self, frame: pl.DataFrame) -> pl.DataFrame:
        """The frame itself, if it has exactly these columns and no null where none may be; else SchemaError."""
        if frame.schema != self.schema:
            want, got = dict(self.schema), dict(frame.schema)
            differ = {k: (want.get(k), got.get(k)) for k in {*want, *got} if want.get(k) != got.get(k)}
            raise SchemaError(f"table {self.name}: wanted/got {differ or 'another order of columns'}")
        for name, column in self.columns.items():
            if not column.nullable and frame[name].null_count():
                raise SchemaError(f"table {self.name}: column {name} holds nulls")
        return frame


EVENTS: Final = Table(
    "events",
    {
        "time": Column(TIME, "instant of the record"),
        "signal": Column(SIGNAL, "which signal"),
        "value": Column(pl.Float64(), "1 on, 0 off, or the measured number in the signal's unit; null unknown", True),
        "row": Column(ROW(), "line of the log"),
        "segment": Column(pl.UInt32(), "number of the unbroken stretch of log, from 0"),
    },
    sort=("segment", "time"),  # ties keep the order of the file
)

SEGMENTS: Final = Table(
    "segments",
    {
        "segment": Column(pl.UInt32(), "number, from 0"),
        "start": Column(TIME, "first record of the stretch"),
        "end": Column(TIME, "last record of the stretch"),
        "rows": Column(pl.UInt32(), "records in it, mapped or not"),
    },
    sort=("segment",),
)

HOLES: Final = Table(
    "holes",
    {
        "start": Column(TIME, "last record before the hole"),
        "end": Column(TIME, "first record after it"),
        "why": Column(pl.String(), "how it was recognised: 'silence' against the log's rhythm, or 'restart'"),
        "rows": Column(pl.List(ROW), "the lines on either side"),
        "limit_s": Column(pl.Float64(), "longest silence that the rhythm around it allows [s]; null: a restart", True),
    },
    sort=("start",),
)

CLOCK_STEPS: Final = Table(
    "clock_steps",
    {
        "at": Column(TIME, "last instant before the step, by the old clock"),
        "seconds": Column(pl.Float64(), "difference of the stamps on either side [s]; negative: set back"),
        "rows": Column(pl.List(ROW), "the lines on either side"),
        "why": Column(pl.String(), "how it was recognised"),
    },
)

NAMES: Final = Table(
    "names",
    {
        "name": Column(pl.String(), "the dump's own name (column, tag or word.bit)"),
        "signal": Column(SIGNAL, "what it is mapped to", True),
        "rows": Column(pl.UInt32(), "records that carry it"),
        "edges": Column(pl.UInt32(), "changes of state (or of value)"),
        "repeated": Column(pl.UInt32(), "records that repeat the state before (on after on, off after off)"),
        "mapped_by": Column(pl.String(), "'profile', 'name' (a signal's own name), 'proposed' or 'unmapped'"),
    },
    sort=("name",),
)

REJECTED: Final = Table(
    "rejected",
    {
        "row": Column(ROW(), "line of the log"),
        "reason": Column(pl.String(), "why it was set aside, one of a few fixed texts"),
        "text": Column(pl.String(), "what stood there, cut to 200 characters"),
    },
    sort=("row",),
)

STATES: Final = Table(
    "states",
    {
        "signal": Column(SIGNAL, "a signal that is on or off"),
        "on": Column(pl.Boolean(), "state"),
        "start": Column(TIME, "from"),
        "end": Column(TIME, "to: the change, or the last instant for which the state is proven"),
        "start_seen": Column(pl.Boolean(), "the change into this state is in the log"),
        "end_seen": Column(pl.Boolean(), "the change out of it is in the log"),
        "start_row": Column(ROW(), "line of the first record of the state"),
        "end_row": Column(ROW(), "line of the record that ended it (if seen, else its own last line)"),
        "segment": Column(pl.UInt32(), "stretch of log"),
    },
    sort=("signal", "segment", "start"),
)
"""Known states. Time that no interval of a signal covers is unknown for that signal."""

RUNS: Final = Table(
    "runs",
    {
        "run": Column(pl.UInt32(), "number within the review, from 0"),
        "motion": Column(MOTION, "motion"),
        "direction": Column(DIRECTION, "direction"),
        "start": Column(TIME, "contactor closes (command on, where no contactor is logged)"),
        "end": Column(TIME, "contactor opens; last proven instant where that was not seen"),
        "duration_s": Column(pl.Float64(), "end - start [s]; a lower bound where censored"),
        "start_seen": Column(pl.Boolean(), "the beginning is in the log: it counts as a start"),
        "end_seen": Column(pl.Boolean(), "the end is in the log"),
        "basis": Column(pl.Enum(("contactor", "command")), "what the run was read from"),
        "command_on": Column(TIME, "command that called it", True),
        "command_off": Column(TIME, "end of that command", True),
        "contactor_delay_s": Column(pl.Float64(), "command -> contactor [s]; first run of a command only", True),
        "brake_on": Column(TIME, "brake confirms released", True),
        "brake_off": Column(TIME, "confirmation gone again: after the end, or lost before it", True),
        "release_time_s": Column(pl.Float64(), "start -> brake released [s]", True),
        "apply_time_s": Column(pl.Float64(), "end -> brake applied [s]", True),
        "fast_on": Column(TIME, "first fast output of the run", True),
        "speed_change_delay_s": Column(pl.Float64(), "start -> fast output [s]; not above 0: no slow first", True),
        "fast_s": Column(pl.Float64(), "time in fast [s]", True),
        "pause_s": Column(pl.Float64(), "since the end of the motion's run before [s]", True),
        "reversed": Column(pl.Boolean(), "the run before went the other way", True),
        "load_kg": Column(pl.Float64(), "highest load measured during the run [kg]", True),
        "ending": Column(ENDING, "how it ended"),
        "ending_certain": Column(pl.Boolean(), "false where the log step leaves another ending open"),
        "start_row": Column(ROW(), "line of the beginning"),
        "end_row": Column(ROW(), "line of the end"),
        "command_on_row": Column(ROW(), "line of command_on", True),
        "command_off_row": Column(ROW(), "line of command_off", True),
        "brake_on_row": Column(ROW(), "line of brake_on", True),
        "brake_off_row": Column(ROW(), "line of brake_off", True),
        "fast_on_row": Column(ROW(), "line of fast_on", True),
        "segment": Column(pl.UInt32(), "stretch of log"),
    },
    sort=("segment", "start", "motion"),
)

OCCURRENCES: Final = Table(
    "occurrences",
    {
        "pattern": Column(pl.String(), "which pattern"),
        "motion": Column(MOTION, "motion, where it belongs to one", True),
        "signal": Column(SIGNAL, "signal, where it is about one", True),
        "start": Column(TIME, "from"),
        "end": Column(TIME, "to"),
        "certainty": Column(CERTAINTY, "certain, or possible where the limit lies within the log's uncertainty"),
        "measured": Column(pl.Float64(), "the quantity that was held against the limit", True),
        "limit": Column(pl.Float64(), "the limit", True),
        "direction": Column(DIRECTION, "direction, where it has one", True),
        "rows": Column(pl.List(ROW), "lines of the log that prove it"),
    },
    sort=("pattern", "motion", "signal", "start"),
)

FINDINGS: Final = Table(
    "findings",
    {
        "pattern": Column(pl.String(), "which pattern"),
        "motion": Column(MOTION, "motion", True),
        "signal": Column(SIGNAL, "signal", True),
        "severity": Column(SEVERITY, "what it asks for"),
        "certainty": Column(CERTAINTY, "certain if at least one occurrence is"),
        "count": Column(pl.UInt32(), "occurrences"),
        "certain_count": Column(pl.UInt32(), "of these certain"),
        "first": Column(TIME, "start of the first"),
        "last": Column(TIME, "start of the last"),
        "rate_per_hour": Column(pl.Float64(), "count per observed hour", True),
        "rate_low": Column(pl.Float64(), "exact 95 % limit", True),
        "rate_high": Column(pl.Float64(), "exact 95 % limit", True),
        "summary": Column(pl.String(), "one sentence"),
    },
    sort=("severity", "pattern", "motion", "signal"),
)

NOT_ASSESSED: Final = Table(
    "not_assessed",
    {
        "pattern": Column(pl.String(), "which pattern"),
        "motion": Column(MOTION, "motion", True),
        "why": Column(pl.Enum(NOT_ASSESSED_WHY), "reason"),
        "needs": Column(pl.List(pl.String()), "signals, settings or resolution that would allow it"),
    },
    sort=("pattern", "motion"),
)

VERDICTS: Final = ("gone", "less", "not_shown", "worse")
COMPARISON: Final = Table(
    "comparison",
    {
        "pattern": Column(pl.String(), "which pattern"),
        "motion": Column(MOTION, "motion", True),
        "signal": Column(SIGNAL, "signal", True),
        "severity": Column(SEVERITY, "what its finding asks for, the worse of both sides"),
        "exposure": Column(pl.String(), "what it is counted against (patterns.EXPOSURES)"),
        "before_count": Column(pl.UInt32(), "occurrences before"),
        "before_exposure": Column(pl.Float64(), "use before, in the unit of the exposure"),
        "before_rate": Column(pl.Float64(), "count over exposure"),
        "after_count": Column(pl.UInt32(), "occurrences after"),
        "after_exposure": Column(pl.Float64(), "use after"),
        "after_rate": Column(pl.Float64(), "count over exposure; null: no use yet", True),
        "before_blocks": Column(pl.UInt32(), "blocks of time (limit burst_block_s) before that hold an occurrence"),
        "after_blocks": Column(pl.UInt32(), "such blocks after"),
        "spread": Column(pl.Float64(), "variance of the counts over their mean, 1 or more (statistics.bursts)"),
        "ratio": Column(pl.Float64(), "rate after over rate before; null: none before, or no use yet", True),
        "ratio_low": Column(pl.Float64(), "exact lower limit"),
        "ratio_high": Column(pl.Float64(), "exact upper limit; null: without bound", True),
        "p": Column(pl.Float64(), "two-sided p-value of equal rates"),
        "p_adjusted": Column(pl.Float64(), "the same for as many comparisons as were made (false discovery rate)"),
        "verdict": Column(pl.Enum(VERDICTS), "what the two sides show"),
        "smallest_change": Column(
            pl.Float64(), "ratio down to which a fall had to go to be shown; null: none can", True
        ),
        "watch_use": Column(pl.Float64(), "silent use after the repair that shows it gone; null: not silent", True),
        "watch_left": Column(pl.Float64(), "of that still to come, in the unit of the exposure", True),
        "watch_s": Column(pl.Float64(), "observed time for that at the present use [s]", True),
        "watch_days": Column(pl.Float64(), "working days for that at the present use", True),
    },
    sort=("verdict", "severity", "pattern", "motion", "signal"),
)
"""Each pattern before and after. Exposures are counts or hours."""

NOT_COMPARED: Final = Table(
    "not_compared",
    {
        "pattern": Column(pl.String(), "which pattern"),
        "motion": Column(MOTION, "motion", True),
        "signal": Column(SIGNAL, "signal", True),
        "side": Column(pl.Enum(("before", "after")), "the log that cannot tell"),
        "why": Column(pl.Enum((*NOT_ASSESSED_WHY, "no_use")), "reason"),
        "needs": Column(pl.List(pl.String()), "what would allow it"),
        "count": Column(pl.UInt32(), "occurrences on the other side"),
    },
    sort=("pattern", "motion", "signal", "side"),
)

TIMES_VERDICTS: Final = ("longer", "shorter", "not_shown")
TIMES: Final = Table(
    "times",
    {
        "motion": Column(MOTION, "motion"),
        "time": Column(pl.String(), "which measured time of a run (a column of runs)"),
        "before_n": Column(pl.UInt32(), "runs before"),
        "before_median_s": Column(pl.Float64(), "median [s]", True),
        "before_p95_s": Column(pl.Float64(), "95th percentile [s]", True),
        "before_slope_s_per_day": Column(pl.Float64(), "drift of the daily median [s/day]; null: too few days", True),
        "before_slope_low": Column(pl.Float64(), "its lower limit", True),
        "before_slope_high": Column(pl.Float64(), "its upper limit", True),
        "after_n": Column(pl.UInt32(), "runs after"),
        "after_median_s": Column(pl.Float64(), "median [s]", True),
        "after_p95_s": Column(pl.Float64(), "95th percentile [s]", True),
        "after_slope_s_per_day": Column(pl.Float64(), "drift of the daily median [s/day]; null: too few days", True),
        "after_slope_low": Column(pl.Float64(), "its lower limit", True),
        "after_slope_high": Column(pl.Float64(), "its upper limit", True),
        "shift_s": Column(pl.Float64(), "after less before, Hodges-Lehmann [s]; null: too few runs", True),
        "shift_low_s": Column(pl.Float64(), "its lower limit", True),
        "shift_high_s": Column(pl.Float64(), "its upper limit", True),
        "p": Column(pl.Float64(), "two-sided p-value (Mann-Whitney)", True),
        "p_adjusted": Column(pl.Float64(), "the same for as many times as were compared", True),
        "verdict": Column(pl.Enum(TIMES_VERDICTS), "which way they moved, by a log step at least"),
    },
    sort=("motion", "time"),
)
"""Measured times of runs before and after."""

MOVED_VERDICTS: Final = ("moved_with_part", "stayed_with_place", "cannot_tell")
MOVED: Final = Table(
    "moved",
    {
        "first": Column(pl.String(), "one place"),
        "second": Column(pl.String(), "the other, with which the part was exchanged"),
        "pattern": Column(pl.String(), "which pattern"),
        "exposure": Column(pl.String(), "what it is counted against"),
        "first_before_count": Column(pl.UInt32(), "occurrences at the first place before"),
        "first_before_exposure": Column(pl.Float64(), "use there"),
        "first_after_count": Column(pl.UInt32(), "occurrences at the first place after"),
        "first_after_exposure": Column(pl.Float64(), "use there"),
        "second_before_count": Column(pl.UInt32(), "occurrences at the second place before"),
        "second_before_exposure": Column(pl.Float64(), "use there"),
        "second_after_count": Column(pl.UInt32(), "occurrences at the second place after"),
        "second_after_exposure": Column(pl.Float64(), "use there"),
        "p_stayed": Column(pl.Float64(), "p-value of: each place keeps its rate"),
        "p_moved": Column(pl.Float64(), "p-value of: the places exchange their rates"),
        "verdict": Column(pl.Enum(MOVED_VERDICTS), "what the two sides show"),
        "why": Column(pl.String(), "where it cannot be told: why not", True),
        "further_days": Column(pl.Float64(), "working days at the present use until it could be told", True),
        "further_s": Column(pl.Float64(), "observed time for that [s]", True),
        "further_first": Column(pl.Float64(), "use of the first place in them", True),
        "further_second": Column(pl.Float64(), "use of the second place in them", True),
    },
    sort=("first", "second", "pattern"),
)
"""Parts exchanged between two places: did the fault go with the part?"""

WEEKS: Final = Table(
    "weeks",
    {
        "machine": Column(pl.String(), "which machine"),
        "week": Column(pl.String(), "ISO week in the zone of the log, as 2026-W16"),
        "pattern": Column(pl.String(), "which pattern"),
        "motion": Column(MOTION, "motion; null: the machine as a whole", True),
        "exposure": Column(pl.String(), "what it is counted against (patterns.EXPOSURES)"),
        "amount": Column(pl.Float64(), "use in the week, in the unit of the exposure"),
        "count": Column(pl.UInt32(), "occurrences that began in the week"),
        "certain": Column(pl.UInt32(), "of these certain"),
        "most": Column(pl.UInt32(), "most of them within one block of time (limit burst_block_s)"),
        "variance": Column(pl.Float64(), "variance of the count as its blocks show it (statistics.bursts)"),
        "observed_h": Column(pl.Float64(), "observed hours in the week"),
        "running_h": Column(pl.Float64(), "running hours of the motion, or of the machine"),
        "starts": Column(pl.UInt32(), "its starts"),
        "lifts": Column(pl.Float64(), "lifts of the hoist; null: not known", True),
        "lack": Column(pl.String(), "why the pattern was assessed in part or not at all; null: in full", True),
    },
    sort=("machine", "pattern", "motion", "week"),
)
"""All that trends need of a week: a row for each pattern and motion that the log carries, also where it is silent."""

WEEK_TIMES: Final = Table(
    "week_times",
    {
        "machine": Column(pl.String(), "which machine"),
        "week": Column(pl.String(), "ISO week in the zone of the log"),
        "motion": Column(MOTION, "motion"),
        "time": Column(pl.String(), "which measured time of a run (a column of runs)"),
        "n": Column(pl.UInt32(), "runs with it"),
        "median_s": Column(pl.Float64(), "median [s]"),
        "step_s": Column(pl.Float64(), "log step [s]"),
    },
    sort=("machine", "motion", "time", "week"),
)

WEEK_LIFE: Final = Table(
    "week_life",
    {
        "machine": Column(pl.String(), "which machine"),
        "week": Column(pl.String(), "ISO week in the zone of the log"),
        "day": Column(pl.String(), "local day, as 2026-04-13"),
        "weekday": Column(pl.Int8(), "1 (Monday) to 7"),
        "observed": Column(pl.Float64(), "share of the day that was observed, 0 to 1"),
        "full_load_h": Column(pl.Float64(), "hours of full load of the hoist on it (life.period)"),
        "duration_h": Column(pl.Float64(), "hours of full load that its group lasts"),
        "stated_h": Column(pl.Float64(), "hours of full load before the log, as stated"),
        "stated_at": Column(TIME, "since when an entry says so; null: the machine file does", True),
        "until": Column(TIME, "end of the log that shows the day"),
        "how": Column(pl.String(), "where the load spectrum is from (life.spectrum)"),
        "source": Column(pl.String(), "of the hours that its group lasts, and of the recording factor"),
        "confidence": Column(pl.String(), "the least sure of these (duty.groups.CONFIDENCES)"),
    },
    sort=("machine", "day"),
)
"""Use of the safe working period day by day, for machines whose group and load spectrum are known."""

WEEK_WORK: Final = Table(
    "week_work",
    {
        "machine": Column(pl.String(), "which machine"),
        "week": Column(pl.String(), "ISO week in the zone of the log"),
        "day": Column(pl.String(), "local day on which they began, as 2026-04-13"),
        "subject": Column(pl.String(), "what: runs of a motion, as 'hoist runs', or 'work cycles'"),
        "length_s": Column(pl.Float64(), "length [s], rounded to a twentieth"),
        "starts": Column(pl.Float64(), "number of starts"),
        "fast": Column(pl.Float64(), "share of the running time in fast, in twentieths; null: not logged", True),
        "together": Column(pl.Float64(), "share in which another motion runs too, in twentieths"),
        "travel": Column(pl.Float64(), "share of the running time that is travel, in twentieths"),
        "load": Column(pl.Float64(), "highest load, rounded to a fiftieth or to two figures; null: not logged", True),
        "load_unit": Column(pl.String(), "share (of the rated load) or kg"),
        "direction": Column(DIRECTION, "of a run", True),
        "count": Column(pl.UInt32(), "so many whole runs or work cycles of the day are so"),
    },
    sort=("machine", "subject", "week", "day", "length_s", "starts", "fast", "together", "travel", "load", "direction"),
)
"""Runs and work cycles, those that are alike counted together: kinds of work of many weeks are found in it."""

KINDS: Final = Table(
    "kinds",
    {
        "subject": Column(pl.String(), "kinds of what: runs of a motion, as 'hoist runs', or 'work cycles'"),
        "count": Column(pl.UInt32(), "so many are of this kind"),
        "share": Column(pl.Float64(), "of all of the subject"),
        "length_s": Column(pl.Float64(), "median length [s]"),
        "length_low_s": Column(pl.Float64(), "10th percentile [s]"),
        "length_high_s": Column(pl.Float64(), "90th percentile [s]"),
        "starts": Column(pl.Float64(), "mean number of starts"),
        "fast": Column(pl.Float64(), "mean share of the running time in fast; null: not logged", True),
        "together": Column(pl.Float64(), "share in which another motion runs too"),
        "travel": Column(pl.Float64(), "share of the running time that is travel"),
        "load": Column(pl.Float64(), "median of the highest load; null: not logged", True),
        "load_unit": Column(pl.String(), "share (of the rated load) or kg", True),
        "direction": Column(DIRECTION, "that of four in five of them", True),
        "words": Column(pl.String(), "the same in words"),
    },
    sort=("subject",),
)
"""Kinds of work (duty.kinds)."""
