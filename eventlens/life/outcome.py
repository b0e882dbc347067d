"""What the assessment of one motion's life hands on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import polars as pl

from eventlens.life.classes import CraneClass
from eventlens.life.contactors import ContactorService
from eventlens.life.forecast import Forecast, Rate
from eventlens.life.groups import NeededGroup
from eventlens.life.heat import Heat
from eventlens.life.inspection import Service
from eventlens.life.parts import PartWear
from eventlens.life.period import SafePeriod
from eventlens.life.rating import MotorRating
from eventlens.life.spectrum import Spectrum
from eventlens.life.wear import Operations, StartsPerHour


@dataclass(frozen=True)
class MotionLife:
    """What the log says of the life of one motion's mechanism."""

    motion: str
    running_h: float
    hours: Rate | None
    """Running hours per calendar day."""
    h_per_working_day: float | None
    group: str | None
    spectrum: Spectrum | None
    """None where no load is known and the machine file assumes none."""
    needed: NeededGroup | None
    needed_by_loading: Mapping[str, str]
    """State of loading -> group that this use would need with it."""
    needed_by_loading_confidence: str
    """That of the least sure of these (duty.groups.CONFIDENCES)."""
    needed_class: str | None
    """ASME HST class that the busiest hours need; None above H5, and for travel motions."""
    operations: Operations
    per_hour: StartsPerHour | None
    """Raw and equivalent starts in the busiest hours; None without a start."""
    contactors: ContactorService
    """The category that the contactors need."""
    heat: Heat | None
    """None where the machine file does not say what the motor is rated for."""
    period: SafePeriod | None = None
    period_end: Forecast | None = None
    period_by_loading: Mapping[str, SafePeriod] = field(default_factory=dict)
    """State of loading -> the period with it, where a group but no load is known; else empty."""
    period_rate: Rate | None = None
    """Hours of full load per calendar day, with the recording factor."""
    period_days: pl.DataFrame | None = field(default=None, compare=False, repr=False)
    """(day, weekday, observed, use): the hours of full load of each local day that the rate rests on."""
    parts: tuple[PartWear, ...] = ()
    crane_class: CraneClass | None = None
    """CMAA class that the lifts of a working hour need; None for travel, and where no raise is logged."""
    rating: MotorRating | None = None
    """What the motor's plate would have to say; None where nothing ran."""
    service: Service | None = None
    notes: tuple[str, ...] = ()
