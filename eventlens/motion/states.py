"""Events -> known states of every signal that is on or off.

A state holds from its record to the next record of the same signal. Where a log records changes only, a record that
repeats the state before it proves that one in between was lost: both were changes, and between them nothing is known.
After the last record of an unbroken stretch, in a hole, across a clock step and after a record of unknown value nothing
is known either: no interval covers that time.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
import polars as pl

from eventlens import schema, signals
from eventlens.spill import laid_down
from eventlens.threads import FEW, in_threads

MANY = 3
"""So many signals at one instant, at least, and half of those carried: a picture of the whole (common practice)."""
RARE = 0.1
"""Share of records that repeat the state before them up to which a log records changes only ..."""
ENOUGH = 20
"""... judged on so many records at least ..."""
OFTEN = 0.25
"""... without the signals of which more repeat: these are recorded again and again (common practice, no source)."""

AT_ONCE = FEW
"""Records of all signals that are looked at together; of a longer log each signal by itself, side by side."""

_INTERVAL = ["start", "end", "start_seen", "end_seen", "start_row", "end_row", "segment"]
_NO_INTERVAL = schema.STATES.empty().select(_INTERVAL)


@dataclass(frozen=True)
class States:
    """Known states by signal."""

    frame: pl.DataFrame
    """schema.STATES."""
    lost: int = 0
    """Records that are proven to be lost; as many again may be lost without a trace, in pairs."""
    _of: dict[str, pl.DataFrame] = field(default_factory=dict, repr=False)
    _picked: dict[tuple[bool, tuple[str, ...]], pl.DataFrame] = field(default_factory=dict, repr=False)

    def has(self, signal: str) -> bool:
        """Whether the log carries the signal."""
        return signal in self._of

    def known(self, signal: str) -> pl.DataFrame:
        """All known intervals of a signal, on and off, by start; empty if it is not logged."""
        return self._of.get(signal, schema.STATES.empty())

    def on(self, *names: str) -> pl.DataFrame:
        """The intervals in which any of the signals is known to be on, by start."""
        return self._pick(names, on=True)

    def off(self, *names: str) -> pl.DataFrame:
        """The intervals in which any of the signals is known to be off, by start."""
        return self._pick(names, on=False)

    def _pick(self, names: tuple[str, ...], *, on: bool) -> pl.DataFrame:
        """What `on` and `off` give, kept for whoever asks next; two that ask at once make the same twice."""
        key = (on, names)
        if key not in self._picked:
            self._picked[key] = laid_down(self._made(names, on=on), self.frame.height)
        return self._picked[key]

    def _made(self, names: tuple[str, ...], *, on: bool) -> pl.DataFrame:
        carried = [name for name in names if self.has(name)]
        if not carried:
            return _NO_INTERVAL
        if len(carried) > 1:
            return pl.concat([self._pick((name,), on=on) for name in carried]).sort("start", maintain_order=True)
        known = self.known(carried[0])
        return known[_INTERVAL].filter(known["on"] if on else ~known["on"])


def build_states(events: pl.DataFrame, segments: pl.DataFrame, carried: Iterable[str]) -> States:
    """Known states (schema.STATES) from events, the unbroken stretches of the log and the signals that it carries."""
    present = set(carried)
    wanted = [(code, name) for code, name in enumerate(signals.ALL) if name in signals.STATES and name in present]
    codes, rows = [code for code, _ in wanted], events.height
    parts = [codes] if rows <= AT_ONCE else [[code] for code in codes]
    records = _all_records(events, parts)
    if any(part["again"].any() for part in records):
        shown = _shown_together(events, len(present)).implode()
        again = pl.col("again") & ~_as_before("time") & ~pl.col("time").is_in(shown)
        records = [part.with_columns(again) for part in records]
    proving = _proving(records)

    def known(place: int) -> tuple[pl.DataFrame, int]:
        part, records[place] = records[place], records[place].clear()  # let go as its states are there
        states = laid_down(_states(part, segments, proving), rows)
        return states, _lost(states)

    found = in_threads(known, range(len(records)), rows)
    frame = pl.concat([schema.STATES.empty(), *(states for states, _ in found)]).set_sorted("signal")
    of = by_signal(schema.STATES.check(frame))
    return States(frame, sum(lost for _, lost in found), {name: of.get(name, frame.clear()) for _, name in wanted})


def by_signal(states: pl.DataFrame) -> dict[str, pl.DataFrame]:
    """The states (schema.STATES) of each signal that has any: parts of the same table, nothing is copied."""
    runs = states.select(pl.col("signal").to_physical().rle()).to_series().struct.unnest()
    begun = runs["len"].cum_sum() - runs["len"]
    return {
        signals.ALL[code]: states.slice(*place) for code, *place in zip(runs["value"], begun, runs["len"], strict=True)
    }


def _all_records(events: pl.DataFrame, parts: list[list[int]]) -> list[pl.DataFrame]:
    """_records of each part of the signals."""
    # what is moved is small: a state is one byte
    small = events.select("time", "row", "segment", "signal", on=pl.col("value").ne(0).cast(pl.Int8).fill_null(-1))
    return in_threads(lambda part: _records(small, part), parts, events.height)


def _records(events: pl.DataFrame, wanted: list[int]) -> pl.DataFrame:
    """The events (time, row, segment, signal, on: 1, 0 or -1 unknown) of the signals with these codes.

    By signal, each in the order of the record. Adds here: the record before is one of the same signal and stretch;
    repeats: it repeats the state before it; again: that state is known.
    """
    codes = events["signal"].to_physical()
    own = events.filter(codes == wanted[0] if len(wanted) == 1 else codes.is_in(wanted)).rechunk()
    if len(wanted) > 1:  # small whole numbers are sorted by counting: many times as quick as a sort of rows
        own = own[np.argsort(own["signal"].to_physical().to_numpy(), kind="stable")]
    return (
        own.with_columns(here=_as_before("segment") & _as_before("signal"))
        .with_columns(repeats=_as_before("on") & pl.col("here"))
        .with_columns(again=pl.col("repeats") & (pl.col("on") >= 0))
    )


def _as_before(column: str) -> pl.Expr:
    """Whether the row before holds the same."""
    return (pl.col(column) == pl.col(column).shift(1)).fill_null(value=False)


def _proving(records: list[pl.DataFrame]) -> pl.Series:
    """The signals whose repeated states prove that a record was lost: all that seldom repeat, in a log of changes only.

    A log records changes only where of enough records few repeat the state before them. records: `again` only with a
    stamp of its own, outside pictures of the whole.
    """
    none = pl.Series([], dtype=schema.SIGNAL)
    if not any(part["again"].any() for part in records):
        return none
    counted = pl.concat(
        part.group_by("signal")
        .agg(pl.len().alias("all"), pl.col("again").sum())
        .filter(pl.col("again") <= OFTEN * pl.col("all"))
        for part in records
    )
    whole, again = int(counted["all"].sum()), int(counted["again"].sum())
    return counted["signal"] if whole >= ENOUGH and 0 < again <= RARE * whole else none


def _lost(states: pl.DataFrame) -> int:
    """How many records are proven to be lost: each leaves a state of no length before another of its stretch."""
    here = (pl.col("signal") == pl.col("signal").shift(-1)) & (pl.col("segment") == pl.col("segment").shift(-1))
    lost = (pl.col("start") == pl.col("end")) & ~pl.col("end_seen") & here & pl.col("start_seen").shift(-1)
    return int(states.select(lost.sum()).item())


def _shown_together(events: pl.DataFrame, carried: int) -> pl.Series:
    """The instants at which many signals are recorded at once: pictures of the whole, where a repeat proves nothing."""
    least = max(MANY, carried / 2)
    instants = events["time"]
    run = (instants != instants.shift(1)).fill_null(value=True).cum_sum()
    counts = run.rle().struct.unnest()  # records of one instant stand together
    many = counts.filter(pl.col("len") >= least)["value"]
    return instants.filter(run.is_in(many.implode())).unique() if many.len() else instants.clear()


def _states(records: pl.DataFrame, segments: pl.DataFrame, proving: pl.Series) -> pl.DataFrame:
    """The known states of some signals. proving: the signals whose repeats prove that a record was lost."""
    lost = pl.col("again") & pl.col("signal").is_in(proving.implode())
    kept = records.with_columns(lost=lost if proving.len() else pl.lit(value=False))
    if kept["repeats"].any():
        kept = kept.filter(~pl.col("repeats") | pl.col("lost"))  # the first record of a stretch repeats nothing
    next_here = pl.col("here").shift(-1, fill_value=False)
    next_lost = next_here & pl.col("lost").shift(-1, fill_value=False)
    ends = next_here & ~next_lost
    known = kept.select(
        "signal",
        (pl.col("on") == 1).alias("on"),
        pl.col("time").alias("start"),
        pl.when(next_lost).then("time").otherwise(_until_next(kept, segments)).alias("end"),
        (pl.col("here") & (pl.col("on").shift(1) >= 0)).fill_null(value=False).alias("start_seen"),
        (ends & (pl.col("on").shift(-1) >= 0)).fill_null(value=False).alias("end_seen"),
        pl.col("row").alias("start_row"),
        pl.when(ends).then(pl.col("row").shift(-1)).otherwise("row").alias("end_row"),
        "segment",
    )
    unknown = kept["on"] < 0
    return (known.filter(~unknown) if unknown.any() else known).rechunk()


def _until_next(records: pl.DataFrame, segments: pl.DataFrame) -> pl.Series:
    """When the next record of each signal comes; where none does in its stretch, the end of that."""
    last = (~records["here"].shift(-1, fill_value=False)).arg_true()
    until = segments["end"].gather(segments["segment"].search_sorted(records["segment"].gather(last)))
    return records["time"].shift(-1).scatter(last, until)
