"""Files joined to a record: which lines of the log and which places in it their rows take, each row once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlens.reading.overlap import Places, Shared, Tape
from eventlens.reading.raw import RawTable, row_text

Spots = npt.NDArray[np.float64]
"""Places in the record, rising along it; a row that stands between two others has a place between theirs."""


@dataclass(frozen=True)
class Pieces:
    """Files in the order of the log."""

    raws: list[RawTable]
    """Without the rows that another file holds already."""
    first_rows: list[int]
    """Line of the log of each file's first data line."""
    own_rows: list[int]
    """Line of the log from which on lines are this file's alone: above first_rows where its head is repeated."""
    repeated: list[int]
    """Rows of each file that another one holds already."""
    places: pl.Series | None = None
    """Float64: place in the record of each row, where that is not the order in which the files stand."""
    parallel: bool = False
    """The files cover the same time with different names."""
    notes: tuple[str, ...] = ()


@dataclass
class Joined:
    """What grows file by file, in the order of the log."""

    tapes: Sequence[Tape]
    """Of every file; empty where no two files cover the same time."""
    raws: list[RawTable] = field(default_factory=list)
    first_rows: list[int] = field(default_factory=list)
    own_rows: list[int] = field(default_factory=list)
    repeated: list[int] = field(default_factory=list)
    places: list[Spots] = field(default_factory=list)
    """Of the rows of each table that was added; empty where there are no tapes."""
    spots: dict[int, Spots] = field(default_factory=dict)
    """Of the rows of each tape, by the number of the file; empty where there are none."""
    end: int = 0
    """Last line of the log so far."""
    place: float = 0.0
    moved: bool = False
    """Some rows stand between those of another file."""

    def begin(self, at: int, raw: RawTable) -> None:
        """Adds a file that goes on with none before it."""
        if self.tapes:
            self.spots[at] = self.place + np.arange(len(self.tapes[at].keys), dtype=np.float64)
        first = self.end + 1 if self.raws else raw.first_line
        self._add(at, raw, raw, first, first, 0)

    def go_on(self, before: int, at: int, raw: RawTable, rows: Shared, *, turned: bool) -> None:
        """Adds a file whose head is in the one before. turned: one of the two is a ring buffer, its lines are not in
        the order of the record.
        """
        tape = self.tapes[at]
        gone = tape.lines[rows.second]
        cut, alone = self._cut_off(before, at, raw, rows)
        if cut:
            self._take_back(self.tapes[before].lines[-1:], last=alone)
        # rows of one stretch that is alike in both files have the lines that they have there
        alike = (rows.whole or alone) and not turned
        head = int(gone.max()) - raw.first_line + 1 if alike else 0
        self.spots[at] = self._beside(before, at, rows)
        self.moved |= int(rows.second[-1]) + 1 > len(rows.second)
        self._add(at, raw, without(raw, gone), self.end + 1 - head, self.end + 1, len(gone))

    def leave_out(self, at: int, raw: RawTable) -> None:
        """Adds a file whose rows all stand in another one: it has no line of its own."""
        lines = self.tapes[at].lines
        self.raws.append(without(raw, lines))
        self.first_rows.append(self.end + 1)
        self.own_rows.append(self.end + 1)
        self.repeated.append(len(lines))

    def pieces(self, *, moved: bool) -> Pieces:
        """The files as they were added."""
        places = pl.Series(np.concatenate(self.places)) if moved or self.moved else None
        return Pieces(self.raws, self.first_rows, self.own_rows, self.repeated, places)

    def _add(self, at: int, file: RawTable, kept: RawTable, first: int, own: int, repeated: int) -> None:
        self.raws.append(kept)
        self.first_rows.append(first)
        self.own_rows.append(own)
        self.repeated.append(repeated)
        lines = max(file.last_line - file.first_line + 1, 0)
        self.end = first + lines - 1 if lines else self.end
        if not self.tapes:  # each file stands behind the one before
            return
        self.place += len(self.spots[at])
        by_line = np.argsort(self.tapes[at].lines, kind="stable")
        index = np.searchsorted(self.tapes[at].lines[by_line], kept.lines.cast(pl.Int64).to_numpy())
        self.places.append(self.spots[at][by_line[index]])

    def _beside(self, before: int, at: int, rows: Shared) -> Spots:
        """Places of a file's rows: those in the common stretch stand beside their neighbours there."""
        spots: Spots = self.place + np.arange(len(self.tapes[at].keys), dtype=np.float64)
        partner = self.spots[before][rows.first]
        inside = np.arange(int(rows.second[-1]) + 1)
        index = np.searchsorted(rows.second, inside, side="right") - 1
        spots[inside] = np.where(index < 0, partner[0] - 0.5, partner[np.maximum(index, 0)] + 0.5)
        spots[rows.second] = partner
        return spots

    def _cut_off(self, before: int, at: int, raw: RawTable, rows: Shared) -> tuple[bool, bool]:
        """Whether the last row of the file before is the beginning of the row that goes on here, and all else alike."""
        first, second = self.tapes[before], self.tapes[at]
        if rows.whole or int(rows.first[-1]) != len(first.keys) - 2 or int(rows.second[-1]) + 1 >= len(second.keys):
            return False, False
        short = _text(self.raws[-1], int(first.lines[-1]))
        full = _text(raw, int(second.lines[rows.second[-1] + 1]))
        alone = len(rows.first) == int(rows.first[-1] - rows.first[0]) + 1 == int(rows.second[-1]) + 1
        cut = full.startswith(short.rstrip(";,\t "))
        return cut, cut and alone

    def _take_back(self, lines: Places, *, last: bool) -> None:
        """Takes rows out of the file that was added last: the next one holds them in full."""
        raw = self.raws[-1]
        kept = ~np.isin(raw.lines.cast(pl.Int64).to_numpy(), lines)
        self.raws[-1] = without(raw, lines)
        self.places[-1] = self.places[-1][kept]
        self.repeated[-1] += len(lines)
        self.end -= 1 if last else 0


def without(raw: RawTable, lines: Places) -> RawTable:
    """The file without the rows of these lines; names that stand again between them are gone with them."""
    again = tuple(line for line in raw.headers_again if not lines.min() < line < lines.max())
    gone = pl.Series(lines).implode()
    kept = ~raw.lines.cast(pl.Int64).is_in(gone)
    rejected = raw.rejected.filter(~pl.col("row").cast(pl.Int64).is_in(gone))
    return replace(
        raw, frame=raw.frame.filter(kept), lines=raw.lines.filter(kept), rejected=rejected, headers_again=again
    )


def _text(raw: RawTable, line: int) -> str:
    """The row of a line as a text."""
    delimiter = raw.dialect.delimiter if raw.dialect else None
    row = row_text(raw.frame.filter(raw.lines == line), delimiter)
    return str(row[0]) if len(row) else str(raw.rejected.filter(pl.col("row") == line)["text"][0])
