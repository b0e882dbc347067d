"""Events -> known states of every signal that is on or off.

A state holds from its record to the next record of the same signal. Where a log records changes only, a record that
repeats the state before it proves that one in between was lost: both were changes, and between them nothing is known.
After the last record of an unbroken stretch, in a hole, across a clock step and after a record of unknown value nothing
is known either: no interval covers that time.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import polars as pl

from eventlens import schema, signals
from eventlens.threads import in_threads

MANY = 3
"""So many signals at one instant, at least, and half of those carried: a picture of the whole (common practice)."""
RARE = 0.1
"""Share of records that repeat the state before them up to which a log records changes only ..."""
ENOUGH = 20
"""... judged on so many records at least ..."""
OFTEN = 0.25
"""... without the signals of which more repeat: these are recorded again and again (common practice, no source)."""

_INTERVAL = ("start", "end", "start_seen", "end_seen", "start_row", "end_row", "segment")
_NO_INTERVAL = schema.STATES.empty().select(_INTERVAL)


@dataclass(frozen=True)
class States:
    """Known states by signal."""

    frame: pl.DataFrame
    """schema.STATES."""
    lost: int = 0
    """Records that are proven to be lost; as many again may be lost without a trace, in pairs."""
    _of: dict[str, pl.DataFrame] = field(default_factory=dict, repr=False)
    _picked: dict[tuple[bool, *tuple[str, ...]], pl.DataFrame] = field(default_factory=dict, repr=False)

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
        key = (on, *names)
        if key not in self._picked:
            self._picked[key] = self._made(names, on=on)
        return self._picked[key]

    def _made(self, names: tuple[str, ...], *, on: bool) -> pl.DataFrame:
        carried = [name for name in names if self.has(name)]
        if not carried:
            return _NO_INTERVAL
        if len(carried) > 1:
            return pl.concat([self._pick((name,), on=on) for name in carried]).sort("start", maintain_order=True)
        known = self.known(carried[0])
        return known.filter(known["on"] if on else ~known["on"]).select(_INTERVAL)


def build_states(events: pl.DataFrame, segments: pl.DataFrame, carried: Iterable[str]) -> States:
    """Known states (schema.STATES) from events, the unbroken stretches of the log and the signals that it carries."""
    present = set(carried)
    codes = events["signal"].to_physical()
    shown = _shown_together(events, len(present))
    wanted = [(code, name) for code, name in enumerate(signals.ALL) if name in signals.STATES and name in present]
    records = in_threads(lambda item: _records_of(events.filter(codes == item[0]), shown), wanted)
    proves = _changes_only(records)
    found = in_threads(
        lambda item: _states_of(item[0][1], item[1], segments, proves=proves), list(zip(wanted, records, strict=True))
    )
    by_signal = {name: frame for (_, name), frame in zip(wanted, found, strict=True)}
    frames = list(by_signal.values())
    frame = pl.concat(frames) if frames else schema.STATES.empty()
    return States(schema.STATES.check(frame), _lost(frame), by_signal)


def _changes_only(records: Iterable[pl.DataFrame]) -> bool:
    """Whether the log records changes only: of enough records few repeat the state before them."""
    some = [part.select(pl.len().alias("all"), pl.col("again").sum()).row(0) for part in records]
    counted = [(whole, again) for whole, again in some if again <= OFTEN * whole]
    whole, again = sum(one[0] for one in counted), sum(one[1] for one in counted)
    return bool(whole >= ENOUGH and 0 < again <= RARE * whole)


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


def _records_of(events: pl.DataFrame, shown: pl.Series) -> pl.DataFrame:
    """(time, row, segment, on: 1, 0 or -1 unknown, repeats, again) of one signal, in the order of the record.

    repeats: it repeats the state before it; again: with a stamp of its own, outside pictures of the whole.
    """
    codes = events["value"].ne(0).cast(pl.Int8).fill_null(-1)
    same = events["segment"] == events["segment"].shift(1)
    repeats = ((codes == codes.shift(1)) & same).fill_null(value=False)
    again = repeats & (codes >= 0)
    if again.any():
        later = (events["time"] != events["time"].shift(1)).fill_null(value=True)
        again &= later & ~events["time"].is_in(shown.implode())
    return events.select("time", "row", "segment", on=codes, repeats=repeats, again=again)


def _states_of(name: str, records: pl.DataFrame, segments: pl.DataFrame, *, proves: bool) -> pl.DataFrame:
    """The known states of one signal. proves: its repeats, if they are rare, prove that a record was lost."""
    lost = records["again"] if proves else records["again"] & False
    lost = lost if lost.sum() <= OFTEN * len(lost) else lost & False
    kept = records.with_columns(lost=lost).filter(~pl.col("repeats") | pl.col("lost"))
    same_segment = (pl.col("segment") == pl.col("segment").shift(1)).fill_null(value=False)
    next_here = (pl.col("segment").shift(-1) == pl.col("segment")).fill_null(value=False)
    next_lost = next_here & pl.col("lost").shift(-1).fill_null(value=False)
    segment_end = segments["end"].gather(segments["segment"].search_sorted(kept["segment"]))
    end = pl.when(next_here).then(pl.col("time").shift(-1)).otherwise("segment_end")
    ends = next_here & ~next_lost
    return (
        kept.with_columns(segment_end=segment_end)
        .select(
            pl.lit(name, dtype=schema.SIGNAL).alias("signal"),
            (pl.col("on") == 1).alias("on"),
            pl.col("time").alias("start"),
            pl.when(next_lost).then("time").otherwise(end).alias("end"),
            (same_segment & (pl.col("on").shift(1) >= 0)).fill_null(value=False).alias("start_seen"),
            (ends & (pl.col("on").shift(-1) >= 0)).fill_null(value=False).alias("end_seen"),
            pl.col("row").alias("start_row"),
            pl.when(ends).then(pl.col("row").shift(-1)).otherwise("row").alias("end_row"),
            "segment",
            unknown=pl.col("on") < 0,
        )
        .filter(~pl.col("unknown"))
        .drop("unknown")
    )
