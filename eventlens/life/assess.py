"""One log, one machine -> what its use means for its life. Every figure carries its rule and what it assumes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from functools import cached_property
from typing import Final

import polars as pl

from eventlens import schema
from eventlens.duty.counts import MotionCounts
from eventlens.duty.groups import CONFIDENCES
from eventlens.duty.load import Load, load_of
from eventlens.duty.windows import HOUR_S
from eventlens.life import classed
from eventlens.life.contactors import service_needed
from eventlens.life.days import calendar, per_working_day, used
from eventlens.life.forecast import daily_use, forecast
from eventlens.life.groups import LOADINGS, NeededGroup, iso_group, needed_group
from eventlens.life.heat import Heat, hottest
from eventlens.life.outcome import MotionLife
from eventlens.life.parts import PartWear, Use, parts_of
from eventlens.life.period import FACTORS, SafePeriod, full_load_h, safe_period
from eventlens.life.spectrum import Spectrum, assumed, heavy_s, of_classes, of_loads
from eventlens.life.wear import StartsPerHour, StartWeights, busiest_weight, kinds_of_starts, operations
from eventlens.limits import configure
from eventlens.machine import Machine
from eventlens.motion import RecordAxis
from eventlens.motion.kinds import is_jog, of_motion
from eventlens.reading.log import Log

KNOWN_LOAD: Final = 0.5
"""Least share of the running time with a known load for a measured spectrum (common practice, no source)."""


WITH_LOAD: Final = (
    "the load is not measured: load.kg in the log, with rated_load_kg in the machine file, would give the spectrum of "
    "the use itself, the recording factor of automatic records, lifts by load and a surer class of service"
)


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
        self.runs = of_motion(runs, counts.motion)
        self.notes: list[str] = []

    def life(self) -> MotionLife:
        by_day = self._daily(self.runs["duration_s"] / 3600)
        working, rate = per_working_day(by_day), daily_use(by_day)
        spectrum = self._spectrum()
        done = operations(self._begun, int(self.runs["end_seen"].sum()))
        hoist, by_loading = self.motion == "hoist", self._by_loading(working)
        period = self._period(spectrum) if hoist else None
        by_full_load = self._daily(self._full_load(spectrum, period.factor)) if period and spectrum else None
        period_rate = daily_use(by_full_load) if by_full_load is not None else None
        period_end = forecast(period.remaining_h, period_rate, self.log.end) if period else None
        return MotionLife(
            motion=self.motion,
            running_h=self.counts.running_s / 3600,
            hours=rate,
            h_per_working_day=working,
            group=self.machine.group_of(self.motion),
            spectrum=spectrum,
            needed=self._needed(spectrum, working),
            needed_by_loading={name: needed.group for name, needed in by_loading.items()},
            needed_by_loading_confidence=max(
                (needed.confidence for needed in by_loading.values()), key=CONFIDENCES.index, default="confirmed"
            ),
            needed_class=classed.hoist_class(self.counts, self.runs, self.log.timezone) if hoist else None,
            operations=done,
            per_hour=self._per_hour(done.equivalent),
            contactors=service_needed(self._begun.filter(pl.col("kind") != "complete")),
            heat=self._heat(),
            period=period,
            period_end=period_end,
            period_by_loading=self._period_by_loading(spectrum) if hoist else {},
            period_rate=period_rate,
            period_days=by_full_load,
            parts=self._parts() if hoist else (),
            crane_class=classed.crane_class_of(self.counts) if hoist else None,
            rating=classed.rating_of(self.counts),
            service=classed.service_class(self.counts, spectrum, self.machine) if hoist else None,
            notes=tuple(self.notes),
        )

    def _daily(self, amount: pl.Series) -> pl.DataFrame:
        return used(self.days, self._begun_on, amount)

    @cached_property
    def _begun_on(self) -> pl.Series:
        """The local day on which each run began."""
        return self.runs["start"].dt.convert_time_zone(self.log.timezone).dt.date()

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
        if life.dead_load_kg and not self.machine.machine.rated_load_kg:
            self.notes.append("the dead load is left out: the machine file gives no rated_load_kg to hold it against")
        if life.load_classes or life.load_spectrum:
            self.notes.append(WITH_LOAD)
        if life.load_classes:
            return of_classes(life.load_classes, dead_ratio=self._dead_ratio)
        if life.load_spectrum:
            return assumed(life.load_spectrum)
        self.notes.append(
            "no load is known: log load.kg and give rated_load_kg, or give [life] load_spectrum, to learn the needed "
            "group and the hours of full load"
        )
        return None

    @property
    def _weights(self) -> StartWeights:
        return configure(StartWeights, self.machine.limits)

    @cached_property
    def _begun(self) -> pl.DataFrame:
        """The starts by kind, on the record's axis: no window reaches over a clock step."""
        begun = kinds_of_starts(self.runs, is_jog(self.jog_longest_s), self._weights)
        return self.axis.to_record(begun, "start")

    def _per_hour(self, equivalent: float) -> StartsPerHour | None:
        raw, mean = self.counts.starts_per_hour_max, self.counts.starts_per_hour_mean
        most = busiest_weight(self._begun)
        if raw is None or mean is None or most is None:
            return None
        hours, weights = self.log.observed_s / HOUR_S, self._weights
        return StartsPerHour(
            raw, replace(most, at=self._clock(most.at)), mean, equivalent / hours, weights.source, weights.confidence
        )

    def _clock(self, at: datetime) -> datetime:
        """An instant of the record's axis as the controller's clock showed it."""
        back: datetime = self.axis.to_clock(pl.DataFrame({"at": [at]}, schema={"at": schema.TIME}), "at")["at"][0]
        return back

    def _needed(self, spectrum: Spectrum | None, working: float | None) -> NeededGroup | None:
        if spectrum is None or working is None:
            return None
        found = needed_group(min(working, 24.0), spectrum.k)
        return replace(found, confidence=max(found.confidence, spectrum.confidence, key=CONFIDENCES.index))

    def _by_loading(self, working: float | None) -> dict[str, NeededGroup]:
        if working is None or self.motion != "hoist":
            return {}
        return {item.iso: needed_group(min(working, 24.0), item.most_k) for item in LOADINGS}

    def _recording(self, spectrum: Spectrum) -> str:
        """How the use is recorded: what the machine file says, but never better than what the log proves."""
        known = FACTORS[self.machine.life.factor_set]
        stated, proven = self.machine.life.recording, None
        if spectrum.how == "measured" and "automatic" in known:
            proven = "automatic"
        loads_read = spectrum.how != "assumed"
        if (stated == "automatic" and not proven) or (stated == "counter_read" and not loads_read):
            lacks = "is measured" if stated == "automatic" else "is in [life] load_classes or in the log"
            self.notes.append(f"no load {lacks}, so the recording counts as a counter with an estimated spectrum")
            return "counter_spectrum_estimated"
        return stated or proven or "counter_spectrum_estimated"

    def _period(self, spectrum: Spectrum | None) -> SafePeriod | None:
        group, life = self.machine.group_of("hoist"), self.machine.life
        if not group or spectrum is None or iso_group(group) is None:
            return None
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
            return None
        whole_s = (self.log.segments["end"].max() - self.log.segments["start"].min()).total_seconds()  # type: ignore[operator, union-attr]
        if whole_s - self.log.observed_s > max(0.001 * whole_s, 1.0):
            self.notes.append(
                f"{(whole_s - self.log.observed_s) / 3600:.1f} h of the log are not observed: what was used in them is "
                "not in the hours of full load, and the date takes them to be like the others"
            )
        return period

    def _period_by_loading(self, spectrum: Spectrum | None) -> dict[str, SafePeriod]:
        """What the period would be with each state of loading, where no load is known but the group is."""
        if spectrum or self.machine.group_of("hoist") is None:
            return {}
        found = {item.iso: self._period(assumed(item.iso)) for item in LOADINGS}
        return {name: period for name, period in found.items() if period}

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
        if rated is None:
            return None
        on_axis = self.axis.to_record(self.runs.select("start", "end", "start_seen", "segment"), "start", "end")
        found = hottest(on_axis, rated, self.machine.limits)
        if found is None:
            return None
        return replace(found, at=self._clock(found.at))

    def _parts(self) -> tuple[PartWear, ...]:
        """Contactors, relays, brake and rope of the hoist."""
        heights = self.log.events.filter(pl.col("signal") == pl.lit("hoist.height_m", schema.SIGNAL))
        if self.machine.parts.rope_cycles and heights.is_empty():
            self.notes.append("the height of the hook is not logged (hoist.height_m): bending cycles are not counted")
        use = Use(
            runs=self.runs,
            heights=heights.select("value", "segment"),
            begun=self._begun,
            rate=lambda amount: daily_use(self._daily(amount)),
            end=self.log.end,
        )
        return parts_of(use, self.machine.parts)
