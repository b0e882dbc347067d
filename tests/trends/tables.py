"""Weekly results written by hand."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

import polars as pl

from eventlens import schema
from eventlens.trends import Weeks, gather

FIRST = date(2025, 12, 15)
"""Monday of 2025-W51: a history from here on crosses the end of the year."""


def week(number: int) -> str:
    """The ISO week of a number, from 0."""
    return f"{FIRST + timedelta(weeks=number):%G-W%V}"


def counted(
    machine: str,
    counts: Sequence[int],
    pattern: str = "drop_out",
    *,
    uses: Sequence[float] | float = 1000.0,
    first: int = 0,
    **columns: Any,
) -> Weeks:
    """A pattern of the hoist that occurred so often in each week, each time for itself, in so many starts."""
    amounts = [uses] * len(counts) if isinstance(uses, float) else list(uses)
    rows = [
        {
            "machine": machine,
            "week": week(first + number),
            "pattern": pattern,
            "motion": "hoist",
            "exposure": "start",
            "amount": float(amount),
            "count": count,
            "certain": count,
            "most": min(count, 1),
            "variance": float(count),
            "observed_h": 40.0,
            "running_h": 5.0,
            "starts": round(amount),
            "lifts": 200.0,
            "lack": None,
            **columns,
        }
        for number, (count, amount) in enumerate(zip(counts, amounts, strict=True))
    ]
    return Weeks(pl.DataFrame(rows, schema=schema.WEEKS.schema), schema.WEEK_TIMES.empty())


def timed(machine: str, medians: Sequence[float], time: str = "release_time_s", step_s: float = 0.01) -> Weeks:
    """A measured time of the hoist in each week."""
    rows = [
        {
            "machine": machine,
            "week": week(n),
            "motion": "hoist",
            "time": time,
            "n": 500,
            "median_s": s,
            "step_s": step_s,
        }
        for n, s in enumerate(medians)
    ]
    return Weeks(schema.WEEKS.empty(), pl.DataFrame(rows, schema=schema.WEEK_TIMES.schema))


def together(*parts: Weeks) -> Weeks:
    return gather(parts)
