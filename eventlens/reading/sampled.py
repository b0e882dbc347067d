"""Columns of samples -> channels: shared by the layouts that have a column for each signal or word."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import polars as pl

from eventlens import signals
from eventlens.reading.coded import text_of
from eventlens.reading.extracted import Channel, Stretches
from eventlens.reading.mapping import map_names
from eventlens.reading.numerals import factor_of, split_units, unit_in, unit_of_signal
from eventlens.reading.profile import Profile, Source
from eventlens.reading.validity import good_rows
from eventlens.reading.values import Decimal, Values, doubts, find_decimal, of_source, words_note


@dataclass(frozen=True)
class RowQuality:
    """Which cells hold: one mask for all columns, or one for a column."""

    poor: Mapping[str, tuple[pl.Series, pl.Series]]
    """Rows whose quality is not good, and rows without a quality; by column, '' for all."""
    notes: tuple[str, ...] = ()

    def apply(self, channel: Channel, column: str) -> Channel:
        """The channel, unknown where the quality is not good."""
        found = self.poor.get(column, self.poor.get(""))
        if found is None:
            return channel
        poor, empty = found
        poor = poor & ~(empty & channel.value.is_null())
        doubted = poor if channel.doubted is None else poor | channel.doubted
        return replace(channel, value=pl.select(pl.when(~poor).then(channel.value))[:, 0], doubted=doubted)


def row_quality(stretches: Stretches, profile: Profile) -> RowQuality:
    """The quality that the log writes, as `[log] quality` names it."""
    poor: dict[str, tuple[pl.Series, pl.Series]] = {}
    notes: list[str] = []
    for of, name in quality_columns(stretches.frame.columns, profile).items():
        column = stretches.frame[name]
        good, said = good_rows(column, profile)
        poor[of] = ~good, column.is_null()
        notes += said
    return RowQuality(poor, tuple(notes))


def quality_columns(columns: Sequence[str], profile: Profile) -> dict[str, str]:
    """Column of qualities by the column it belongs to; '' stands for all of them."""
    key = profile.log.quality
    if key is None:
        return {}
    if "*" not in key:
        return {"": key}
    return {name: key.replace("*", name) for name in columns if key.replace("*", name) in columns}


def channels_of(
    stretches: Stretches, profile: Profile, columns: Sequence[str]
) -> tuple[list[Channel], tuple[str, ...]]:
    """A channel for each column and signal, and notes on cells that were not understood."""
    keep_last = profile.log.empty == "unchanged"
    quality = row_quality(stretches, profile)
    qualities = set(quality_columns(stretches.frame.columns, profile).values())
    columns = [name for name in columns if name not in qualities and name not in profile.log.arrived]
    channels: list[Channel] = []
    notes = list(quality.notes)
    decimal = profile.log.decimal or _decimal_of(stretches.frame, columns)
    for name, mapped in map_names(columns, profile).items():
        column = stretches.frame[name]
        if mapped.source is None:
            channels.append(Channel(name, None, mapped.by, column))
            continue
        for one in mapped.each():
            assert one.source is not None
            found, said = channel_value(name, column, one.source, decimal)
            notes += said
            channel = Channel(name, one.signal, one.by, found.number, keep_last, found.bad)
            channels.append(quality.apply(channel, name))
    return channels, tuple(dict.fromkeys(notes))


def channel_value(name: str, column: pl.Series, source: Source, decimal: Decimal | None) -> tuple[Values, list[str]]:
    """A mapped column as numbers, with what its source says applied; cells not understood are unknown and noted."""
    source, said = _by_header(name, column, source)
    found = of_source(column, source, decimal)
    notes = [*said, *words_note(column, found.bad, f"cells of '{name}'")]
    if source.signal in signals.MEASURES:
        notes += doubts(column, decimal, f" in '{name}'")
    return found, notes


def _by_header(name: str, column: pl.Series, source: Source) -> tuple[Source, list[str]]:
    """The source of a measured column with the factor of the unit in its name, where nothing else states one."""
    unit = unit_in(name)
    if unit is None or source.signal not in signals.MEASURES or source.factor != 1 or _has_units(column):
        return source, []
    factor, own = factor_of(unit, source.signal), unit_of_signal(source.signal)
    if factor is None:
        return source, [f"Column '{name}': the unit '{unit}' is not known for {source.signal}; read as {own}."]
    if factor == 1:
        return source, []
    return source.model_copy(update={"factor": factor}), [
        f"Column '{name}' is in {unit}: multiplied by {factor:g} to {own}."
    ]


def _has_units(column: pl.Series) -> bool:
    """Whether cells carry units of their own: these count then."""
    sample = text_of(column.drop_nulls().head(200))
    return sample.dtype == pl.String and bool(split_units(sample)[1].is_not_null().any())


def _decimal_of(frame: pl.DataFrame, columns: Sequence[str]) -> Decimal | None:
    """The decimal mark of the table: a comma wherever one column shows it."""
    marks = [find_decimal(frame[name]) for name in columns]
    return "," if "," in marks else "." if "." in marks else None
