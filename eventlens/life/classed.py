"""From the counts of one motion to the classes that its use belongs to: hoist class, crane class, service, rating."""

from __future__ import annotations

import polars as pl

from eventlens.duty.counts import MotionCounts
from eventlens.duty.windows import HOUR_S
from eventlens.life.classes import CraneClass, crane_class
from eventlens.life.groups import needed_class
from eventlens.life.inspection import Service, service_of
from eventlens.life.rating import MotorRating, motor_rating
from eventlens.life.spectrum import Spectrum
from eventlens.machine import Machine


def hoist_class(counts: MotionCounts, runs: pl.DataFrame, timezone: str) -> str | None:
    """The ASME HST class that the busiest hours need; None above H5. runs: schema.RUNS of the hoist.

    From the busiest hour of each figure: any hour where the machine's limits are of such a class, else clock hours.
    """
    by_hour = counts.limits is not None and counts.limits.window_s == HOUR_S
    busiest = counts.limit_window_max if by_hour else None
    starts = counts.starts_per_hour_max.value if counts.starts_per_hour_max else 0.0
    return needed_class(busiest.value if busiest else _busiest_clock_hour(runs, timezone), starts)


def _busiest_clock_hour(runs: pl.DataFrame, timezone: str) -> float:
    """Largest running time that began in one clock hour, as a share of it."""
    local = runs["start"].dt.convert_time_zone(timezone).dt.truncate("1h")
    spent = (
        pl.DataFrame({"hour": local, "s": runs["duration_s"]})
        .group_by("hour", maintain_order=True)
        .agg(pl.col("s").sum())
    )
    return min(float(spent["s"].max() or 0.0) / HOUR_S, 1.0)  # type: ignore[arg-type]


def service_class(counts: MotionCounts, spectrum: Spectrum | None, machine: Machine) -> Service:
    """The class of service by the share of the hours with work that the hoist ran, and by its load."""
    hours = counts.clock_hours.height
    on_time = counts.running_s / HOUR_S / hours if hours else 0.0
    return service_of(min(on_time, 1.0), spectrum.k if spectrum else None, abnormal=machine.life.abnormal_service)


def crane_class_of(counts: MotionCounts) -> CraneClass | None:
    """The CMAA class by lifts in the hours with work; None where no raise is logged or nothing worked."""
    lifts, hours = counts.lifts, counts.clock_hours.height
    if lifts is None or not hours:
        return None
    near = (lifts.near_rated + lifts.above_rated) / lifts.lifts if lifts.classes and lifts.lifts else None
    return crane_class(lifts.lifts / hours, near)


def rating_of(counts: MotionCounts) -> MotorRating | None:
    """What the motor's plate would have to say; None where nothing ran."""
    most, share = counts.starts_per_hour_max, counts.cyclic_duration_max
    return motor_rating(share.value, most.value) if most and share else None
