"""Columns of samples -> channels: shared by the layouts that have a column for each signal or word."""

from __future__ import annotations

from collections.abc import Sequence

import polars as pl

from eventlens.reading.extracted import Channel, Stretches
from eventlens.reading.mapping import Mapped, map_names
from eventlens.reading.profile import Profile
from eventlens.reading.values import Decimal, find_decimal, maybe_thousands, numbers, states, states_by_text


def channels_of(
    stretches: Stretches, profile: Profile, columns: Sequence[str]
) -> tuple[list[Channel], tuple[str, ...]]:
    """A channel for each column, and notes on cells that were not understood."""
    keep_last = profile.log.empty == "unchanged"
    channels: list[Channel] = []
    notes: list[str] = []
    decimal = profile.log.decimal or _decimal_of(stretches.frame, columns)
    for name, mapped in map_names(columns, profile).items():
        column = stretches.frame[name]
        if mapped.source is None:
            channels.append(Channel(name, None, mapped.by, column))
            continue
        value, column_notes = channel_value(column, mapped, decimal)
        notes += column_notes
        channels.append(Channel(name, mapped.signal, mapped.by, value, keep_last))
    return channels, tuple(notes)


def channel_value(column: pl.Series, mapped: Mapped, decimal: Decimal | None) -> tuple[pl.Series, list[str]]:
    """A mapped column as numbers, with what its source says applied; cells not understood are unknown and noted."""
    source = mapped.source
    assert source is not None
    notes: list[str] = []
    if not mapped.is_state:
        found = numbers(column, decimal)
        value = found.number * source.factor
        if decimal != "," and maybe_thousands(column):
            notes.append(f"Numbers like {column.drop_nulls()[0]} in '{mapped.name}' are read with a decimal point.")
    else:
        found = states_by_text(column, source.on) if source.on is not None else states(column, decimal)
        value = 1 - found.number if source.invert else found.number
    if found.bad.any():
        words = column.filter(found.bad).unique(maintain_order=True).head(3).to_list()
        said = ", ".join(f"'{word}'" for word in words)
        notes.append(f"{int(found.bad.sum())} cells of '{mapped.name}' are not understood ({said}): state unknown.")
    return value, notes


def _decimal_of(frame: pl.DataFrame, columns: Sequence[str]) -> Decimal | None:
    """The decimal mark of the table: a comma wherever one column shows it."""
    marks = [find_decimal(frame[name]) for name in columns]
    return "," if "," in marks else "." if "." in marks else None
