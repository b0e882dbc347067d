"""What every kind of clock hands over: a column of stamps, understood as far as possible."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

import polars as pl

SECOND_US: Final = 1_000_000
MINUTE_US: Final = 60 * SECOND_US
HOUR_US: Final = 60 * MINUTE_US
DAY_US: Final = 24 * HOUR_US

Holds = Literal["both", "date", "time"]


@dataclass(frozen=True)
class Stamps:
    """A column of stamps by the writer's clock."""

    time: pl.Series
    """Int64 microseconds since 1970 by the writer's clock (in UTC where an offset was given); null: not understood."""
    absolute: pl.Series | None
    """Boolean: this stamp carried an offset. None: none did."""
    notation: str
    """How the stamps are written, for people."""
    resolution_us: int
    """Smallest step that the notation can show [microseconds]."""
    notes: tuple[str, ...] = ()
    breaks: pl.Series | None = None
    """Boolean: the clock was set or started anew before this row. None: no sign of that in the stamps themselves."""
    undated: pl.Series | None = None
    """Boolean: a stamp is there, but it shows no instant (impossible parts, invalid bit); its time is null."""
    summer: pl.Series | None = None
    """Boolean: the stamp itself says that summer time was in force. None: none says."""
    readings: tuple[tuple[str, int], ...] = ()
    """Each reading that was possible with the number of rows it explains; the first is the one that was taken."""
    holds: Holds = "both"
    """What the stamps show: date and time, the date alone, or the time of day alone."""
    by_size: bool = False
    """Told by the size of numbers alone: weak evidence that the column is a clock at all."""
    floating: bool = False
    """The instants are not known, only the time between them: no zone applies."""

    def filter(self, mask: pl.Series) -> Stamps:
        """Only the rows for which the mask holds; a break before a row that goes belongs to the next one that stays."""
        breaks = self.breaks
        if breaks is not None:
            passed = breaks.cast(pl.UInt32).cum_sum().filter(mask)
            breaks = (passed != passed.shift(fill_value=0)).fill_null(False)
        return self._with(lambda column: column.filter(mask), breaks)

    def reverse(self) -> Stamps:
        """Last row first."""
        breaks = self.breaks
        if breaks is not None:  # a break stands before the later of two rows, whichever way they are turned
            breaks = breaks.shift(-1, fill_value=False).reverse()
        return self._with(pl.Series.reverse, breaks)

    def gather(self, at: pl.Series) -> Stamps:
        """The rows at these positions; breaks stay with their rows."""
        return self._with(lambda column: column.gather(at), None if self.breaks is None else self.breaks.gather(at))

    def _with(self, change: object, breaks: pl.Series | None) -> Stamps:
        assert callable(change)
        columns = {
            name: None if (column := getattr(self, name)) is None else change(column)
            for name in ("time", "absolute", "undated", "summer")
        }
        return replace(self, breaks=breaks, **columns)  # type: ignore[arg-type]

    def placed(self) -> Stamps:
        """Undated rows get the time of the row before them (at the beginning: after them)."""
        if self.undated is None or not self.undated.any():
            return self
        columns: dict[str, pl.Series] = {}
        for name in ("time", "absolute", "summer"):
            column = getattr(self, name)
            if column is not None:
                known = pl.select(pl.when(~self.undated).then(column))[:, 0]
                near = known.fill_null(strategy="forward").fill_null(strategy="backward")
                columns[name] = pl.select(pl.when(self.undated).then(near).otherwise(column))[:, 0]
        return replace(self, **columns)  # type: ignore[arg-type]

    def say(self, *notes: str) -> Stamps:
        """The same with more notes."""
        return replace(self, notes=(*self.notes, *notes))


def either(first: pl.Series | None, second: pl.Series | None) -> pl.Series | None:
    """Rows of either mask; None is a mask without rows."""
    if first is None or second is None:
        return second if first is None else first
    return first | second


def lines_said(mask: pl.Series, lines: pl.Series | None, shown: int = 3) -> str:
    """Where the rows of a mask stand: 'lines 4, 5, 9 and 12 more' (without lines: rows, from 1)."""
    at = mask.fill_null(False).arg_true()
    if lines is None:
        word, numbers = "row", (at.head(shown) + 1).to_list()
    else:
        word, numbers = "line", lines.gather(at.head(shown)).to_list()
    more = f" and {len(at) - shown} more" if len(at) > shown else ""
    return f"{word}{'s' if len(at) > 1 else ''} {', '.join(str(number) for number in numbers)}{more}"


def spread(values: pl.Series, count: int) -> pl.Series:
    """At most `count` values, evenly spread from first to last."""
    return values if len(values) <= count else values.gather_every(len(values) // count).head(count)


def share(mask: pl.Series) -> float:
    """Share of rows for which the mask holds; 0 for no row."""
    return float(mask.fill_null(False).sum()) / max(len(mask), 1)


def joined(names: Sequence[str]) -> str:
    """'a', 'a and b', 'a, b and c'."""
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1] if names else ""
