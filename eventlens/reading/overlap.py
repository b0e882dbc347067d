"""Rows that two files both hold: the tail of one export at the head of the next, or one export inside another.

A file is a tape of keys, one for each of its rows in the order of the file. Rows are the same if stamp, name and value
are; runs of them are the same if they also follow each other alike. So a row that a file holds twice stays twice: it
is never a question of which rows there are, only of where one tape goes on with another.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlens.reading.coded import by_text
from eventlens.reading.raw import RawTable

HEADS: Final = 3
"""Rows at the head of a file of which one must stand in another file, so that the two are compared."""
ALIKE: Final = 0.9
"""Share of the rows of the common stretch that must be in both files where not all are (common practice, no source)."""
TRIES: Final = 1000
"""Places in a file at which the head of another may begin: a bound of the work."""

NO_TIME: Final = -(1 << 62)

Keys = npt.NDArray[np.uint64]
Places = npt.NDArray[np.int64]


@dataclass(frozen=True)
class Shared:
    """Rows that stand in both of two tapes: their places in the first and in the second, both rising."""

    first: Places
    second: Places
    whole: bool
    """All rows of the common stretch are in both."""


@dataclass(frozen=True)
class Tape:
    """The rows of one file in its order: those of its table and those that its format set aside."""

    keys: Keys
    lines: Places
    """Physical lines."""
    times: Places
    """Stamps [microseconds]; NO_TIME where there is none."""

    @classmethod
    def of(
        cls, raw: RawTable, time: pl.Series, time_columns: Sequence[str], columns: Sequence[str], seam: int = 0
    ) -> Tape:
        """time: Int64 microseconds of each row of the table, null where it was not understood.

        columns hold name and value; seam: line of the oldest row of a ring buffer (0: the file begins with it).
        """
        cells = [by_text(raw.frame[name], _cell).fill_null("") for name in columns]
        unread = [pl.when(pl.col("_t").is_null()).then(pl.col(name).cast(pl.String)) for name in time_columns]
        rows = raw.frame.select(time_columns).with_columns(time.alias("_t"))
        rows = rows.select("_t", *(part.alias(f"_u{at}") for at, part in enumerate(unread)))
        rows = rows.with_columns(cell.alias(f"_c{at}") for at, cell in enumerate(cells))
        keys = rows.select(pl.struct(pl.all()).hash(seed=0))[:, 0].to_numpy()
        lines = raw.lines.cast(pl.Int64).to_numpy()
        times = time.fill_null(NO_TIME).to_numpy()
        if not raw.rejected.is_empty():
            keys = np.concatenate([keys, raw.rejected["text"].hash(seed=1).to_numpy()])
            lines = np.concatenate([lines, raw.rejected["row"].cast(pl.Int64).to_numpy()])
            times = np.concatenate([times, np.full(raw.rejected.height, NO_TIME)])
            at = np.argsort(lines, kind="stable")
            keys, lines, times = keys[at], lines[at], times[at]
        if seam:
            turn = -int(np.searchsorted(lines, seam))
            keys, lines, times = np.roll(keys, turn), np.roll(lines, turn), np.roll(times, turn)
        return cls(keys, lines, times)


def _cell(column: pl.Series) -> pl.Series:
    """A cell as a text that is the same in every container: 1, '1', ' 1.0' and true alike."""
    if column.dtype == pl.Boolean:
        column = column.cast(pl.Int8)
    text = column.cast(pl.String, strict=False).str.strip_chars().str.to_lowercase()
    number = text.cast(pl.Float64, strict=False).cast(pl.String)
    return pl.select(pl.coalesce(number, text).fill_null(""))[:, 0]


def shared_rows(tapes: Sequence[Tape]) -> dict[tuple[int, int], Shared]:
    """Pairs of files (first, second) of which the second begins inside the first."""
    heads = np.concatenate([tape.keys[:HEADS] for tape in tapes]) if tapes else np.empty(0, np.uint64)
    owner = np.concatenate([np.full(len(tape.keys[:HEADS]), at) for at, tape in enumerate(tapes)])
    found: dict[tuple[int, int], Shared] = {}
    for at, tape in enumerate(tapes):
        known = np.isin(heads, tape.keys)
        for other in np.unique(owner[known]).tolist():
            if other != at and (rows := _shared(tape.keys, tapes[other].keys)) and _is_proof(rows, tape, tapes[other]):
                found[at, other] = rows
    return found


def _is_proof(rows: Shared, first: Tape, second: Tape) -> bool:
    """Rows of one instant alone may be real repeats: they prove nothing where a file itself holds one of them twice."""
    times = np.unique(first.times[rows.first])
    times = times[times != NO_TIME]
    if len(times) != 1:
        return len(times) > 1
    for tape in (first, second):
        keys = tape.keys[tape.times == times[0]]
        if len(np.unique(keys)) < len(keys):
            return False
    return True


def _shared(first: Keys, second: Keys) -> Shared | None:
    for begin in np.flatnonzero(first == second[0])[:TRIES].tolist():
        length = min(len(first) - begin, len(second))
        if np.array_equal(first[begin : begin + length], second[:length]):
            return Shared(np.arange(begin, begin + length), np.arange(length), whole=True)
    return _nearly_shared(first, second)


def _nearly_shared(first: Keys, second: Keys) -> Shared | None:
    """As above where some rows of the common stretch are in one of the files only: one was cut off or came late."""

    def numbered(keys: Keys, place: str) -> pl.DataFrame:
        frame = pl.DataFrame({"key": keys}).with_row_index(place)
        return frame.with_columns(again=pl.int_range(pl.len()).over("key"))

    both = numbered(first, "a").join(numbered(second, "b"), on=["key", "again"]).sort("a")
    both = both.filter(pl.col("b") == pl.col("b").cum_max())
    if both.height < 2:
        return None
    a, b = both["a"].cast(pl.Int64).to_numpy(), both["b"].cast(pl.Int64).to_numpy()
    ended = b[-1] == len(second) - 1
    stretch = max((int(a[-1]) + 1 if ended else len(first)) - int(a[0]), int(b[-1]) + 1)
    # one row that was cut off at the edge of an export is always allowed
    return Shared(a, b, whole=False) if len(a) >= min(ALIKE * stretch, stretch - 1) else None


def chains(shared: dict[tuple[int, int], Shared], sizes: Sequence[int]) -> tuple[list[list[int]], dict[int, int]]:
    """Files that go on with each other, and files that lie wholly in another one (number -> that file).

    sizes: rows of each file. Of several files that hold the head of a file, the one with most of its rows goes before.
    """
    inside: dict[int, int] = {}
    for (first, second), rows in shared.items():
        if len(rows.second) == sizes[second] and first not in inside and second not in inside:
            inside[second] = first
    after: dict[int, int] = {}
    before: dict[int, int] = {}
    links = [(-len(rows.first), pair) for pair, rows in shared.items() if not inside.keys() & set(pair)]
    for _, (first, second) in sorted(links):
        if first not in after and second not in before and _last(after, second) != first:
            after[first], before[second] = second, first
    found = []
    for begin in (at for at in range(len(sizes)) if at not in inside and at not in before):
        found.append([begin])
        while found[-1][-1] in after:
            found[-1].append(after[found[-1][-1]])
    return found, inside


def _last(after: dict[int, int], at: int) -> int:
    """The end of the chain that a file is in."""
    while at in after:
        at = after[at]
    return at
