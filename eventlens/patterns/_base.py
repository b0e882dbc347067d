"""What a pattern is: parameters with their limits, the signals it needs, and a function that finds occurrences."""

from __future__ import annotations

import inspect
import math
import sys
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from threading import Lock
from types import MappingProxyType
from typing import Any, Final

import polars as pl

from eventlens import schema, signals
from eventlens.duty.load import Load
from eventlens.duty.shifts import Shifts
from eventlens.limits import HasLimits, Limit, configure, limits_of
from eventlens.machine import Machine
from eventlens.motion.endings import EndingParameters
from eventlens.motion.kinds import of_motion
from eventlens.motion.spells import touches
from eventlens.motion.states import States
from eventlens.spill import laid_down

FOUND = ("start", "end", "certainty", "measured", "limit", "direction", "rows")
"""What `find` returns for each occurrence (columns of schema.OCCURRENCES); `signal` may be added, and `motion` where a
pattern of the machine as a whole finds something of a motion."""


PAIRS_EXPECTED = 0.05
"""Of lost records so many pairs of one signal expected in the log are too many (common practice, no source)."""


SETTLES_S: Final = 1.0
"""So long after its end [s] most patterns know everything about an occurrence but all the lines that prove it: devices
explain an end within half of it (`motion.endings`), chatter and common drop-outs show (measured:
tests.benchmarks.settling)."""

EXPOSURES: Final = MappingProxyType(
    {
        "start": "starts",
        "running_h": "running hours",
        "fast_run": "runs in fast",
        "lift": "lifts",
        "try": "commands",
        "fast_try": "commands of fast",
        "observed_h": "observed hours",
    }
)
"""What faults are counted against, so that a calm week is no improvement: the use in which they had a chance to show.
Failures on demand count against demands, failures while running against running time (ISO 14224: from memory)."""


@dataclass(frozen=True)
class Context:
    """What patterns look at. All times are on the record's own axis (motion.axis)."""

    runs: pl.DataFrame
    """schema.RUNS."""
    chatter: pl.DataFrame
    """Signals that toggle faster than a hand can (motion.chatter.SCHEMA)."""
    common: pl.DataFrame
    """Common drop-outs (motion.common.SCHEMA)."""
    states: States
    measures: pl.DataFrame
    """Events of measured signals (schema.EVENTS), values that were not understood too."""
    load: Load | None
    """The load on the hook; None where it is not measured."""
    shifts: Shifts
    """When people begin to work."""
    holes: pl.DataFrame
    """(start, end, why, rows, limit_s): holes of the log (schema.HOLES)."""
    clock_steps: pl.DataFrame
    """(start, end, seconds, rows): steps of the clock, from the last record before to the first after."""
    machine: Machine
    carried: frozenset[str]
    """The signals that the log carries."""
    step_s: float
    """Log step [s]."""
    rhythm_s: float | None
    """Rhythm of the record [s], or None where silence proves nothing."""
    observed_s: float
    """Observed time [s]."""
    timezone: str = "UTC"
    """Zone of the local clock."""
    still: Mapping[Hashable, pl.DataFrame] = field(default_factory=dict)
    """Where this is the last part of a longer log: what stood still in that and still does (patterns._frozen)."""
    _made: dict[Hashable, pl.DataFrame] = field(default_factory=dict, repr=False)
    _locks: dict[Hashable, Lock] = field(default_factory=dict, repr=False)

    def once(self, key: Hashable, make: Callable[[], pl.DataFrame]) -> pl.DataFrame:
        """What `make` returns, made once for all patterns that ask by the same key, in whatever thread."""
        with self._locks.setdefault(key, Lock()):
            if key not in self._made:
                self._made[key] = laid_down(make(), self.states.frame.height)
            return self._made[key]

    def asked(self, what: str) -> dict[Hashable, pl.DataFrame]:
        """What was made so far under keys that begin with a word."""
        return {key: frame for key, frame in self._made.items() if isinstance(key, tuple) and key[0] == what}

    @property
    def uncertainty_s(self) -> float:
        """Bound of the error of a difference of two stamps [s]: two log steps (common practice)."""
        return 2 * self.step_s

    @property
    def lossy(self) -> bool:
        """Whether so many records are lost that pairs of them, which leave no trace, must be expected too."""
        return self.states.lost**2 > PAIRS_EXPECTED * max(self.states.frame.height, 1)

    @property
    def endings(self) -> EndingParameters:
        """The limits by which ends of runs were explained."""
        return configure(EndingParameters, self.machine.limits)

    def runs_of(self, motion: str) -> pl.DataFrame:
        """The runs of one motion, by start."""
        return self.once(("runs", motion), lambda: of_motion(self.runs, motion))

    def calm_runs(self, motion: str) -> pl.DataFrame:
        """The runs of one motion that are `undisturbed`, by start."""
        return self.once(("calm runs", motion), lambda: self.calm(self.runs_of(motion), motion))

    def undisturbed(self, frame: pl.DataFrame, motion: str | None) -> pl.Series:
        """For each row (start, end) of a motion: it neither begins nor ends in chatter or in a common drop-out.

        What does is a part of those, and no other pattern's. Chatter of the machine's own signals counts for each
        motion; motion None: chatter of those only.
        """
        own = pl.col("motion").is_null() | (pl.col("motion") == pl.lit(motion, schema.MOTION))
        u, after = self.uncertainty_s, self.endings.explained_within_s
        return ~(
            touches(frame, self.common, u, after + u)
            | touches(frame, self.chatter.filter(own.fill_null(value=False)), u, after + u)
        )

    def calm(self, frame: pl.DataFrame, motion: str | None) -> pl.DataFrame:
        """The rows of `frame` that are `undisturbed`; the frame itself where there is neither."""
        if frame.is_empty() or (self.common.is_empty() and self.chatter.is_empty()):
            return frame
        return frame.filter(self.undisturbed(frame, motion))


Find = Callable[[Context, str, Any], pl.DataFrame]


@dataclass(frozen=True)
class Pattern:
    """One pattern of the catalogue. Its text is the docstring of its module."""

    name: str
    title: str
    """Short name in words."""
    parameters: type[HasLimits]
    find: Find
    motions: tuple[str, ...]
    """Motions it is looked for on; empty: the machine as a whole."""
    needs: tuple[tuple[str, ...], ...]
    """Alternatives, each a set of signals that suffices; `{motion}` is the motion, `*` stands for either direction, `+`
    for both."""
    severity: str
    why_severity: str
    usually: str
    """What it usually comes from, in a few words."""
    unit: str
    """Unit of the measured value."""
    look_back_s: float
    """How far before its start an occurrence depends on the log [s]."""
    exposure: str
    """What its occurrences are counted against where two periods are compared: a key of EXPOSURES."""
    finest: tuple[str, ...] = ()
    """Names of the time limits that the log step must stay below for the pattern to be resolvable."""
    coarsest: Callable[[Any], float] = field(default=lambda parameters: math.inf)
    """The coarsest log step [s] that tells the healthy from the faulty, where that is finer than the limits. Above it
    only what is certain is reported, and the pattern counts as not resolvable."""
    blind_step_s: float = math.inf
    """Log step [s] from which on finding nothing says nothing, while what is found stays true."""
    least_log_s: float = 0.0
    """Observed time [s] below which finding nothing says nothing."""
    setting: Callable[[Machine, str, frozenset[str]], str | None] = field(default=lambda *_: None)
    """Names what the machine file must say for it and does not, on a motion and with the signals that the log carries;
    None when nothing is missing."""
    rhythm: bool = False
    """Whether it needs a record with a rhythm of its own."""
    too_short: Callable[[Context, str, Any], str | None] = field(default=lambda *_: None)
    """Says how much more log would allow a judgement, where finding nothing says nothing; else None."""
    describe: Callable[[Context, str, pl.DataFrame, Any], str] = field(default=lambda *_: "")
    """One more clause for the summary, from the occurrences; may be empty."""
    settles_s: float = SETTLES_S
    """How far after its end an occurrence depends on the log [s], but for the lines that prove it (those of its run's
    end come with that end); infinite where it weighs the whole log."""
    absence: bool = False
    """Whether it rests on records that are not there: only possible where the log loses records in pairs."""
    example: str = ""
    """A small log in which it happens once: first line the time of one character, as '0.1 s', then a line for each
    signal: its name and its states, '#' on, '.' off, '?' unknown."""

    @property
    def text(self) -> str:
        """The pattern's documentation."""
        module = sys.modules[self.find.__module__]
        return inspect.getdoc(module) or ""

    @property
    def meaning(self) -> str:
        """The first sentence of the documentation: what it is, in words of the trade."""
        return self.text.split("\n\n", 1)[0].replace("\n", " ")

    @property
    def limits(self) -> list[Limit]:
        """Its limits with default, unit, source and what they trade."""
        return limits_of(self.parameters)

    def configured(self, machine: Machine) -> Any:
        """Its parameters for this machine."""
        return configure(self.parameters, machine.limits)

    def missing(self, carried: Iterable[str], motion: str | None) -> tuple[str, ...]:
        """The signals that would make it assessable; empty if it is. Of several ways the one that lacks least."""
        have = set(carried)
        ways = [tuple(n for n in _of_both(way, motion) if not _met(n, have)) for way in self.needs]
        return min(ways, key=len, default=())

    def missing_on_a_side(self, carried: Iterable[str], motion: str) -> tuple[str, ...]:
        """The signals without which one direction cannot be judged although the other can."""
        have = set(carried)
        lacking: list[str] = []
        for way in signals.MOTIONS[motion]:
            if not have & {f"{motion}.{way}.command", f"{motion}.{way}.contactor"}:
                continue
            needed = [[name.replace("*", way) for name in _of_both(names, motion)] for names in self.needs]
            absent = [[name for name in names if name not in have] for names in needed]
            lacking += sorted(absent, key=len)[0] if absent else []
        return tuple(dict.fromkeys(lacking))


def _met(name: str, have: set[str]) -> bool:
    if "*" not in name:
        return name in have
    motion = name.split(".", 1)[0]
    return any(name.replace("*", direction) in have for direction in signals.MOTIONS[motion])


def _of_both(names: Iterable[str], motion: str | None) -> Iterator[str]:
    """The names for a motion; a `+` stands for both of its directions."""
    for name in names:
        ways = signals.MOTIONS[motion] if motion and "+" in name else ("",)
        yield from (name.format(motion=motion).replace("+", way) for way in ways)


def occurrences(found: pl.DataFrame, pattern: str, motion: str | None) -> pl.DataFrame:
    """What a pattern found as schema.OCCURRENCES."""
    if found.is_empty():
        return schema.OCCURRENCES.empty()
    if "signal" not in found.columns:
        found = found.with_columns(signal=pl.lit(None, schema.SIGNAL))
    if "motion" not in found.columns:
        found = found.with_columns(motion=pl.lit(motion, schema.MOTION))
    return found.select(
        pl.lit(pattern).alias("pattern"),
        pl.col("motion").cast(schema.MOTION),
        pl.col("signal").cast(schema.SIGNAL),
        "start",
        "end",
        pl.col("certainty").cast(schema.CERTAINTY),
        pl.col("measured").cast(pl.Float64),
        pl.col("limit").cast(pl.Float64),
        pl.col("direction").cast(schema.DIRECTION),
        pl.col("rows").cast(pl.List(schema.ROW)).list.drop_nulls().list.unique().list.sort(),
    )


def nothing(*more: str) -> pl.DataFrame:
    """No occurrence. more: columns beside FOUND, `signal` or `motion`."""
    return schema.OCCURRENCES.empty()[[*FOUND, *more]]


def extent(found: pl.DataFrame) -> tuple[float, float]:
    """The least and the largest measured value of some occurrences."""
    lowest, highest = found.select(low=pl.col("measured").min(), high=pl.col("measured").max()).row(0)
    return float(lowest), float(highest)


def moved(measured: pl.Expr, by_s: float) -> pl.Expr:
    """A measured time moved by an uncertainty [s], on whole microseconds so that limits are met exactly."""
    return (measured + by_s).round(6)


def proof() -> pl.Expr:
    """The `rows` column of occurrences that are single runs: the lines that the run's times were taken from."""
    kinds = ("start", "end", "command_on", "command_off", "brake_on", "brake_off", "fast_on")
    return pl.concat_list(f"{kind}_row" for kind in kinds).alias("rows")


def graded(certain: pl.Expr) -> pl.Expr:
    """The certainty column from a condition."""
    return (
        pl.when(certain.fill_null(value=False)).then(pl.lit("certain")).otherwise(pl.lit("possible")).alias("certainty")
    )
