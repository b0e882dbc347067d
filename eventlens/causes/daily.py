"""The test of the upper limit before work: without the limit in the log it looks like a drop-out once a shift."""

from __future__ import annotations

from typing import Final

import polars as pl

from eventlens.causes.subject import Subject

BEGIN_MIN: Final = 15
"""The limit is tried within so long of the start of a shift [min] (common practice: before the first lift)."""
LIMIT: Final = "hoist.raise.limit"


def but_tests(subject: Subject, moments: pl.DataFrame) -> pl.DataFrame:
    """Losses (subject.MOMENTS) of the hoist without those that may be the test of the upper limit, by time.

    Where the limit is logged all are kept. Else the first in raise within BEGIN_MIN of the start of each shift is set
    aside, by the first run of each day where no shifts are known. If nothing else is left, all are kept: then this is
    what there is to be explained.
    """
    if LIMIT in subject.carried or moments.is_empty():
        return moments
    numbered = moments.sort("at", maintain_order=True).with_row_index("_n")
    raised = numbered.filter((pl.col("direction") == "raise") & _at_begin(subject))
    hour = (subject.local_minute("at") // 60).alias("_hour")
    tests = raised.with_columns(hour, _day=subject.local_day("at"))
    tests = tests.unique(["_day", "_hour"], keep="first", maintain_order=True)
    left = numbered.join(tests.select("_n"), on="_n", how="anti").sort("_n").drop("_n")
    return moments if left.is_empty() else left


def _at_begin(subject: Subject) -> pl.Expr:
    """Whether a moment `at` lies at the start of a shift."""
    if subject.shifts:
        minute = subject.local_minute("at")
        begins = [int(shift[:2]) * 60 + int(shift[3:5]) for shift in subject.shifts]
        return pl.any_horizontal(*((minute - begin) % (24 * 60) < BEGIN_MIN for begin in begins))
    first = subject.runs.group_by(day=subject.local_day()).agg(first=pl.col("start").min())
    began = subject.local_day("at").replace_strict(first["day"], first["first"], default=None)
    return (pl.col("at") - began < pl.duration(minutes=BEGIN_MIN)).fill_null(value=False)
