"""Stamps that are all written alike, cut at fixed positions: several times faster than any general parser."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

import numpy as np
import numpy.typing as npt
import polars as pl

_SHAPE: Final = re.compile(
    r"(?P<date>\d{4}-\d\d-\d\d|\d\d\.\d\d\.\d{4}|\d\d/\d\d/\d{4})[ T]\d\d:\d\d:\d\d(?:[.,](?P<fraction>\d{1,6}))?"
    r"(?P<zone>Z|[+-]\d\d:\d\d)?"
)
_DIGIT: Final = "\0"
"""Stands in a pattern where any digit may stand."""
_CLOCK_US: Final = ((0, 3_600_000_000), (3, 60_000_000), (6, 1_000_000))
"""Where hours, minutes and seconds stand in hh:mm:ss, and what one is worth [microseconds]."""
_FRACTION_US: Final = ((0, 10_000), (2, 100), (4, 1))
"""Where two decimals of a second stand behind its mark, and what one of their number is worth [microseconds]."""
_HIGHEST: Final = MappingProxyType({0: 2, 3: 5, 6: 5})
"""The highest digit at these places of hh:mm:ss."""
_DAY_US: Final = 86_400_000_000
BLOCK: Final = 1 << 15
"""Stamps cut at once: their bytes stay in the processor's cache (measured)."""

Longs = npt.NDArray[np.int64]
Words = npt.NDArray[np.uint64]
Bytes = npt.NDArray[np.uint8]


@dataclass(frozen=True)
class Notation:
    """A way of writing stamps; an offset from UTC is part of it, so stamps with another offset are not written so."""

    pattern: str
    date: int
    """Width of the date."""
    digits: int
    """Decimals of the second."""
    offset_us: int | None
    """Offset from UTC [microseconds], None: none is written."""

    @staticmethod
    def of(sample: str) -> Notation | None:
        """The notation of a sample, or None if it is not one of those that can be cut."""
        found = _SHAPE.fullmatch(sample)
        if found is None:
            return None
        zone = found["zone"] or ""
        local = sample.removesuffix(zone)
        pattern = re.sub(r"\d", _DIGIT, local) + zone
        return Notation(pattern, len(found["date"]), len(found["fraction"] or ""), _offset_us(zone))

    def cut(self, text: pl.Series) -> tuple[Longs, Longs]:
        """Microseconds since midnight (-1: not written like this), and where another date begins.

        All texts have the width of the pattern (in bytes). The part of the date is not checked.
        """
        width, ends = len(self.pattern), self.date + 9
        cells = _bytes_of(text, width)
        clock, wrong = self._eight(cells, ends, _HIGHEST)
        time = _worth(clock, _CLOCK_US)
        if self.digits:
            ends += 1 + self.digits
            fraction, odd = self._eight(cells, ends, {})
            wrong |= odd
            fraction >>= np.uint64(8 * (8 - self.digits))  # the first decimal is the lowest byte; zeros stand behind
            time += _worth(fraction, _FRACTION_US[: (self.digits + 1) // 2])
        for at in (self.date, *range(ends, width)):
            wrong |= cells[:, at] != ord(self.pattern[at])
        wrong |= time > _DAY_US
        if wrong.any():
            time[wrong] = -1
        changes = np.zeros(len(cells) - 1, np.bool_)
        for at in {0, self.date - 8}:  # a date has eight characters or more
            word = _words(cells, at)
            changes |= word[1:] != word[:-1]
        return time, np.concatenate([[0], np.flatnonzero(changes) + 1])

    def _eight(self, cells: Bytes, end: int, highest: Mapping[int, int]) -> tuple[Words, npt.NDArray[np.bool_]]:
        """The eight characters before a position as one number, and which stamps do not fit the pattern there.

        The first character is the lowest byte; each byte is a digit, or 0 where the pattern has none. So eight of them
        are checked and worked on at once. highest: of each digit that may not be any, by its place among the eight.
        """
        written = self.pattern[end - 8 : end]
        empty = int.from_bytes(written.replace(_DIGIT, "0").encode(), "little")
        found = _words(cells, end - 8) ^ np.uint64(empty)
        # what is added lifts every byte that is too high over 127, so that its highest bit tells
        most = [highest.get(at, 9) if written[at] == _DIGIT else 0 for at in range(8)]
        lift = int.from_bytes(bytes(127 - digit for digit in most), "little")
        lifted = found + np.uint64(lift)
        lifted |= found
        lifted &= np.uint64(0x8080808080808080)
        return found, lifted != 0


def _words(cells: Bytes, at: int) -> Words:
    """The eight characters from a position on as one number, the first one its lowest byte."""
    return np.ndarray(len(cells), "<u8", cells, at, (cells.shape[1],))


def _worth(digits: Words, pairs: Sequence[tuple[int, int]]) -> Longs:
    """The sum of some numbers of two digits. pairs: the place of each one's first digit, and what one is worth."""
    numbers = digits * np.uint64(10)
    numbers += digits >> np.uint64(8)  # each byte with the one after it
    total = np.zeros(len(digits), np.uint64)
    for at, worth in pairs:
        number = numbers >> np.uint64(8 * at)
        number &= np.uint64(0xFF)
        number *= np.uint64(worth)
        total += number
    return total.view(np.int64)


def _offset_us(zone: str) -> int | None:
    if not zone:
        return None
    if zone == "Z":
        return 0
    minutes = int(zone[1:3]) * 60 + int(zone[4:6])
    return (-minutes if zone[0] == "-" else minutes) * 60_000_000


def _bytes_of(text: pl.Series, width: int) -> Bytes:
    """The texts' bytes, a row for each text."""
    array = text.to_arrow(compat_level=pl.CompatLevel.oldest())
    _, offsets, data = array.buffers()
    begin = int(np.frombuffer(offsets, np.int64)[array.offset])
    return np.frombuffer(data, np.uint8)[begin : begin + len(text) * width].reshape(len(text), width)
