"""Lifts and work cycles: what the hoist lifted, and how near to its rated load.

A lift is a chain of raise runs, with pauses of no more than `lift_chain_s`, that moves a load: for `lift_least_s` of
raising at least the load is above that of an empty hook. A work cycle goes from picking a load up to picking up the
next: a lift begins one where the hook was seen empty for `lift_chain_s` or longer since the lift before. Both are what
the log proves: a chain whose beginning is not in the log is none, and a load that hangs on through a hole none again.

Where no load is measured every second such chain is taken for a lift and a work cycle, the others for the empty hook on
its way back (`Lifts.assumes` says so).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import polars as pl

from eventlens.duty.load import NO_STEPS, Load, spells, weighed
from eventlens.limits import limit
from eventlens.motion.near import seconds
from eventlens.statistics.rates import Rate, rate

CLASSES: Final = (0.25, 0.5, 0.75, 0.9, 1.0, 1.1, 1.25)
"""Borders of the classes, in shares of the rated load: quarters, near it, above it, and the window from 1.10 to 1.25 in
which overload devices are set (common practice; tests of the Machinery Directive 2006/42/EC, Annex I 4.1.2.3)."""
NEAR: Final = 0.9
"""From here on a lift is near the rated load (common practice, no source)."""
KNOWN: Final = 0.5
"""Least share of the raises with a known load for counting by it (common practice, no source)."""


@dataclass(frozen=True)
class LiftParameters:
    """What a lift is."""

    empty_hook_share: float = limit(
        0.1,
        "share of the rated load",
        "common practice: hook, sling and drift of the scale",
        "raising it leaves out light loads; lowering it takes slings and drift for a load",
    )
    lift_chain_s: float = limit(
        10.0,
        "s",
        "common practice, no source: nobody takes a load off and another on in less",
        "raising it joins lifts of quick work; lowering it splits a lift at a short stop",
    )
    lift_least_s: float = limit(
        1.0,
        "s",
        "common practice: shorter raises fit a load",
        "raising it leaves out short lifts; lowering it takes inching for lifts",
    )


@dataclass(frozen=True)
class LoadClass:
    """Lifts with a load above `above` and not above `upto` (None: without end), in shares of the rated load."""

    above: float
    upto: float | None
    lifts: int


@dataclass(frozen=True)
class Lifts:
    """The lifts of one hoist."""

    lifts: int
    cycles: int
    how: str
    """'measured' or 'assumed'."""
    assumes: str
    """What was taken for granted, in a sentence."""
    unknown: int
    """Raises beside them of which the load is not known; 0 where lifts are assumed."""
    cycle_s: float | None
    """Median time from picking up to the next picking up [s], rests included; None where not measured."""
    classes: tuple[LoadClass, ...]
    """Empty unless the load is measured and the rated load known."""

    @property
    def near_rated(self) -> int:
        """Lifts above NEAR of the rated load, up to it."""
        return sum(one.lifts for one in self.classes if NEAR <= one.above < 1.0)

    @property
    def above_rated(self) -> int:
        """Lifts above the rated load."""
        return sum(one.lifts for one in self.classes if one.above >= 1.0)


@dataclass(frozen=True)
class TripRates:
    """How often the overload device tripped, with exact limits; a rate is None where there is nothing to divide by."""

    trips: int
    per_100_lifts: Rate | None
    per_running_h: Rate | None
    per_observed_h: Rate | None


def trip_rates(trips: int, lifts: Lifts, running_s: float, observed_s: float) -> TripRates:
    """Trips against lifts, hours of running and hours of observed time."""
    return TripRates(
        trips, rate(trips, lifts.lifts / 100), rate(trips, running_s / 3600), rate(trips, observed_s / 3600)
    )


def count_lifts(runs: pl.DataFrame, load: Load | None, p: LiftParameters) -> Lifts:
    """Lifts and work cycles of runs (schema.RUNS, of all motions) with this load, on the same time axis."""
    raises = lift_table(runs, load, p).filter(pl.col("seen") & (pl.col("raised_s") >= p.lift_least_s))
    known = pl.col("known_s") >= KNOWN * pl.col("raised_s")
    with_load = raises.filter(known).height
    if load is None or with_load < KNOWN * raises.height:
        lacking = "no load is measured"
        if load is not None:
            lacking = f"the load is known in {with_load} of {raises.height} raises only"
        return _assumed(raises.height, lacking, p)
    lifts = raises.filter("lift")
    between = lifts.filter("picks").select(seconds(pl.col("picked"), pl.col("picked").shift(1).over("segment")))
    return Lifts(
        lifts=lifts.height,
        cycles=int(lifts["picks"].sum()),
        how="measured",
        assumes=f"a lift moves more than {100 * p.empty_hook_share:g} % of the {load.of}",
        unknown=raises.filter(~known & ~pl.col("lift")).height,
        cycle_s=_middle(between.to_series()),
        classes=_classes(lifts["ratio"], p.empty_hook_share) if load.rated else (),
    )


def _assumed(raises: int, lacking: str, p: LiftParameters) -> Lifts:
    half = (raises + 1) // 2
    return Lifts(
        lifts=half,
        cycles=half,
        how="assumed",
        assumes=f"{lacking}: of {raises} raises of {p.lift_least_s:g} s or more, pauses up to {p.lift_chain_s:g} s in "
        "them, every second is taken for a lift and a work cycle, the others for the empty hook",
        unknown=0,
        cycle_s=None,
        classes=(),
    )


def _middle(times: pl.Series) -> float | None:
    middle = times.drop_nulls().median()
    return round(middle, 6) if isinstance(middle, float) else None


def _classes(ratios: pl.Series, least: float) -> tuple[LoadClass, ...]:
    """How many of the ratios lie in each class above the empty hook."""
    borders = [least, *(border for border in CLASSES if border > least)]
    counted = ((ratios > a) & (ratios <= b) for a, b in zip(borders, [*borders[1:], float("inf")], strict=True))
    uppers = [*borders[1:], None]
    return tuple(
        LoadClass(above, upto, int(inside.sum())) for above, upto, inside in zip(borders, uppers, counted, strict=True)
    )


def lift_table(runs: pl.DataFrame, load: Load | None, p: LiftParameters) -> pl.DataFrame:
    """Every chain of raise runs, by segment and start.

    (chain, segment, start, end, seen: its beginning is in the log, raised_s, known_s: raising with a known load,
    loaded_s: with a load above the empty hook, ratio: median of that load over its time, lift, picks: it begins a work
    cycle, picked: instant of that). Without a load nothing is known and nothing a lift.
    """
    raising = _chained(runs, p.lift_chain_s)
    chains = raising.group_by("chain", maintain_order=True).agg(
        pl.col("segment", "start").first(),
        pl.col("end").last(),
        pl.col("start_seen").first().alias("seen"),
        raised_s=seconds("end", "start").sum(),
    )
    steps = load.steps if load else NO_STEPS
    weighed = _weighed(raising, steps, p.empty_hook_share)
    chains = chains.join(weighed, on="chain", how="left", maintain_order="left").with_columns(
        pl.col("known_s", "loaded_s").fill_null(0.0)
    )
    chains = chains.with_columns(lift=pl.col("seen") & (pl.col("loaded_s") >= p.lift_least_s))
    return _with_picks(chains, steps, p)


def _chained(runs: pl.DataFrame, longest_s: float) -> pl.DataFrame:
    """The raise runs, each with the number of its chain."""
    raising = runs.select("segment", "start", "end", "start_seen", "motion", "direction").filter(
        (pl.col("motion") == "hoist") & (pl.col("direction") == "raise")
    )
    raising = raising.sort("segment", "start")
    new = (seconds("start", pl.col("end").shift(1)) > longest_s) | (pl.col("segment") != pl.col("segment").shift(1))
    return raising.select("segment", "start", "end", "start_seen", chain=new.fill_null(value=True).cum_sum())


def _weighed(raising: pl.DataFrame, steps: pl.DataFrame, empty: float) -> pl.DataFrame:
    """(chain, known_s, loaded_s, ratio) of each chain that a known load meets."""
    pieces = weighed(raising.rename({"chain": "n"}), steps).sort("n", "ratio", maintain_order=True)
    own = pl.when(pl.col("ratio") > empty).then("s").otherwise(0.0)
    pieces = pieces.with_columns(own=own, upto=own.cum_sum().over("n"), all=own.sum().over("n"))
    middle = pl.col("ratio").filter((pl.col("own") > 0) & (pl.col("upto") >= pl.col("all") / 2)).first()
    return pieces.group_by(chain="n", maintain_order=True).agg(
        known_s=pl.col("s").sum(), loaded_s=pl.col("own").sum(), ratio=middle
    )


def _with_picks(chains: pl.DataFrame, steps: pl.DataFrame, p: LiftParameters) -> pl.DataFrame:
    """Adds whether each lift begins a work cycle: the hook was seen empty since the lift before; and when it ended."""
    hook = spells(steps.with_columns(on=pl.col("ratio") > p.empty_hook_share))
    rests = hook.filter(~pl.col("on") & (seconds("end", "start") >= p.lift_chain_s)).select("segment", picked="end")
    found = chains.join_asof(
        rests.sort("picked"),
        left_on="end",
        right_on="picked",
        by="segment",
        strategy="backward",
        check_sortedness=False,
    )
    lifts = found.filter("lift").select(
        "chain",
        picks=pl.col("picked").is_not_null()
        & (pl.col("picked") != pl.col("picked").shift(1).over("segment")).fill_null(value=True),
    )
    return found.join(lifts, on="chain", how="left", maintain_order="left").with_columns(
        pl.col("picks").fill_null(value=False)
    )
