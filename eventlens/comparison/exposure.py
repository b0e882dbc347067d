"""What occurrences are counted against: the use in which they had a chance to show, of a whole motion or one way of it.

Kinds are those of patterns.EXPOSURES. Only what the log proves counts: starts that were seen, time that it covers.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from eventlens import signals
from eventlens.duty.cyclic import running_intervals
from eventlens.duty.lifts import Lifts
from eventlens.limits import configure
from eventlens.patterns import Pattern
from eventlens.result import Review
from eventlens.statistics.bursts import BurstParameters


@dataclass(frozen=True)
class Use:
    """The use of one side in the unit of an exposure, and over what time it came together."""

    amount: float
    blocks: pl.DataFrame
    """(block: number, amount): the use in each block of time that has any; their sum is `amount`."""
    observed_s: float
    days: int
    """Local days on which anything ran."""

    @property
    def per_s(self) -> float:
        """Use per second of observed time; 0 where nothing was observed."""
        return self.amount / self.observed_s if self.observed_s else 0.0

    @property
    def per_day(self) -> float:
        """Use per working day; 0 without one. The days at the ends of a log are often cut: it is rather too small."""
        return self.amount / self.days if self.days else 0.0


def kind_of(pattern: Pattern, *sides: Review) -> str:
    """The exposure of a pattern that all sides know: lifts only where all count them the same way, else starts.

    Lifts that are measured on one side and assumed on the other are two things. Where no side logs raising nor
    lowering there are no starts either, and observed hours are what is left.
    """
    if pattern.exposure != "lift":
        return pattern.exposure
    ways = {lifts.how if (lifts := _lifts(side)) else None for side in sides}
    if len(ways) == 1 and None not in ways:
        return "lift"
    return "start" if all("hoist" in side.motions for side in sides) else "observed_h"


def of_way(kind: str, way: str | None) -> str:
    """The exposure of one way of a motion: tries of the fast output are commands of fast."""
    return "fast_try" if kind == "try" and way == "fast" else kind


def block(at: pl.Expr, block_s: float) -> pl.Expr:
    """The number of the block of time in which an instant lies."""
    return (at.dt.epoch("us") // round(block_s * 1e6)).alias("block")


def use_of(review: Review, kind: str, motion: str | None, way: str | None = None) -> Use:
    """The exposure of a motion (None: of the machine); of one direction of it, where it is given."""
    log = review.log
    block_s = configure(BurstParameters, review.machine.limits).burst_block_s
    days = review.runs["start"].dt.convert_time_zone(log.timezone).dt.date().n_unique()
    parts = _parts(review, kind, motion, way)
    amount = _amount(review, kind, motion, way, parts)
    blocks = parts.group_by(block(pl.col("start"), block_s), maintain_order=True).agg(pl.col("amount").sum())
    whole = float(blocks["amount"].sum())
    blocks = blocks.filter(pl.col("amount") > 0).with_columns(pl.col("amount") * (amount / whole if whole else 0.0))
    return Use(amount, blocks, log.observed_s, days)


def _parts(review: Review, kind: str, motion: str | None, way: str | None) -> pl.DataFrame:
    """(start, amount): how the use lies in time; only its proportions count."""
    one = pl.lit(1.0).alias("amount")
    if kind == "observed_h":
        return _observed(review)
    if kind in ("try", "fast_try"):
        return _commands(review, kind, motion, way).select("start", one)
    runs = review.runs.filter(_at(motion, way))
    if kind == "running_h":
        return runs.select("start", amount=pl.col("duration_s"))
    if kind == "lift":
        return runs.filter((pl.col("direction") == "raise") & pl.col("start_seen")).select("start", one)
    begun = runs.filter("start_seen")
    return begun.filter(pl.col("fast_on").is_not_null() if kind == "fast_run" else pl.lit(value=True)).select(
        "start", one
    )


def _observed(review: Review) -> pl.DataFrame:
    """The observed time in pieces of a quarter of an hour at most."""
    piece = pl.datetime_ranges("start", "end", interval="15m", closed="left")
    return (
        review.log.segments.filter(pl.col("end") > pl.col("start"))
        .select("end", start=piece)
        .explode("start")
        .select(
            "start",
            amount=(
                pl.min_horizontal("end", pl.col("start") + pl.duration(minutes=15)) - pl.col("start")
            ).dt.total_microseconds()
            / 1e6,
        )
    )


def _amount(review: Review, kind: str, motion: str | None, way: str | None, parts: pl.DataFrame) -> float:
    if kind == "observed_h":
        return review.log.observed_s / 3600
    if kind == "running_h":
        return _running_s(review, review.runs.filter(_at(motion, way))) / 3600
    if kind == "lift":
        lifts = _lifts(review)
        return float(lifts.lifts) if lifts else 0.0
    return float(parts.height)


def _at(motion: str | None, way: str | None) -> pl.Expr:
    own = pl.lit(value=True) if motion is None else pl.col("motion") == motion
    return own & (pl.col("direction") == way) if way else own


def _lifts(review: Review) -> Lifts | None:
    return review.motions["hoist"].lifts if "hoist" in review.motions else None


def _commands(review: Review, kind: str, motion: str | None, way: str | None) -> pl.DataFrame:
    """Commands that were seen to begin."""
    motions = signals.MOTIONS if motion is None else {motion: signals.MOTIONS[motion]}
    ways = [(one, name) for one, pair in motions.items() for name in (("fast",) if kind == "fast_try" else pair)]
    names = [f"{one}.{name}.command" for one, name in ways if way in (None, name) or kind == "fast_try"]
    begun = pl.col("on") & pl.col("start_seen") & pl.col("signal").cast(pl.String).is_in(names)
    return review.states.filter(begun)


def _running_s(review: Review, runs: pl.DataFrame) -> float:
    """Time in which any of the runs goes on [s]; time with several of them counts once, but for one clock only."""
    steps = review.log.clock_steps["at"].implode()
    stretches = review.log.segments.sort("segment").select(
        "segment", clock=pl.col("end").is_in(steps).shift(1, fill_value=False).cast(pl.UInt32).cum_sum()
    )
    clock = runs.join(stretches, on="segment", how="left", maintain_order="left")["clock"]
    blocks = running_intervals(runs, clock)
    return int((blocks["end"] - blocks["start"]).dt.total_microseconds().sum()) / 1e6
