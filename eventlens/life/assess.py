"""One log, one machine -> what its use means for its life. Every figure carries its rule and what it assumes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from typing import Final

import polars as pl

from eventlens.duty.counts import MotionCounts
from eventlens.duty.load import Load, load_of
from eventlens.duty.windows import HOUR_S
from eventlens.life import heat as heating
from eventlens.life.days import calendar, per_working_day, used
from eventlens.life.forecast import Forecast, Rate, daily_use, forecast
from eventlens.life.groups import LOADINGS, NeededGroup, iso_group, needed_class, needed_group
from eventlens.life.inspection import Service, service_of
from eventlens.life.period import SafePeriod, full_load_h, safe_period
from eventlens.life.spectrum import Spectrum, assumed, heavy_s, of_classes, of_loads
from eventlens.life.wear import Operations, StartWeights, full_paths, mixed_life, operations
from eventlens.limits import configure
from eventlens.machine import Machine
from eventlens.motion import RecordAxis
from eventlens.motion.kinds import is_jog
from eventlens.reading.log import Log

KNOWN_LOAD: Final = 0.5
"""Least share of the running time with a known load for a measured spectrum (common practice, no source)."""


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
    how: str
    """How it was counted."""

    @property
    def share(self) -> float | None:
        return self.used / self.rated if self.rated else None


@dataclass(frozen=True)
class Heat:
    """The hottest moment of a motor by the model."""

    peak: float
    """In shares of the level that rated duty keeps; above 1 it was worked hotter than rated."""
    at: datetime
    assumes: str


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
    needed_class: str | None
    """ASME HST class that the busiest hours need; None above H5, and for travel motions."""
    operations: Operations
    heat: Heat | None
    """None where the machine file does not say what the motor is rated for."""
    period: SafePeriod | None = None
    period_end: Forecast | None = None
    parts: tuple[PartWear, ...] = ()
    service: Service | None = None
    notes: tuple[str, ...] = ()


def assess(
    log: Log, machine: Machine, runs: pl.DataFrame, counts: Mapping[str, MotionCounts], jog_longest_s: float
) -> dict[str, MotionLife]:
    """The life of every motion that was counted.

    runs: schema.RUNS by the controller's clock; jog_longest_s: the limit of the pattern `jogging` [s].
    """
    days = calendar(log.segments, log.timezone)
    axis = RecordAxis.of(log)
    return {
        motion: _Assessment(log, machine, runs, counts[motion], days, axis, jog_longest_s).life() for motion in counts
    }


class _Assessment:
    """The steps for one motion."""

    def __init__(
        self,
        log: Log,
        machine: Machine,
        runs: pl.DataFrame,
        counts: MotionCounts,
        days: pl.DataFrame,
        axis: RecordAxis,
        jog_longest_s: float,
    ) -> None:
        self.log, self.machine, self.counts, self.days, self.axis = log, machine, counts, days, axis
        self.jog_longest_s = jog_longest_s
        self.motion = counts.motion
        self.runs = runs.filter(pl.col("motion") == counts.motion)
        self.notes: list[str] = []

    def life(self) -> MotionLife:
        by_day = self._daily(self.runs["duration_s"] / 3600)
        working, rate = per_working_day(by_day), daily_use(by_day)
        spectrum = self._spectrum()
        done = operations(self.runs, is_jog(self.jog_longest_s), configure(StartWeights, self.machine.limits))
        hoist = self.motion == "hoist"
        period, period_end = self._period(spectrum) if hoist else (None, None)
        return MotionLife(
            motion=self.motion,
            running_h=self.counts.running_s / 3600,
            hours=rate,
            h_per_working_day=working,
            group=self.machine.group_of(self.motion),
            spectrum=spectrum,
            needed=needed_group(min(working, 24.0), spectrum.k) if spectrum and working is not None else None,
            needed_by_loading=self._by_loading(working),
            needed_class=self._needed_class() if hoist else None,
            operations=done,
            heat=self._heat(),
            period=period,
            period_end=period_end,
            parts=self._parts(done) if hoist else (),
            service=self._service(spectrum) if hoist else None,
            notes=tuple(self.notes),
        )

    def _daily(self, amount: pl.Series) -> pl.DataFrame:
        return used(self.days, self.runs["start"], amount, self.log.timezone)

    @cached_property
    def _load(self) -> Load | None:
        """The load in shares of the rated load, where that is known."""
        load = load_of(self.log.events, self.log.segments, self.machine.machine.rated_load_kg)
        return load if load and load.rated else None

    @property
    def _dead_ratio(self) -> float:
        """Hook and lifting device in shares of the rated load; 0 where the machine file gives no rated load."""
        rated = self.machine.machine.rated_load_kg
        return self.machine.life.dead_load_kg / rated if rated else 0.0

    def _spectrum(self) -> Spectrum | None:
        """Measured where it can be, else as the machine file says."""
        life = self.machine.life
        if self.motion != "hoist":
            return None
        if self._load:
            found = of_loads(self.runs, self._load, dead_ratio=self._dead_ratio)
            share = (found.known_h or 0.0) / max(self.counts.running_s / 3600, 1e-9) if found else 0.0
            if found and share >= KNOWN_LOAD:
                return found
            self.notes.append(f"the load is known for {100 * share:.0f} % of the running time only: not used")
        if life.load_classes:
            return of_classes(life.load_classes, dead_ratio=self._dead_ratio)
        if life.load_spectrum:
            return assumed(life.load_spectrum)
        self.notes.append(
            "no load is known: log load.kg and give rated_load_kg, or give [life] load_spectrum, to learn the needed "
            "group and the hours of full load"
        )
        return None

    def _by_loading(self, working: float | None) -> dict[str, str]:
        if working is None or self.motion != "hoist":
            return {}
        return {item.iso: needed_group(min(working, 24.0), item.most_k).group for item in LOADINGS}

    def _needed_class(self) -> str | None:
        """From the busiest hour of each figure; the share over an hour is at most that over ten minutes."""
        hours = self.counts.clock_hours
        by_hour = self.counts.limits is not None and self.counts.limits.window_s == HOUR_S
        busiest = self.counts.limit_window_max if by_hour else None
        starts = self.counts.starts_per_hour_max.value if self.counts.starts_per_hour_max else 0.0
        share = busiest.value if busiest else self._busiest_clock_hour(hours)
        return needed_class(share, starts)

    def _busiest_clock_hour(self, hours: pl.DataFrame) -> float:
        """Largest running time that began in one clock hour, as a share of it."""
        if hours.is_empty():
            return 0.0
        local = self.runs["start"].dt.convert_time_zone(self.log.timezone).dt.truncate("1h")
        spent = pl.DataFrame({"hour": local, "s": self.runs["duration_s"]}).group_by("hour").agg(pl.col("s").sum())
        return min(float(spent["s"].max() or 0.0) / 3600, 1.0)  # type: ignore[arg-type]

    def _service(self, spectrum: Spectrum | None) -> Service:
        hours = self.counts.clock_hours.height
        on_time = self.counts.running_s / 3600 / hours if hours else 0.0
        return service_of(
            min(on_time, 1.0), spectrum.k if spectrum else None, abnormal=self.machine.life.abnormal_service
        )

    def _recording(self, spectrum: Spectrum) -> str:
        """How the use is recorded: what the machine file says, but never better than what the log proves."""
        stated, proven = self.machine.life.recording, "automatic" if spectrum.how == "measured" else None
        if stated == "automatic" and not proven:
            self.notes.append("no load is measured, so the recording counts as a counter with an estimated spectrum")
            return "counter_spectrum_estimated"
        return stated or proven or "counter_spectrum_estimated"

    def _period(self, spectrum: Spectrum | None) -> tuple[SafePeriod | None, Forecast | None]:
        group, life = self.machine.group_of("hoist"), self.machine.life
        if not group or spectrum is None or iso_group(group) is None:
            return None, None
        recording = self._recording(spectrum)
        period = safe_period(
            group,
            self.counts.running_s / 3600,
            spectrum,
            recording=recording,
            factor_set=life.factor_set,
            used_before_h=life.used_before_h,
        )
        if period is None:
            return None, None
        rate = daily_use(self._daily(self._full_load(spectrum, period.factor)))
        return period, forecast(period.remaining_h, rate, self.log.end)

    def _full_load(self, spectrum: Spectrum, factor: float) -> pl.Series:
        """Hours of full load of each run; where its load is not known the spectrum stands in."""
        hours = self.runs["duration_s"] / 3600
        if spectrum.how != "measured" or self._load is None:
            return full_load_h(1.0, spectrum.km, factor) * hours
        each = heavy_s(self.runs, self._load, dead_ratio=self._dead_ratio) / 3600
        rest = (hours - each["known_s"]).clip(0.0)
        return factor * (each["heavy_s"] + spectrum.km * rest)

    def _heat(self) -> Heat | None:
        rated = self.counts.limits
        if rated is None or self.runs.is_empty():
            return None
        model = heating.HeatModel.of(rated, configure(heating.HeatParameters, self.machine.limits))
        on_axis = self.axis.to_record(self.runs.select("start", "end", "start_seen", "segment"), "start", "end")
        heated = self.axis.to_clock(heating.heat(on_axis, model), "start", "end")
        hottest = heated.row(int(heated["at_end"].arg_max() or 0), named=True)
        return Heat(hottest["at_end"], hottest["end"], heating.ASSUMES)

    def _parts(self, done: Operations) -> tuple[PartWear, ...]:
        """Contactor, brake, relay and rope of the hoist."""
        rated, seen = self.machine.parts, self.runs.filter("start_seen")
        ones = pl.Series([1.0]).new_from_index(0, self.runs.height)
        contactor = None
        if rated.contactor_ac3 and rated.contactor_ac4:
            contactor = mixed_life(rated.contactor_ac3, rated.contactor_ac4, done.ac4_share)
        share = f"{100 * done.ac4_share:.0f} % of them in AC-4 service (jogs and plug reversals)"
        parts = [
            self._part("contactor tips", done.starts, rated.contactor_before, contactor, ones, share),
            self._part(
                "brake", done.brake_stops, rated.brake_before, rated.brake_stops, ones, "a stop for each end of a run"
            ),
            self._part("relay", done.starts, rated.relay_before, rated.relay, ones, "an operation for each start"),
        ]
        heights = self.log.events.filter(pl.col("signal").cast(pl.String) == "hoist.height_m")
        if rated.hook_path_m and not heights.is_empty():
            cycles = full_paths(heights["value"], rated.hook_path_m)
            way = self.runs["duration_s"] * (cycles / max(self.counts.running_s, 1e-9))
            parts.append(
                self._part(
                    "rope", cycles, rated.rope_before, rated.rope_cycles, way, "full paths up and down, measured"
                )
            )
        return tuple(part for part in parts if seen.height or part.in_log)

    def _part(
        self, name: str, in_log: float, before: float, rated: float | None, amount: pl.Series, how: str
    ) -> PartWear:
        total = before + in_log
        until = forecast(rated - total, daily_use(self._daily(amount)), self.log.end) if rated else None
        return PartWear(name, in_log, total, rated, until, how)
