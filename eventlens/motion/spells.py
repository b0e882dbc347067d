"""Spells: stretches in which the record shows a trouble of its own, so that runs within it say nothing of the work."""

from __future__ import annotations

import polars as pl


def during(frame: pl.DataFrame, at: str, spells: pl.DataFrame, before_s: float, after_s: float) -> pl.Series:
    """For each row: the instant `at` lies in a spell (start, end), widened by before_s and after_s [s]."""
    if spells.is_empty() or frame.is_empty():
        return pl.Series(at, [False], dtype=pl.Boolean).new_from_index(0, frame.height)
    before, after = (pl.duration(microseconds=round(s * 1e6)) for s in (before_s, after_s))
    wide = spells.sort("start").select(pl.col("start") - before, (pl.col("end") + after).cum_max())
    instants = frame[at]
    if instants.is_sorted():  # the usual case; a join of two sorted tables is many times as quick as a search
        found = frame.select(at).join_asof(
            wide.rename({"start": "_start", "end": "_end"}), left_on=at, right_on="_start"
        )
        return (found["_end"] >= instants).fill_null(value=False)
    index = wide["start"].search_sorted(instants, side="right").cast(pl.Int64) - 1
    reached = wide["end"].gather(index.clip(0)) >= instants
    return ((index >= 0) & reached).fill_null(value=False)


def touches(frame: pl.DataFrame, spells: pl.DataFrame, before_s: float, after_s: float) -> pl.Series:
    """For each row (start, end): it begins or ends in a spell, widened by before_s and after_s [s]."""
    return during(frame, "start", spells, before_s, after_s) | during(frame, "end", spells, before_s, after_s)


def overlaps(frame: pl.DataFrame, spells: pl.DataFrame, by_s: float) -> pl.Series:
    """For each row (start, end): a spell overlaps it, or lies no more than by_s [s] away."""
    if spells.is_empty() or frame.is_empty():
        return pl.Series("start", [False], dtype=pl.Boolean).new_from_index(0, frame.height)
    near = pl.duration(microseconds=round(by_s * 1e6))
    reach = spells.sort("start").select("start", pl.col("end").cum_max())
    last = frame.select(pl.col("end") + near)["end"]
    index = reach["start"].search_sorted(last, side="right").cast(pl.Int64) - 1
    return (index >= 0) & (reach["end"].gather(index.clip(0)) >= frame.select(pl.col("start") - near)["start"])


def united(frame: pl.DataFrame, fresh: pl.Series, **last: pl.Expr) -> pl.DataFrame:
    """The rows of each stretch as one: its first row, with the columns `last` as they are in its last row.

    fresh: whether a row begins a stretch; the first does. Much quicker than groups of rows.
    """
    closing = frame.select(**last).filter(fresh.shift(-1, fill_value=True))
    return frame.filter(fresh).with_columns(closing.get_columns())
