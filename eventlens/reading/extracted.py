"""What layouts get and give, and the part that layouts with a column for each signal share."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import polars as pl

from eventlens import schema
from eventlens.reading.coded import text_of
from eventlens.reading.mapping import MappedBy
from eventlens.reading.shape import Shape


@dataclass(frozen=True)
class Stretches:
    """A record cut into unbroken stretches, its rows in the order of the record."""

    frame: pl.DataFrame
    """The raw columns."""
    time: pl.Series
    lines: pl.Series
    segment: pl.Series
    """UInt32."""
    shape: Shape
    delimiter: str | None
    codes: pl.Series | None = None
    """Layout changes: each row's name as a number ..."""
    distinct: tuple[str, ...] = ()
    """... and the names by number."""


@dataclass(frozen=True)
class Extracted:
    """The events of a record, its names, and rows set aside because of their values."""

    events: pl.DataFrame
    names: pl.DataFrame
    rejected: pl.DataFrame
    notes: tuple[str, ...] = ()
    spans: pl.DataFrame | None = None
    """segment, start and end [microseconds] of each stretch, where rows tell of more than their own instant."""


@dataclass(frozen=True)
class Channel:
    """One column of samples: its values as numbers (null: unknown), or as they stand where it is not mapped."""

    name: str
    signal: str | None
    by: MappedBy
    value: pl.Series
    keep_last: bool = False
    """An empty cell means unchanged: it is no event."""
    doubted: pl.Series | None = None
    """Rows that are not understood or of bad quality: unknown, even where an empty cell means unchanged."""


def events_of_channels(stretches: Stretches, channels: Sequence[Channel]) -> Extracted:
    """An event where a channel's value differs from the row before, and at the first row of each stretch."""
    segment = stretches.segment
    begins = segment != segment.shift(fill_value=None)
    begins = begins.fill_null(True)
    parts: list[pl.DataFrame] = []
    names: list[dict[str, object]] = []
    for number, channel in enumerate(channels):
        value = channel.value
        if channel.keep_last:
            value = _held(channel, segment)
        differs = value.ne_missing(value.shift())
        both = value.is_not_null() & value.shift().is_not_null()
        names.append(
            {
                "name": channel.name,
                "signal": channel.signal,
                "rows": len(channel.value) - channel.value.null_count(),
                "edges": int((differs & both & ~begins).sum()),
                "repeated": 0,  # a sample repeats the state before by its nature
                "mapped_by": channel.by,
            }
        )
        if channel.signal is None:
            continue
        emitted = differs | begins
        if channel.keep_last:
            emitted = emitted & value.is_not_null()
        at = emitted.arg_true()
        part = pl.DataFrame({"at": at, "value": value.gather(at).cast(pl.Float64).fill_nan(None)})
        signal = pl.lit(channel.signal, schema.SIGNAL)
        parts.append(part.with_columns(signal=signal, channel=pl.lit(number, pl.UInt32)))
    if not parts:
        return Extracted(schema.EVENTS.empty(), name_table(names), schema.REJECTED.empty())
    tall = pl.concat(parts).sort("at", "channel")
    at = tall["at"]
    events = tall.select(
        time=stretches.time.gather(at),
        signal="signal",
        value="value",
        row=stretches.lines.gather(at),
        segment=segment.gather(at),
    )
    return Extracted(events, name_table(names), schema.REJECTED.empty())


def _held(channel: Channel, segment: pl.Series) -> pl.Series:
    """The values with each empty cell as the one before; not a number where the channel is in doubt."""
    value = channel.value
    if channel.doubted is not None:
        value = pl.select(pl.when(channel.doubted).then(float("nan")).otherwise(text_of(value).cast(pl.Float64)))[:, 0]
    frame = pl.DataFrame({"v": value, "segment": segment})
    return frame.select(pl.col("v").forward_fill().over("segment"))["v"]


def name_table(names: Sequence[dict[str, object]]) -> pl.DataFrame:
    """schema.NAMES from one dictionary for each name."""
    return pl.DataFrame(list(names), schema=schema.NAMES.schema).sort("name")
