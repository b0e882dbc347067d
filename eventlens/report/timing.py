"""A timing diagram in plain characters: a line for each signal, a column for each piece of time.

`#` on, `.` off, `?` not known, `x` changed more than once within the column. A measured value is a digit: its share of
the largest one in the picture, in ninths.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Final

import numpy as np
import numpy.typing as npt
import polars as pl

LEGEND: Final = "# on, . off, ? not known, x changed more than once"
TICK: Final = 10
"""Columns from one mark of the axis to the next."""
_WIDTHS: Final = (
    *(step * 10**power for power in range(7) for step in (1, 2, 5)),
    *(round(1e6 * seconds) for seconds in (10, 20, 30)),
    *(round(60e6 * minutes) for minutes in (1, 2, 5, 10, 20, 30, 60, 120, 240, 360, 720, 1440)),
)
"""Widths of a column [us] that make marks at round times."""
_UNITS: Final = ((1.0, "s"), (60.0, "min"), (3600.0, "h"), (86400.0, "days"))
_READABLE: Final = 120.0
"""Marks of the axis beyond this are written in the next unit (common practice)."""

_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)

Instants = npt.NDArray[np.int64]


@dataclass(frozen=True)
class Grid:
    """Columns of equal width. Times in whole microseconds since 1970, UTC."""

    first: int
    column: int
    count: int
    zero: int
    """The instant from which the axis counts; it lies on the border of a column."""

    @classmethod
    def around(cls, start: datetime, end: datetime, pad_s: float, most: int) -> Grid:
        """At most `most` columns over start - pad to end + pad, of a round width; whole days where it is very long."""
        zero, last, pad = _micros(start), _micros(end), round(pad_s * 1e6)
        wanted = (last - zero + 2 * pad) / max(most - 2, 1)
        day = _WIDTHS[-1]
        column = next((width for width in _WIDTHS if width >= wanted), day * math.ceil(wanted / day))
        before = math.ceil(pad / column)
        count = min(before + math.ceil((last - zero + pad) / column) + 1, most)
        return cls(zero - before * column, column, count, zero)

    @property
    def borders(self) -> Instants:
        """The borders of the columns, one more than columns."""
        return self.first + self.column * np.arange(self.count + 1, dtype=np.int64)

    @property
    def span(self) -> tuple[datetime, datetime]:
        """Beginning and end of the picture."""
        return _instant(self.first), _instant(self.first + self.column * self.count)

    def axis(self) -> str:
        """Marks at every tenth column, counted from zero, in a unit that suits the length."""
        longest = self.column * self.count / 1e6
        size, unit = next((u for u in _UNITS if longest / u[0] <= _READABLE), _UNITS[-1])
        line = [" "] * (self.count + TICK)
        at = -((self.zero - self.first) // self.column // TICK) * TICK  # the marks to the left of zero
        begin = (self.zero - self.first) // self.column + at
        for column in range(begin, self.count, TICK):
            value = (self.first + column * self.column - self.zero) / 1e6 / size
            mark = f"{value:.6g}" + (f" {unit}" if column == begin else "")
            line[column : column + len(mark)] = mark
        return "".join(line)[: self.count + TICK].rstrip()

    def mark(self, start: datetime, end: datetime) -> str:
        """A line that is `=` from start to end, at least one column wide."""
        begin = max((_micros(start) - self.first) // self.column, 0)
        until = max(-((self.first - _micros(end)) // self.column), begin + 1)
        return (" " * begin + "=" * (until - begin))[: self.count]


def lane_of_states(states: pl.DataFrame, grid: Grid) -> str:
    """One line for the known states of one signal: (on, start, end, start_seen, end_seen), by start."""
    if states.is_empty():
        return "?" * grid.count
    on = states.filter("on")
    known_t, on_t = _covered(states, grid), _covered(on, grid)
    changes = _counted(on.filter("start_seen")["start"], grid) + _counted(on.filter("end_seen")["end"], grid)
    marks = np.where(on_t * 2 >= np.maximum(known_t, 1), "#", ".")
    marks = np.where(changes > 1, "x", marks)
    return "".join(np.where(known_t * 2 < grid.column, "?", marks))


def lane_of_values(values: pl.DataFrame, grid: Grid) -> tuple[str, float | None]:
    """One line for a measured signal (time, value), and the value that a 9 stands for; None where none was measured."""
    start, end = grid.span
    before = values.filter(pl.col("time") < start).tail(1).with_columns(time=pl.lit(start, values.schema["time"]))
    seen = pl.concat([before, values.filter(pl.col("time").is_between(start, end, closed="left"))])
    seen = seen.filter(pl.col("value").is_finite())
    top = float(seen["value"].abs().max() or 0.0) if seen.height else None  # type: ignore[arg-type]
    if top is None:
        return "?" * grid.count, None
    column = (_instants(seen["time"]) - grid.first) // grid.column
    highest = dict(
        pl.DataFrame({"column": column, "value": seen["value"]}).group_by("column").agg(pl.col("value").max()).rows()
    )
    line, last = [], None
    for number in range(grid.count):
        last = highest.get(number, last)
        line.append("?" if last is None else str(round(9 * abs(last) / top) if top else 0))
    return "".join(line), top


def block(lanes: Sequence[tuple[str, str]], grid: Grid) -> list[str]:
    """Labelled lines under their axis."""
    wide = max((len(label) for label, _ in lanes), default=0) + 2
    return [" " * wide + grid.axis(), *(f"{label:<{wide}}{line}".rstrip() for label, line in lanes)]


def _covered(intervals: pl.DataFrame, grid: Grid) -> Instants:
    """The time [us] that intervals (by start, apart) cover of each column."""
    starts, ends = _instants(intervals["start"]), _instants(intervals["end"])
    if not len(starts):
        return np.zeros(grid.count, np.int64)
    borders = grid.borders
    whole = np.concatenate([[0], np.cumsum(ends - starts)])
    begun = np.searchsorted(starts, borders, side="right")
    beyond = np.where(begun > 0, np.maximum(ends[np.maximum(begun - 1, 0)] - borders, 0), 0)
    covered: Instants = np.diff(whole[begun] - beyond)
    return covered


def _counted(instants: pl.Series, grid: Grid) -> Instants:
    """How many instants lie in each column."""
    at = np.sort(_instants(instants))
    return np.diff(np.searchsorted(at, grid.borders, side="left"))


def _instants(times: pl.Series) -> Instants:
    return times.dt.timestamp("us").to_numpy()


def _micros(instant: datetime) -> int:
    return (instant - _EPOCH) // timedelta(microseconds=1)


def _instant(micros: int) -> datetime:
    return _EPOCH + timedelta(microseconds=micros)
