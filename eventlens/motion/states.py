"""Events -> known states of every signal that is on or off.

A state holds from its record to the next record of the same signal. Where a log records changes only, a record that
repeats the state before it proves that one in between was lost: both were changes, and between them nothing is known.
After the last record of an unbroken stretch, in a hole, across a clock step and after a record of unknown value nothing
is known either: no interval covers that time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import cache

import numpy as np
import polars as pl

from eventlens import schema, signals
from eventlens.spill import laid_down

MANY = 3
"""So many signals at one instant, at least, and half of those carried: a picture of the whole (common practice)."""
RARE = 0.1
"""Share of records that repeat the state before them up to which a log records changes only ..."""
ENOUGH = 20
"""... judged on so many records at least ..."""
OFTEN = 0.25
"""... without the signals of which more repeat: these are recorded again and again (common practice, no source)."""

AT_ONCE = 1 << 23
"""Records that are sorted at once: the memory it takes is bounded so, however long the log (common practice)."""

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
    shown = cache(lambda: _shown_together(events, len(present)))
    records = [_records(events, codes, shown) for codes in _at_once(events, [code for code, _ in wanted])]
    proving = _proving(records)
    # each part is let go as its states are there
    frame = pl.concat(
        [laid_down(_states(records.pop(0), segments, proving), events.height) for _ in range(len(records))]
    )
    of = by_signal(schema.STATES.check(frame))
    return States(frame, _lost(frame), {name: of.get(name, frame.clear()) for _, name in wanted})


def by_signal(states: pl.DataFrame) -> dict[str, pl.DataFrame]:
    """The states (schema.STATES) of each signal that has any: parts of the same table, nothing is copied."""
    runs = states.select(pl.col("signal").to_physical().rle()).to_series().struct.unnest()
    begun = runs["len"].cum_sum() - runs["len"]
    return {
        signals.ALL[code]: states.slice(*place) for code, *place in zip(runs["value"], begun, runs["len"], strict=True)
    }


def _at_once(events: pl.DataFrame, wanted: list[int]) -> list[list[int]]:
    """The signals with these codes in parts, in order, of not many more records than AT_ONCE each."""
    if events.height <= AT_ONCE:
        return [wanted]
    counts = dict(events["signal"].to_physical().value_counts().iter_rows())
    parts: list[list[int]] = [[]]
    records = 0
    for code in wanted:
        if records + counts.get(code, 0) > AT_ONCE and parts[-1]:
            parts.append([])
            records = 0
        parts[-1].append(code)
        records += counts.get(code, 0)
    return parts


def _records(events: pl.DataFrame, wanted: list[int], shown: Callable[[], pl.Series]) -> pl.DataFrame:
    """(time, row, segment, signal, here, on: 1, 0 or -1 unknown, repeats, again) of the signals with these codes.

    By signal, each in the order of the record. here: the record before is one of the same signal and stretch; repeats:
    it repeats the state before it; again: with a stamp of its own, outside pictures of the whole. shown: gives the
    instants of these, asked only where anything repeats.
    """
    codes = events["signal"].to_physical()
    # small whole numbers are sorted by counting: many times as quick as a sort of rows
    if set(codes.unique()) - set(wanted):
        own = codes.is_in(wanted).arg_true()
        events, codes = events[own], codes[own]
    order = pl.Series(np.argsort(codes.to_numpy(), kind="stable").astype(np.uint32))
    # what is moved is small: a state is one byte
    small = events.select("time", "row", "segment", "signal", on=pl.col("value").ne(0).cast(pl.Int8).fill_null(-1))
    records = small[order].with_columns(
        here=(
            (pl.col("segment") == pl.col("segment").shift(1)) & (pl.col("signal") == pl.col("signal").shift(1))
        ).fill_null(value=False),
    )
    repeats = (records["on"] == records["on"].shift(1)).fill_null(value=False) & records["here"]
    again = repeats & (records["on"] >= 0)
    if again.any():
        later = (records["time"] != records["time"].shift(1)).fill_null(value=True)
        again &= later & ~records["time"].is_in(shown().implode())
    return records.with_columns(repeats=repeats, again=again)


def _proving(records: list[pl.DataFrame]) -> pl.DataFrame:
    """The signals whose repeated states prove that a record was lost: all that seldom repeat, in a log of changes only.

    A log records changes only where of enough records few repeat the state before them.
    """
    counted = pl.concat(
        part.group_by("signal")
        .agg(pl.len().alias("all"), pl.col("again").sum())
        .filter(pl.col("again") <= OFTEN * pl.col("all"))
        for part in records
    )
    whole, again = int(counted["all"].sum()), int(counted["again"].sum())
    return (
        counted.select("signal") if whole >= ENOUGH and 0 < again <= RARE * whole else counted.select("signal").clear()
    )


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


def _states(records: pl.DataFrame, segments: pl.DataFrame, proving: pl.DataFrame) -> pl.DataFrame:
    """The known states of all signals. proving: the signals whose repeats prove that a record was lost."""
    lost = pl.col("again") & pl.col("signal").is_in(proving["signal"].implode())
    kept = records.with_columns(lost=lost if proving.height else pl.lit(value=False))
    kept = kept.filter(~pl.col("repeats") | pl.col("lost"))  # the first record of a stretch repeats nothing
    next_here = pl.col("here").shift(-1, fill_value=False)
    next_lost = next_here & pl.col("lost").shift(-1, fill_value=False)
    ends = next_here & ~next_lost
    segment_end = segments["end"].gather(segments["segment"].search_sorted(kept["segment"]))
    end = pl.when(next_here).then(pl.col("time").shift(-1)).otherwise(segment_end)
    return (
        kept.select(
            "signal",
            (pl.col("on") == 1).alias("on"),
            pl.col("time").alias("start"),
            pl.when(next_lost).then("time").otherwise(end).alias("end"),
            (pl.col("here") & (pl.col("on").shift(1) >= 0)).fill_null(value=False).alias("start_seen"),
            (ends & (pl.col("on").shift(-1) >= 0)).fill_null(value=False).alias("end_seen"),
            pl.col("row").alias("start_row"),
            pl.when(ends).then(pl.col("row").shift(-1)).otherwise("row").alias("end_row"),
            "segment",
            unknown=pl.col("on") < 0,
        )
        .filter(~pl.col("unknown"))
        .drop("unknown")
        .set_sorted("signal")
    )
