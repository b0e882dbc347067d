"""Events -> known states of every signal that is on or off.

A state holds from its record to the next record of the same signal. After the last record of an unbroken stretch, in
a hole, across a clock step and after a record of unknown value nothing is known: no interval covers that time.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import polars as pl

from eventlens import schema, signals
from eventlens.threads import in_threads

_INTERVAL = ("start", "end", "start_seen", "end_seen", "start_row", "end_row", "segment")


@dataclass(frozen=True)
class States:
    """Known states by signal."""

    frame: pl.DataFrame
    """schema.STATES."""
    _of: dict[str, pl.DataFrame] = field(default_factory=dict, repr=False)

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

    def _pick(self, names: Iterable[str], *, on: bool) -> pl.DataFrame:
        found = [self.known(name).filter(pl.col("on") == on) for name in names if self.has(name)]
        if not found:
            return schema.STATES.empty().select(_INTERVAL)
        frame = pl.concat(found).select(_INTERVAL)
        return frame if len(found) == 1 else frame.sort("start", maintain_order=True)


def build_states(events: pl.DataFrame, segments: pl.DataFrame, carried: Iterable[str]) -> States:
    """Known states (schema.STATES) from events, the unbroken stretches of the log and the signals that it carries."""
    present = set(carried)
    codes = events["signal"].to_physical()
    wanted = [(code, name) for code, name in enumerate(signals.ALL) if name in signals.STATES and name in present]
    found = in_threads(lambda item: _states_of(item[1], events.filter(codes == item[0]), segments), wanted)
    by_signal = {name: frame for (_, name), frame in zip(wanted, found, strict=True)}
    frames = list(by_signal.values())
    frame = pl.concat(frames) if frames else schema.STATES.empty()
    return States(schema.STATES.check(frame), by_signal)


def _states_of(name: str, events: pl.DataFrame, segments: pl.DataFrame) -> pl.DataFrame:
    """The known states of one signal; its events are in the order of the record."""
    on = pl.when(pl.col("value").is_null()).then(-1).otherwise((pl.col("value") != 0).cast(pl.Int8)).cast(pl.Int8)
    same_segment = pl.col("segment") == pl.col("segment").shift(1)
    kept = events.select("time", "row", "segment", on=on).filter(
        ~((pl.col("on") == pl.col("on").shift(1)) & same_segment).fill_null(value=False)
    )
    next_here = (pl.col("segment").shift(-1) == pl.col("segment")).fill_null(value=False)
    before_here = same_segment.fill_null(value=False)
    segment_end = segments["end"].gather(segments["segment"].search_sorted(kept["segment"]))
    return (
        kept.with_columns(segment_end=segment_end)
        .select(
            pl.lit(name, dtype=schema.SIGNAL).alias("signal"),
            (pl.col("on") == 1).alias("on"),
            pl.col("time").alias("start"),
            pl.when(next_here).then(pl.col("time").shift(-1)).otherwise("segment_end").alias("end"),
            (before_here & (pl.col("on").shift(1) >= 0)).fill_null(value=False).alias("start_seen"),
            (next_here & (pl.col("on").shift(-1) >= 0)).fill_null(value=False).alias("end_seen"),
            pl.col("row").alias("start_row"),
            pl.when(next_here).then(pl.col("row").shift(-1)).otherwise("row").alias("end_row"),
            "segment",
            unknown=pl.col("on") < 0,
        )
        .filter(~pl.col("unknown"))
        .drop("unknown")
    )
