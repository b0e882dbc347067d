"""Wearing parts of the hoist: how much of what they are rated for is used, and when the rest will be at this rate.

What they are rated for comes from their data sheets, through [parts] of the machine file.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Final

import polars as pl

from eventlens.life.contactors import MIXED_SOURCE, life_factor, mixed_life
from eventlens.life.forecast import Forecast, Rate, forecast
from eventlens.life.wear import full_paths, operations
from eventlens.machine import Parts
from eventlens.signals import MOTIONS

Rated = Callable[[pl.Series], Rate | None]
"""From an amount for each run to its rate per calendar day."""


@dataclass(frozen=True)
class PartWear:
    """How much of a part's rated operations is used."""

    part: str
    in_log: float
    used: float
    """With what it had done before the log."""
    rated: float | None
    """None: the machine file does not say."""
    until: Forecast | None
    """When the rest will be used up; None where no rating or no day is known."""
    how: str
    """How it was counted."""
    source: str
    """Of the rating, or of the rule that made it of the machine file's figures."""
    confidence: str
    """Of that rule (duty.groups.CONFIDENCES)."""

    @property
    def share(self) -> float | None:
        """used / rated."""
        return self.used / self.rated if self.rated else None


@dataclass(frozen=True)
class Use:
    """What the log says of the hoist's runs."""

    runs: pl.DataFrame
    """schema.RUNS of the hoist."""
    heights: pl.DataFrame
    """(value [m], segment): measured heights of the hook."""
    begun: pl.DataFrame
    """Their starts by kind (wear.kinds_of_starts)."""
    rate: Rated
    end: datetime
    """Of the log: dates are counted from here."""


def parts_of(use: Use, rated: Parts) -> tuple[PartWear, ...]:
    """Contactors and relays of either direction, the brake, and the rope where the height of the hook is measured."""
    return tuple(_contactors_and_relays(use, rated)) + tuple(_brake_and_rope(use, rated))


def _contactors_and_relays(use: Use, rated: Parts) -> Iterator[PartWear]:
    for way in MOTIONS["hoist"]:
        if not (use.runs["direction"] == way).any():
            continue
        own = pl.col("direction") == way
        stops = use.runs.select((own & pl.col("end_seen")).sum()).item()
        done = operations(use.begun.filter(own), stops)
        begun = use.runs.select((own & pl.col("start_seen")).cast(pl.Float64)).to_series()
        share = f"{100 * done.ac4_share:.0f} % of them in AC-4 service: jogs and plugging"
        share += ", before the log as in it" if rated.contactor_before else ""
        life, factor = _tips(rated, done.ac4_share)
        if factor is not None:
            share += f"; life times {factor:.3g} for breaking {rated.motor_break_a:g} of {rated.contactor_rated_a:g} A"
        yield _part(use, f"{way} contactor", begun, rated.contactor_before, life, share, MIXED_SOURCE)
        yield _part(use, f"{way} relay", begun, rated.relay_before, rated.relay, "an operation for each start")


def _tips(rated: Parts, ac4_share: float) -> tuple[float | None, float | None]:
    """Life of a contactor's tips in operations, and what the motor's smaller current multiplied it by."""
    if not (rated.contactor_ac3 and rated.contactor_ac4):
        return None, None
    life = mixed_life(rated.contactor_ac3, rated.contactor_ac4, ac4_share)
    if not (rated.contactor_rated_a and rated.motor_break_a):
        return life, None
    # starting current and rated current of one motor go together: both services are eased alike
    factor = life_factor(rated.contactor_rated_a, rated.motor_break_a)
    return life * factor, factor


def _brake_and_rope(use: Use, rated: Parts) -> Iterator[PartWear]:
    if use.runs.is_empty():
        return
    stops = use.runs["end_seen"].cast(pl.Float64)
    yield _part(use, "brake", stops, rated.brake_before, rated.brake_stops, "a stop for each end of a run")
    if rated.hook_path_m and not use.heights.is_empty():
        paths = full_paths(use.heights, rated.hook_path_m)
        # the way is laid on the runs by their length
        share = use.runs["duration_s"] / max(float(use.runs["duration_s"].sum()), 1e-9)
        how = f"full paths up and down, measured, {rated.rope_bends_per_path:g} bending cycles each"
        yield _part(use, "rope", share * paths * rated.rope_bends_per_path, rated.rope_before, rated.rope_cycles, how)


DATA_SHEET: Final = ("machine file", "machine file")


def _part(
    use: Use,
    name: str,
    amount: pl.Series,
    before: float,
    rated: float | None,
    how: str,
    rule: tuple[str, str] = DATA_SHEET,
) -> PartWear:
    """amount: for each run, in the unit of the rating; rule: source and confidence of the rating."""
    in_log = float(amount.sum())
    total = before + in_log
    until = forecast(rated - total, use.rate(amount), use.end) if rated else None
    return PartWear(name, in_log, total, rated, until, how, *rule)
