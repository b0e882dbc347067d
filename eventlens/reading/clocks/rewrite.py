"""Other ways of writing a stamp -> the plain one: date, blank, hours:minutes:seconds, half of the day, zone.

Each way is recognised by a pattern on a sample and then applied to the whole column.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import polars as pl

from eventlens.reading.clocks import halves, offsets

_ENOUGH: Final = 0.3
"""Share of a sample that must be written in a way for the column to be rewritten (common practice, no source)."""
_CLOCK: Final = r"\d{1,2}:\d{1,2}(?::\d{1,2}(?:[.,]\d+)?)?"


class Way(NamedTuple):
    """One way of writing: its pattern, what to put in place of it, an example."""

    pattern: str
    plain: str
    example: str


WAYS: Final = (
    Way(r"[\x{a0}\x{2000}-\x{200a}\x{202f}\x{3000}]", " ", "05/13/2024 12:05\u202fPM"),
    Way(r"[\x{200e}\x{200f}\x{feff}]", "", "\u200e05/13/2024"),
    Way(r"^\s*[\[(<{\"'](.*\d.*?)[\])>}\"']\s*[:,]?\s*$", "$1", "[2024-05-01 06:00:00]"),
    Way(r"^\s*(?i:L?DT|L?DATE_AND_TIME)#(\d{4}-\d{1,2}-\d{1,2})-(.*)$", "$1 $2", "DT#2024-5-1-6:0:0"),
    Way(r"(?i)\b(?:L?DATE|L?D|L?TIME_OF_DAY|L?TOD)#", "", "D#2024-05-01 TOD#06:00:00.25"),
    Way(r"^(\d{4}-\d\d-\d\d)-(\d\d)\.(\d\d)\.(\d\d)(.*)$", "$1 $2:$3:$4$5", "2024-05-01-06.00.00.250000"),
    Way(r"^\s*(\d{1,2}/[^\W\d_]{3,}/\d{4}):(\d.*)$", "$1 $2", "01/May/2024:06:00:00 +0200"),
    Way(r"^\s*(\d{4}):(\d\d):(\d\d)([T\s])", "$1-$2-$3$4", "2024:05:01 06:00:00"),
    Way(r"^\s*(\d{4}-\d\d-\d\d)T(\d\d)(Z|[+-]\d\d(?::?\d\d)?)?\s*$", "$1 $2:00$3", "2024-05-01T06Z"),
    Way(
        rf"^\s*(?:[^\W\d_]+\.?,?\s+)?([^\W\d_]+\.?\s+\d{{1,2}}),?\s+({_CLOCK})\s*({offsets.PATTERN})?\s+(\d{{4}})\s*$",
        "$1 $4 $2 $3",
        "Wed May  1 06:00:00 CEST 2024",
    ),
    Way(
        rf"^\s*({_CLOCK}(?:\s*{halves.ANY})?)[\s,;]+"
        r"(\d{1,4}[-./]\s?\d{1,2}[-./]\s?\d{1,4}|\d{1,2}\.?[-\s]+[^\W\d_]{3,}.*\d|[^\W\d_]{3,}\.?\s+\d{1,2},?\s+\d{4})\s*$",
        "$2 $1",
        "06:00:00 01.05.2024",
    ),
    Way(
        r"^(.*\d[T\s,;_]+)(\d{1,2})(?:\.|-|\s?[hH]\s?)(\d{2})(?:\.|-|:|\s?m(?:in)?\s?)(\d{2}(?:[.,]\d+)?)(?:\s?s\b)?(.*)$",
        "$1$2:$3:$4$5",
        "01.05.2024 06.00.00",
    ),
    Way(r"^\s*(\d{1,2})\.(\d{2})\.(\d{2})[.,](\d{3,9})\s*$", "$1:$2:$3.$4", "06.00.00.250"),
    Way(
        r"^\s*(\d{1,2})\s?[hH]\s?(\d{2})(?::|\s?m(?:in)?\s?)(\d{2}(?:[.,]\d{1,9})?)\s?s?\s*$",
        "$1:$2:$3",
        "06h00m00s",
    ),
    Way(
        r"^(.*\d[./-]\d+[T\s,;_]+)([01]\d|2[0-3])([0-5]\d)([0-5]\d)(\.\d+)?\s*$",
        "$1$2:$3:$4$5",
        "01.05.2024 060000",
    ),
    Way(r"^(.*\d[T\s,;_]+)(\d{1,2})\s?h\s?(\d{2})\s*$", "$1$2:$3", "01/05/2024 6h05"),
)


def rewritten(text: pl.Series, sample: pl.Series) -> pl.Series:
    """The column with every way of writing that its sample shows turned into the plain one."""
    for way in WAYS:
        shown = sample.str.contains(way.pattern)
        if float(shown.mean() or 0) < _ENOUGH:  # type: ignore[arg-type]
            continue
        text = text.str.replace_all(way.pattern, way.plain)
        sample = sample.str.replace_all(way.pattern, way.plain)
    return text
