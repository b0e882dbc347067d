"""File order is evidence: what it proves about the order of the record, and where the clock stepped.

Rising: nothing is done. Newest first: turned round, equal stamps too. One step back and the last stamp not after the
first: a ring buffer dumped from its first slot, turned so that the oldest row comes first (unless a running counter
proves the order). Small steps back are late arrivals and are sorted in, stably. Larger ones are clock steps: the
order of the record is kept and a new segment begins.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import polars as pl

YEAR_US: Final = 365 * 86_400_000_000
"""A jump forward by more than this is taken for a clock that was set, not for a pause (common practice)."""
DAY_US: Final = 86_400_000_000
"""A step back by more than this is a clock that was lost; the jump that brings it back is a step too."""
LEAST_UNDONE_US: Final = 600_000_000
UNDONE: Final = 0.1
"""A jump forward of at least ten minutes is a clock step if a later step back takes it away again but for a rest: the
time that passed at both. It is at most a tenth of the jump and ten minutes (common practice, no source)."""
STEP_BACK: Final = "set back"
STEP_YEAR: Final = "set forward: no record for more than a year, or a step back was undone"


NEWEST_FIRST_NOTE: Final = "The record is newest first: its rows were turned round."
RING_NOTE: Final = "The record is a ring buffer dumped from its first slot: it was turned to its oldest row."


def newest_first(time: pl.Series, breaks: pl.Series | None = None) -> bool:
    """Whether at least nine of ten steps go back (common practice). time: Int64 microseconds, no nulls.

    breaks: rows before which the clock is known to have stepped; these steps prove no order.
    """
    step = time.diff() if breaks is None else time.diff().filter(~breaks)
    step = step.drop_nulls()
    down = int((step < 0).sum())
    return down > 0 and int((step > 0).sum()) <= 0.1 * down


def ring_start(time: pl.Series, late_us: int, counts_up: Callable[[], bool] = lambda: False) -> int:
    """Position of the oldest row of a ring buffer; 0 if the rows are none.

    `counts_up` tells whether a running counter in the rows proves that they stand in the order of the record.
    """
    back = (time.diff() < -late_us).arg_true()
    if len(back) == 1 and time[-1] <= time[0] and not counts_up():
        return int(back[0])
    return 0


@dataclass(frozen=True)
class Order:
    """Rows in the order of the record. `move` (positions) is None where they stand in it already."""

    move: pl.Series | None
    time: pl.Series
    steps: pl.Series
    """Positions (in the new order) of the rows before which the clock stepped."""
    reordered: int


def settle(time: pl.Series, late_us: int, breaks: pl.Series | None = None) -> Order:
    """Sorts late arrivals in and finds clock steps. time: Int64 microseconds, no nulls, arranged.

    breaks: rows before which the clock is known to have stepped, whatever the time shows.
    """
    none = pl.Series(dtype=pl.UInt32)
    if time.is_sorted() and not _pauses_a_year(time) and (breaks is None or not breaks.any()):
        return Order(None, time, none, 0)
    step = time.diff()
    jumps = ((step < -late_us) | (step > YEAR_US)).fill_null(False)
    if breaks is not None:
        jumps = jumps | (breaks & step.is_not_null())
    if (undone := _undone(time, jumps)).len():
        jumps = jumps.scatter(undone, True)
    frame = pl.DataFrame({"t": time, "stretch": jumps.cast(pl.UInt32).cum_sum()})
    late = frame.select((pl.col("t") < pl.col("t").cum_max().over("stretch")).sum()).item()
    if not late:
        return Order(None, time, jumps.arg_true(), 0)
    move = frame.select(pl.arg_sort_by("stretch", "t", maintain_order=True))["stretch"]
    return Order(move, time.gather(move), jumps.arg_true(), int(late))


def _pauses_a_year(time: pl.Series) -> bool:
    """Whether two rows of a rising record lie more than a year apart."""
    if len(time) < 2 or int(time[-1]) - int(time[0]) <= YEAR_US:
        return False
    return int(time.diff().max()) > YEAR_US  # type: ignore[arg-type]


def _undone(time: pl.Series, jumps: pl.Series) -> pl.Series:
    """Positions of jumps forward that a step back answers: a wrong clock was set, and set right again later.

    Looked at is the longest silence before each step back, and after each one that lost more than a day.
    """
    frame = pl.DataFrame({"t": time, "gap": time.diff(), "stretch": jumps.cast(pl.UInt32).cum_sum()}).with_row_index()
    inner = frame.filter(pl.col("stretch") == pl.col("stretch").shift())
    longest = inner.sort("gap", descending=True, maintain_order=True).unique("stretch", keep="first")
    ends = frame.group_by("stretch").agg(first=pl.col("t").first(), last=pl.col("t").last())
    near = (
        ends.join(longest.select("stretch", "index", "gap", back_at="t"), on="stretch", how="left")
        .sort("stretch")
        .with_columns(
            lost_after=pl.col("last") - pl.col("first").shift(-1),
            lost_before=pl.col("last").shift() - pl.col("first"),
            next=pl.col("first").shift(-1),
            old=pl.col("last").shift(),
        )
    )
    set_wrong = (
        (pl.col("gap") >= LEAST_UNDONE_US)
        & (pl.col("gap") - pl.col("lost_after")).is_between(
            0, pl.min_horizontal(UNDONE * pl.col("gap"), pl.lit(LEAST_UNDONE_US))
        )
        & (pl.col("next") >= pl.col("back_at") - pl.col("gap"))
    )
    set_right = (
        (pl.col("lost_before") > DAY_US)
        & (pl.col("back_at") >= pl.col("old"))
        & (pl.col("gap") > pl.col("lost_before") / 2)
    )
    return near.filter(set_wrong | set_right)["index"].drop_nulls().sort()


@dataclass(frozen=True)
class Piece:
    """One file of several: its natural name, and its first and last stamp and steps [microseconds]."""

    name: tuple[object, ...]
    time: pl.Series


def order_of_files(pieces: Sequence[Piece], late_us: int) -> list[int]:
    """The order in which files follow each other, whatever order they were given in.

    By name, where no border between two files steps back: names are often numbered, and only so a clock step inside
    a file is kept apart from one between files. Else by their first stamps.
    """
    all_named = sorted(range(len(pieces)), key=lambda at: pieces[at].name)
    named = [at for at in all_named if len(pieces[at].time)]
    whole = pl.concat([pieces[at].time for at in named]) if named else pl.Series(dtype=pl.Int64)
    sign = -1 if newest_first(whole) else 1

    def first(at: int) -> tuple[int, int]:
        return sign * int(pieces[at].time[0]), sign * int(pieces[at].time[-1])

    def steps_back(order: Sequence[int]) -> int:
        borders = [sign * (int(pieces[b].time[0]) - int(pieces[a].time[-1])) for a, b in pairwise(order)]
        return sum(border < -late_us for border in borders)

    by_stamp = sorted(named, key=first)
    if steps_back(named) <= steps_back(by_stamp):
        return all_named
    return [*by_stamp, *(at for at in all_named if not len(pieces[at].time))]
