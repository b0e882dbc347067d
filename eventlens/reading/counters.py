"""A column that counts the rows of a record one by one: it proves what the clock alone cannot."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import polars as pl

from eventlens.reading.coded import text_of

HEAD: Final = 1000
"""Rows on which a counter is recognised."""
FEWEST: Final = 4
"""Rows that a counter has at least (common practice, no source)."""
COUNTS: Final = 0.9
"""Share of steps that go up by one (common practice, no source)."""
_WRAPS: Final = frozenset({*(2**bits - 1 for bits in range(3, 33)), *(10**digits - 1 for digits in range(1, 10))})
"""Values after which counters usually begin again without a restart."""


def counter_columns(frame: pl.DataFrame, columns: Sequence[str]) -> tuple[str, ...]:
    """The columns that count rows one by one, by the head of the table."""
    head = frame.select(columns).head(HEAD)
    return tuple(name for name in columns if head.height >= FEWEST and _counts(head[name]))


def _counts(column: pl.Series) -> bool:
    number = count_of(column) if column.dtype != pl.Float64 else column
    if number.null_count():
        return False
    return int((number.diff().drop_nulls() == 1).sum()) >= COUNTS * (len(number) - 1)


def count_of(column: pl.Series) -> pl.Series:
    """The counter as Int64; null where it holds none."""
    return text_of(column).cast(pl.Int64, strict=False)


def restarts(count: pl.Series) -> pl.Series:
    """Positions at which a counter begins again from 0 or 1, other than where it usually overflows."""
    before = count.shift()
    again = ((count <= 1) & (before > count)).fill_null(False)
    at = again.arg_true()
    if at.is_empty():
        return at
    last = before.gather(at)
    wraps = last.is_in(list(_WRAPS))
    if len(last) > 1 and last.n_unique() == 1:  # it always overflows at the same number
        return at.clear()
    return at.filter(~wraps)


def runs_on(count: pl.Series, at: pl.Series) -> pl.Series:
    """Of these positions, those at which the counter goes up by exactly one: no row is missing there."""
    values = count.to_numpy() if not count.null_count() else count.fill_null(-(1 << 62)).to_numpy()
    places = at.to_numpy()
    return at.filter(pl.Series(np.equal(values[places] - values[places - 1], 1)))
