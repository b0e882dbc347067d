"""What trends need of a review: counts, use and measured times of each ISO week in the zone of the log.

An occurrence belongs to the week in which its block of time (limit burst_block_s, an hour) begins, as the use does:
count and use always come from the same blocks.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import polars as pl

from eventlens import patterns, schema
from eventlens.comparison.exposure import block, kind_of, use_of
from eventlens.comparison.times import TIMES
from eventlens.limits import configure
from eventlens.patterns import Pattern
from eventlens.result import Review
from eventlens.statistics.bursts import BurstParameters
from eventlens.trends.worked import WEEK, counted, work_of


@dataclass(frozen=True)
class Weeks:
    """Weekly results of any number of machines."""

    counts: pl.DataFrame
    """schema.WEEKS."""
    times: pl.DataFrame
    """schema.WEEK_TIMES."""
    life: pl.DataFrame = field(default_factory=schema.WEEK_LIFE.empty)
    """schema.WEEK_LIFE."""
    work: pl.DataFrame = field(default_factory=schema.WEEK_WORK.empty)
    """schema.WEEK_WORK."""


def gather(parts: Iterable[Weeks]) -> Weeks:
    """The weeks of several reviews together; of a week that two reviews hold parts of, counts and use are summed.

    Parts must not overlap: what both hold counts twice. Medians of such a week are those of the part with more runs.
    """
    every = list(parts)
    counts = pl.concat([schema.WEEKS.empty(), *(part.counts for part in every)])
    key = ["machine", "pattern", "motion", "week"]
    summed = ["amount", "count", "certain", "variance", "observed_h", "running_h", "starts"]
    merged = counts.group_by(key, maintain_order=True).agg(
        pl.col("exposure").first(),
        pl.col(summed).sum(),
        pl.col("most").max(),
        pl.when(pl.col("lifts").is_null().any()).then(None).otherwise(pl.col("lifts").sum()).alias("lifts"),
        pl.col("lack").drop_nulls().first(),
    )
    times = pl.concat([schema.WEEK_TIMES.empty(), *(part.times for part in every)])
    order = [*schema.WEEK_TIMES.sort]
    times = times.sort(*order, "n").unique(order, keep="last", maintain_order=True)
    return Weeks(
        _fitted(merged, schema.WEEKS),
        _fitted(times, schema.WEEK_TIMES),
        _fitted(_days(every), schema.WEEK_LIFE),
        _fitted(counted([part.work for part in every]), schema.WEEK_WORK),
    )


def _days(parts: list[Weeks]) -> pl.DataFrame:
    """Days of which two reviews hold parts together; what is stated is as the later one says."""
    life = pl.concat([schema.WEEK_LIFE.empty(), *(part.life for part in parts)]).sort("machine", "day", "until")
    summed = ("observed", "full_load_h")
    others = [name for name in schema.WEEK_LIFE.columns if name not in (*summed, "machine", "day")]
    return life.group_by("machine", "day", maintain_order=True).agg(
        pl.col("observed").sum().clip(0.0, 1.0), pl.col("full_load_h").sum(), pl.col(others).last()
    )


def weeks_of(review: Review) -> Weeks:
    """The weeks that a review covers, a part of a week as well."""
    source = _Source(review)
    found = [_of_pattern(source, pattern, place) for pattern, place in _places(review)]
    counts = pl.concat([schema.WEEKS.empty(), *(_fitted(part, schema.WEEKS) for part in found)])
    return gather([Weeks(counts, _times(review), _life(review), work_of(review))])


def _places(review: Review) -> Iterable[tuple[Pattern, str | None]]:
    """Each pattern with each motion that the log carries, None for the machine as a whole."""
    for pattern in patterns.catalogue().values():
        for motion in [one for one in pattern.motions if one in review.motions] if pattern.motions else [None]:
            yield pattern, motion


class _Source:
    """A review whose uses are counted once."""

    def __init__(self, review: Review) -> None:
        self.review, self.timezone = review, review.log.timezone
        self.block_s = configure(BurstParameters, review.machine.limits).burst_block_s
        self._uses: dict[tuple[str, str | None], pl.DataFrame] = {}
        self._known: dict[str | None, pl.DataFrame] = {}

    def uses(self, kind: str, place: str | None) -> pl.DataFrame:
        """(block, amount): the use by blocks of time."""
        if (kind, place) not in self._uses:
            self._uses[kind, place] = use_of(self.review, kind, place).blocks
        return self._uses[kind, place]

    def known(self, place: str | None) -> pl.DataFrame:
        """(week, observed_h, running_h, starts, lifts) of a motion or of the machine: every week that was observed."""
        if place not in self._known:
            self._known[place] = _known(self, place)
        return self._known[place]

    def by_week(self, blocks: pl.DataFrame) -> pl.DataFrame:
        """The blocks with their week."""
        begins = pl.from_epoch((pl.col("block") * round(self.block_s * 1e6)).cast(pl.Int64), time_unit="us")
        local = begins.dt.replace_time_zone("UTC").dt.convert_time_zone(self.timezone)
        return blocks.with_columns(week=local.dt.strftime(WEEK))


def _of_pattern(source: _Source, pattern: Pattern, place: str | None) -> pl.DataFrame:
    """The rows of one pattern at one place."""
    review = source.review
    kind = kind_of(pattern, review)
    here = pl.col("pattern") == pattern.name
    if place is not None:
        here &= pl.col("motion") == place
    counted = (
        review.occurrences.filter(here)
        .group_by(block(pl.col("start"), source.block_s))
        .agg(count=pl.len(), certain=(pl.col("certainty") == "certain").sum())
    )
    blocks = source.uses(kind, place).join(counted, on="block", how="full", coalesce=True).fill_null(0)
    return (
        source.known(place)
        .join(_of_blocks(source.by_week(blocks)), on="week", how="left")
        .with_columns(
            pl.col("amount", "variance").fill_null(0.0),
            pl.col("count", "certain", "most").fill_null(0),
            machine=pl.lit(review.machine.machine.id),
            pattern=pl.lit(pattern.name),
            motion=pl.lit(place, schema.MOTION),
            exposure=pl.lit(kind),
            lack=pl.lit(_lack(review, pattern.name, place), pl.String),
        )
        .filter(pl.col("observed_h") > 0)
    )


def _of_blocks(blocks: pl.DataFrame) -> pl.DataFrame:
    """(week, amount, count, certain, most, variance) from blocks: the terms of statistics.bursts.spread, one a week."""
    rate = pl.col("count").sum() / pl.col("amount").sum()
    squares = (pl.col("count") - rate * pl.col("amount")).pow(2).sum()
    alone = (pl.len() < 2) | (pl.col("amount").sum() <= 0)
    return blocks.group_by("week").agg(
        pl.col("amount").sum(),
        pl.col("count").sum(),
        pl.col("certain").sum(),
        pl.col("count").max().alias("most"),
        pl.when(alone)
        .then(pl.col("count").sum().cast(pl.Float64).pow(2))
        .otherwise(squares * pl.len() / (pl.len() - 1))
        .alias("variance"),
    )


def _known(source: _Source, place: str | None) -> pl.DataFrame:
    frames = {"observed_h": source.uses("observed_h", None)}
    frames |= {"running_h": source.uses("running_h", place), "starts": source.uses("start", place)}
    hoist = source.review.motions.get("hoist")
    if hoist is not None and hoist.lifts is not None:
        frames["lifts"] = source.uses("lift", "hoist")
    joined = pl.DataFrame(schema={"week": pl.String})
    for name, frame in frames.items():
        weekly = source.by_week(frame).group_by("week").agg(pl.col("amount").sum().alias(name))
        joined = weekly if name == "observed_h" else joined.join(weekly, on="week", how="left")
    lifts = pl.col("lifts").fill_null(0.0) if "lifts" in frames else pl.lit(None, pl.Float64).alias("lifts")
    return joined.with_columns(lifts, pl.col("running_h").fill_null(0.0), pl.col("starts").fill_null(0.0).round())


def _lack(review: Review, pattern: str, place: str | None) -> str | None:
    """What kept the pattern from being assessed in full."""
    same = pl.col("motion").eq_missing(pl.lit(place, schema.MOTION))
    rows = review.not_assessed.filter((pl.col("pattern") == pattern) & same).select("why", "needs").rows()
    return "; ".join(f"{why}: {', '.join(needs)}" for why, needs in rows) or None


def _times(review: Review) -> pl.DataFrame:
    """schema.WEEK_TIMES of a review."""
    local = pl.col("start").dt.convert_time_zone(review.log.timezone)
    parts = [
        review.runs.filter(pl.col(time).is_not_null())
        .group_by(local.dt.strftime(WEEK).alias("week"), "motion")
        .agg(n=pl.len(), median_s=pl.col(time).median())
        .with_columns(
            machine=pl.lit(review.machine.machine.id), time=pl.lit(time), step_s=pl.lit(float(review.log.step_s))
        )
        for time in TIMES
    ]
    return pl.concat([_fitted(part, schema.WEEK_TIMES) for part in parts])


def _life(review: Review) -> pl.DataFrame:
    """schema.WEEK_LIFE of a review; empty where group or load spectrum of the hoist are not known."""
    hoist = review.life.get("hoist")
    if hoist is None or hoist.period is None or hoist.period_days is None or hoist.spectrum is None:
        return schema.WEEK_LIFE.empty()
    period = hoist.period
    days = hoist.period_days.filter(pl.col("observed") > 0).select(
        pl.col("day").dt.strftime(WEEK).alias("week"),
        pl.col("day").dt.strftime("%Y-%m-%d"),
        "weekday",
        "observed",
        pl.col("use").alias("full_load_h"),
        machine=pl.lit(review.machine.machine.id),
        duration_h=pl.lit(period.duration_h),
        stated_h=pl.lit(review.machine.life.used_before_h),
        stated_at=pl.lit(review.hours_stated_at, schema.TIME),
        until=pl.lit(review.log.end).cast(schema.TIME),
        how=pl.lit(hoist.spectrum.how),
        source=pl.lit(period.source),
        confidence=pl.lit(period.confidence),
    )
    return _fitted(days, schema.WEEK_LIFE)


def _fitted(frame: pl.DataFrame, table: schema.Table) -> pl.DataFrame:
    """The frame with exactly the columns of a table, sorted."""
    chosen = frame.select(pl.col(name).cast(column.dtype) for name, column in table.columns.items())
    return table.check(chosen.sort(*table.sort, maintain_order=True))
