"""Each pattern's rate before and after, over the exposure that is right for it, and what the two show.

gone: nothing after, for longer than the fault could have stayed away by chance; less, worse: seen after, at a rate that
is lower or higher; not_shown: anything else. A change counts where its p-value, adjusted for as many comparisons as
were made (statistics.discovery), is at most 1 - confidence. Silence must also have lasted as long as
`statistics.two_rates.silence` asks.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import polars as pl

from eventlens import patterns, schema
from eventlens.comparison.exposure import Use, block, kind_of, of_way, use_of
from eventlens.limits import configure
from eventlens.patterns import Pattern
from eventlens.result import Review
from eventlens.statistics import two_rates
from eventlens.statistics.bursts import BurstParameters, spread
from eventlens.statistics.discovery import adjusted, thresholds

KEY = ("pattern", "motion", "signal")
Key = tuple[str, str | None, str | None]


@dataclass(frozen=True)
class Side:
    """What one side says about a pattern at a place."""

    counts: list[int]
    """Occurrences in each block of time with use or occurrences."""
    uses: list[float]
    """Use in each of them."""
    use: Use

    @property
    def count(self) -> int:
        return sum(self.counts)

    @property
    def rate(self) -> float:
        return self.count / self.use.amount

    @property
    def blocks(self) -> int:
        """Blocks that hold an occurrence."""
        return sum(count > 0 for count in self.counts)


def side_of(review: Review, picked: pl.Expr, use: Use) -> Side:
    """One side of the occurrences that an expression picks."""
    block_s = configure(BurstParameters, review.machine.limits).burst_block_s
    found = review.occurrences.filter(picked).group_by(block(pl.col("start"), block_s)).agg(count=pl.len())
    both = use.blocks.join(found, on="block", how="full", coalesce=True).sort("block").fill_null(0)
    return Side(both["count"].to_list(), both["amount"].to_list(), use)


def spread_of(*sides: Side) -> float:
    """How much wider limits must be for bursts: statistics.bursts.spread of all sides together."""
    return spread((side.counts, side.uses) for side in sides)


def compare_patterns(before: Review, after: Review, level: float) -> tuple[pl.DataFrame, pl.DataFrame, int]:
    """schema.COMPARISON, schema.NOT_COMPARED, and how many comparisons were made. level: confidence, in (0, 1)."""
    rows: list[dict[str, Any]] = []
    lacking: list[dict[str, Any]] = []
    for key in _keys(before, after):
        lacks = list(_lacks(key, before, after))
        if lacks:
            lacking += lacks
        else:
            rows.append(_row(key, before, after, level))
    made = [row for row in rows if row["after_exposure"]]
    for row, value in zip(made, adjusted([row["p"] for row in made]), strict=True):
        row["p_adjusted"] = value
    enough = thresholds([row["p"] for row in made], 1 - level)
    for row in rows:
        _judge(row, level, *enough)
    frame = pl.DataFrame(rows, schema={**schema.COMPARISON.schema, **_USE})
    frame = frame.drop(*_USE).sort(*schema.COMPARISON.sort, maintain_order=True)
    refused = pl.DataFrame(lacking, schema=schema.NOT_COMPARED.schema).sort(*schema.NOT_COMPARED.sort)
    return schema.COMPARISON.check(frame), schema.NOT_COMPARED.check(refused), len(made)


_USE = {"per_s": pl.Float64, "per_day": pl.Float64}
"""The present use, by which the time still to watch is reckoned."""


def _keys(before: Review, after: Review) -> list[Key]:
    both = pl.concat([side.findings.select(KEY) for side in (before, after)])
    return both.unique(maintain_order=True).sort(KEY).rows()


def place_of(pattern: Pattern, motion: str | None) -> str | None:
    """The motion whose use counts; None: a pattern of the machine as a whole, even where it names a motion."""
    return motion if pattern.motions else None


def _lacks(key: Key, before: Review, after: Review) -> Iterator[dict[str, Any]]:
    """Why a side cannot be held against the other; a lack that both have alike is none."""
    name, motion, signal = key
    pattern = patterns.catalogue()[name]
    place = place_of(pattern, motion)
    here, there = (_not_assessed(side, name, place) for side in (before, after))
    if here != there:
        lacking = {"before": here, "after": there}
    elif signal:
        missing = ("missing_signal", [signal])
        sides = {"before": before, "after": after}
        lacking = {one: [] if signal in side.log.signals() else [missing] for one, side in sides.items()}
    else:
        lacking = {}
    kind = kind_of(pattern, before, after)
    if not any(lacking.values()) and not use_of(before, kind, place).amount:
        lacking = {"before": [("no_use", [patterns.EXPOSURES[kind]])]}
    counts = {"before": _count(after, key), "after": _count(before, key)}  # those of the other side
    for side, lacks in lacking.items():
        for why, needs in lacks[:1]:
            rest = {"side": side, "why": why, "needs": needs, "count": counts[side]}
            yield {**dict(zip(KEY, key, strict=True)), **rest}


def _not_assessed(review: Review, pattern: str, motion: str | None) -> list[tuple[str, list[str]]]:
    """(why, needs) of what the side could not assess of a pattern; motions that it does not carry lack everything."""
    same = pl.col("motion").eq_missing(pl.lit(motion, schema.MOTION))
    rows = review.not_assessed.filter((pl.col("pattern") == pattern) & same).select("why", "needs").rows()
    if not rows and motion and motion not in review.motions:
        return [("missing_signal", [f"{motion}.*.contactor"])]
    return [(str(why), list(needs)) for why, needs in rows]


def _count(review: Review, key: Key) -> int:
    return review.occurrences.filter(_is(key)).height


def _is(key: Key) -> pl.Expr:
    pattern, motion, signal = key
    return (
        (pl.col("pattern") == pattern)
        & pl.col("motion").eq_missing(pl.lit(motion, schema.MOTION))
        & pl.col("signal").eq_missing(pl.lit(signal, schema.SIGNAL))
    )


def _row(key: Key, before: Review, after: Review, level: float) -> dict[str, Any]:
    """The row of one pattern but for what depends on the other comparisons."""
    name, motion, signal = key
    pattern = patterns.catalogue()[name]
    kind = kind_of(pattern, before, after)
    way = signal.split(".")[1] if signal and kind == "try" else None
    kind = of_way(kind, way)
    b, a = (side_of(side, _is(key), use_of(side, kind, place_of(pattern, motion), way)) for side in (before, after))
    present = a.use if a.use.amount else b.use
    wide = spread_of(b, a)
    row = {
        **dict(zip(KEY, key, strict=True)),
        "severity": _severity(key, before, after),
        "exposure": kind,
        "before_count": b.count,
        "before_exposure": b.use.amount,
        "before_rate": b.rate,
        "after_count": a.count,
        "after_exposure": a.use.amount,
        "before_blocks": b.blocks,
        "after_blocks": a.blocks,
        "spread": wide,
        "per_s": present.per_s,
        "per_day": present.per_day,
    }
    if not a.use.amount:
        return {**row, "ratio_low": 0.0, "p": 1.0, "p_adjusted": 1.0}
    found = two_rates.compare_rates(b.count, b.use.amount, a.count, a.use.amount, level, wide)
    return {
        **row,
        "after_rate": a.rate,
        "ratio": found.value,
        "ratio_low": found.low,
        "ratio_high": found.high,
        "p": found.p,
        "smallest_change": two_rates.smallest_change(b.count, b.use.amount, a.use.amount, level, wide),
    }


def _severity(key: Key, before: Review, after: Review) -> str:
    found = [name for side in (before, after) for name in side.findings.filter(_is(key))["severity"].to_list()]
    return min(map(str, found), key=schema.SEVERITIES.index)


def _judge(row: dict[str, Any], level: float, stays: float, becomes: float) -> None:
    """Adds the verdict, and how long silence must still last; stays, becomes: statistics.discovery.thresholds."""
    shown = row["p_adjusted"] <= 1 - level
    if row["after_count"]:
        improved = row["ratio"] is not None and row["ratio"] < 1
        row["verdict"] = ("less" if improved else "worse") if shown else "not_shown"
        return
    needed = _silence(row, level, stays if shown else becomes)
    # what is left of less than a billionth is binary dust
    left = None if needed is None else max(0.0, needed * (1 - 1e-9) - row["after_exposure"])
    row["verdict"] = "gone" if shown and left == 0 else "not_shown"
    row["watch_use"], row["watch_left"] = needed, left
    row["watch_s"] = left / row["per_s"] if left is not None and row["per_s"] else None
    row["watch_days"] = left / row["per_day"] if left is not None and row["per_day"] else None


def _silence(row: dict[str, Any], level: float, p: float) -> float | None:
    """The silent use that it takes: for the rate's lower limit, and for the comparison to come out."""
    args = row["before_count"], row["before_exposure"]
    by_rate = two_rates.silence(*args, level, row["spread"])
    by_test = two_rates.silence_for_p(*args, p, row["spread"])
    return None if by_rate is None or by_test is None else max(by_rate, by_test)
