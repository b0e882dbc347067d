"""Packed words -> a channel for each bit and for each number in them."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from eventlens.reading.entries import ALL_BITS, Word, field_key
from eventlens.reading.extracted import Channel
from eventlens.reading.values import of_source
from eventlens.reading.word_values import bits_of, field_of, word_values


@dataclass(frozen=True)
class WordChannels:
    """The bits and numbers of one column of words."""

    channels: list[Channel]
    bad: pl.Series
    notes: tuple[str, ...]


def channels_of_word(name: str, column: pl.Series, word: Word, *, keep_last: bool = False) -> WordChannels:
    """A channel for each bit and number that the profile names, and for each other bit that is ever set."""
    values = word_values(column, word, name)
    notes = list(values.notes)
    channels: list[Channel] = []
    for bit, source in sorted(word.bits.items()):
        state = bits_of(values.number, bit, bit).cast(pl.Float64)
        value = 1 - state if source.invert else state
        channels.append(Channel(f"{name}.{bit}", source.signal, "profile", value, keep_last, values.bad))
    for (low, high), sources in word.fields.items():
        key = name if (low, high) == ALL_BITS else f"{name}.{field_key(low, high)}"
        number = field_of(values, low, high, bcd=word.bcd)
        odd = number.null_count() - values.number.null_count()
        if odd:
            notes.append(f"{odd} words of '{key}' hold digits above 9: they are no packed decimals, value unknown.")
        for source in sources:
            value = of_source(number, source, ".").number
            doubted = values.bad | (number.is_null() & values.number.is_not_null())
            channels.append(Channel(key, source.signal, "profile", value, keep_last, doubted))
    if not word.fields.get(ALL_BITS):
        told = {*word.bits, *(bit for low, high in word.fields for bit in range(low, high + 1))}
        ever = int(values.number.drop_nulls().bitwise_or() or 0)  # type: ignore[arg-type]
        for bit in range(values.width):
            if bit not in told and ever >> bit & 1:
                channels.append(Channel(f"{name}.{bit}", None, "unmapped", bits_of(values.number, bit, bit)))
    return WordChannels(channels, values.bad, tuple(notes))


def read_word(column: pl.Series, word: Word) -> tuple[pl.Series, int]:
    """The words as Int64 (a negative one keeps its bits), and how many were not understood."""
    values = word_values(column, word)
    return values.number, int(values.bad.sum())
