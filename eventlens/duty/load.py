"""The measured load: what hangs on the hook, as a share of the rated load, from each record to the next.

A load holds until the next record of its unbroken stretch, the last one to the end of the stretch; nothing is carried
over a hole, a clock step or a value that was not understood. Below zero (an empty scale that drifts) counts as none.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import polars as pl

from eventlens import schema, signals
from eventlens.motion.near import seconds

RATED: Final = "rated load"
HIGHEST: Final = "highest load measured"


@dataclass(frozen=True)
class Load:
    """The known load."""

    steps: pl.DataFrame
    """(start, end, ratio, row, segment) by segment and start: stretches of known load, in shares of `of`; row: the line
    of the record that says so."""
    of: str
    """What a ratio of 1 stands for: RATED, or HIGHEST where neither the machine file nor the log says the rating."""

    @property
    def rated(self) -> bool:
        """Whether ratios are shares of the rated load."""
        return self.of == RATED


def load_of(events: pl.DataFrame, segments: pl.DataFrame, rated_kg: float | None) -> Load | None:
    """The load of a log; None where none is measured.

    events: (time, signal, value, row, segment) as in schema.EVENTS, unknown values too; segments: (segment, end) of the
    unbroken stretches, on the same time axis; rated_kg: the rated load [kg]. `load.percent` needs no rated load.
    """
    signal = events["signal"].to_physical()
    kg, percent = (events.filter(signal == signals.ALL.index(name)) for name in ("load.kg", "load.percent"))
    if rated_kg and not kg.is_empty():
        return Load(_steps(kg, segments, rated_kg), RATED)
    if not percent.is_empty():
        return Load(_steps(percent, segments, 100.0), RATED)
    highest = kg.filter(pl.col("value").is_finite())["value"].max()
    if isinstance(highest, float) and highest > 0:
        return Load(_steps(kg, segments, highest), HIGHEST)
    return None


def _steps(records: pl.DataFrame, segments: pl.DataFrame, full: float) -> pl.DataFrame:
    """The stretches of known load, in shares of `full`."""
    last = segments["end"].gather(segments["segment"].search_sorted(records["segment"]))
    here = (pl.col("segment").shift(-1) == pl.col("segment")).fill_null(value=False)
    return (
        records.with_columns(end=pl.when(here).then(pl.col("time").shift(-1)).otherwise(last))
        .filter(pl.col("value").is_finite() & (pl.col("end") > pl.col("time")))
        .select(
            pl.col("time").alias("start"),
            "end",
            (pl.col("value") / full).clip(0.0).round(9).alias("ratio"),
            "row",
            "segment",
        )
    )


def above(load: Load, ratio: float) -> pl.DataFrame:
    """Stretches in which the load is known to lie above a ratio: (start, end, lowest, highest, records, segment,
    start_row, end_row), by segment and start. records: how many of its records say so."""
    return spells(load.steps.with_columns(on=pl.col("ratio") > ratio)).filter("on").drop("on")


def spells(steps: pl.DataFrame) -> pl.DataFrame:
    """Steps (of a Load, with a condition `on`) joined where they touch and `on` is the same; columns as in `above`."""
    touches = (
        (pl.col("end").shift(1) == pl.col("start"))
        & (pl.col("segment").shift(1) == pl.col("segment"))
        & (pl.col("on").shift(1) == pl.col("on"))
    ).fill_null(value=False)
    return (
        steps.group_by((~touches).cum_sum().alias("spell"), maintain_order=True)
        .agg(
            pl.col("start", "on", "segment").first(),
            pl.col("end").last(),
            lowest=pl.col("ratio").min(),
            highest=pl.col("ratio").max(),
            records=pl.len(),
            start_row=pl.col("row").first(),
            end_row=pl.col("row").last(),
        )
        .select("start", "end", "on", "lowest", "highest", "records", "segment", "start_row", "end_row")
    )


NO_STEPS: Final = pl.DataFrame(
    schema={"start": schema.TIME, "end": schema.TIME, "ratio": pl.Float64, "row": schema.ROW, "segment": pl.UInt32}
)
"""The steps of a load that is nowhere known."""


def weighed(intervals: pl.DataFrame, steps: pl.DataFrame) -> pl.DataFrame:
    """The pieces (n, ratio, s [s]) into which changes of the load cut some intervals; only where it is known.

    intervals: (n, start, end, segment), apart from each other; several may carry one number n, from 0. Time is cut at
    every change of the load, and where an interval or what is known begins or ends; what holds is carried to the next
    cut.
    """
    if steps.is_empty():
        return pl.DataFrame(schema={"n": intervals["n"].dtype, "ratio": pl.Float64, "s": pl.Float64})
    load = [
        steps.select("segment", time="start", ratio="ratio", order=1),
        steps.select("segment", time="end", ratio=pl.lit(-1.0), order=0),  # not known from here on
    ]
    inside = [
        intervals.select("segment", time="start", n=pl.col("n").cast(pl.Int64), order=1),
        intervals.select("segment", time="end", n=pl.lit(-1, pl.Int64), order=0),
    ]
    cuts = pl.concat([*load, *inside], how="diagonal").sort("segment", "time", "order", maintain_order=True)
    return (
        cuts.with_columns(
            pl.col("ratio", "n").forward_fill().over("segment"),
            s=seconds(pl.col("time").shift(-1).over("segment"), "time"),
        )
        .filter((pl.col("s") > 0) & (pl.col("n") >= 0) & (pl.col("ratio") >= 0))
        .select(pl.col("n").cast(intervals["n"].dtype), "ratio", "s")
    )
