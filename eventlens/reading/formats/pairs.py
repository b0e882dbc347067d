"""Lines of pairs: a stamp, words if there are any, and what changed; or pairs alone, one of them the stamp.

    2026-03-02 06:00:00.120 K11=1
    [02.03.2026 06:00:00,120] INFO io: K11 = ON
    time=2026-03-02T06:00:00.120Z tag=K11 state=1

Columns: time (where a stamp begins the lines), the pairs, message. See `_pairs` for what becomes a column. `row` is the
line. Lines parted by semicolons, tabs or bars are a table, whatever their cells hold.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final

import polars as pl

from eventlens.reading.formats._header import kind_of
from eventlens.reading.formats._pairs import KEY, PAIR, table_of_records
from eventlens.reading.formats._text import is_text, lines_of_head
from eventlens.reading.profile import Profile
from eventlens.reading.raw import RawTable

NAME = "text of pairs"
"""After the system log, whose messages may be pairs too: formats are asked by name."""
UNDELIMITED = True
NO_RECORD: Final = "no record of a stamp and pairs"

_DATE: Final = (
    r"(?:\d{1,4}[-./]\d{1,2}[-./]\d{1,4}|\d{1,2}[-. ][A-Za-z]{3}[-. ]\d{2,4}|[A-Za-z]{3} {1,2}\d{1,2} \d{4}|\d{8})"
)
_CLOCK: Final = (
    r"\d{1,2}[:.]\d{2}(?:[:.]\d{2}(?:[.,:]\d{1,9})?)?(?: ?[AaPp]\.?[Mm]\.?)?(?: ?(?:Z|[+-]\d{2}:?\d{2}|UTC|GMT)\b)?"
)
_COUNT: Final = r"\d{10}(?:[.,]?\d{3,9})?"
_STAMP: Final = rf"(?:{_DATE}(?:T|,? |_){_CLOCK}|{_CLOCK}|{_COUNT})"
_RECORD: Final = rf"^\s*[\[(<]?(?P<time>{_STAMP})[\])>]?[:,]?(?:\s+(?s:(?P<message>.*)))?$"
_BEGINS: Final = re.compile(rf"\s*[\[(<]?{_STAMP}[\])>]?[:,]?(?:\s|$)")
_PAIR: Final = re.compile(PAIR)
_ALONE: Final = re.compile(rf"{KEY}(?:=| = )")
_CELLS: Final = re.compile(r"[;\t|]")
_LOOKED_AT: Final = 40
_MOST: Final = 0.8
"""Share of the first lines that must be records, and must hold a pair; others may say that something was started anew
(common practice, no source)."""


def sniff(path: Path, head: bytes) -> bool:
    """Text whose first lines mostly begin with a stamp and hold pairs, or are pairs with a stamp among them."""
    if not is_text(head):
        return False
    lines = [line[:4096] for line in lines_of_head(head) if not line.startswith((" ", "\t"))][:_LOOKED_AT]
    tables = sum(bool(_CELLS.search(line)) for line in lines)
    if not lines or tables > (1 - _MOST) * len(lines):
        return False
    paired = sum(bool(_PAIR.search(line)) for line in lines)
    return sum(map(_is_record, lines)) >= _MOST * len(lines) and paired >= _MOST * len(lines)


def _is_record(line: str) -> bool:
    if _BEGINS.match(line):
        return True
    values = [value.strip('"') for _, value in _PAIR.findall(line)]
    return len(values) > 1 and bool(_ALONE.match(line)) and any(kind_of(value) == "time" for value in values)


def read(path: Path, profile: Profile, like: RawTable | None = None) -> RawTable:
    """The records as a table of texts; what is no record is set aside with its line."""
    return table_of_records(path, NAME, profile, NO_RECORD, _parts, like, prose=False)


def _parts(lines: pl.DataFrame) -> pl.DataFrame:
    """The stamp and the rest of each line; the whole line where only pairs tell the time."""
    found = lines.select(pl.col("text").str.extract_groups(_RECORD).alias("g"))["g"].struct.unnest()
    if found["time"].null_count() == found.height:
        whole = pl.col("text").str.contains(PAIR)
        return lines.select(pl.lit(None, pl.String).alias("time"), pl.when(whole).then("text").alias("message"))
    return found
