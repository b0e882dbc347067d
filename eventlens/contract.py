"""The JSON form of a review, contract 1: what other programs may rely on. It changes only by adding.

Times are RFC 3339 with offset in the log's zone; durations are in seconds and end in `_s`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final
from zoneinfo import ZoneInfo

import polars as pl

from eventlens import json_text, signals
from eventlens.causes.written import causes_of
from eventlens.duty.counts import MotionCounts, Spread
from eventlens.duty.groups import HOIST_CLASSES
from eventlens.duty.lifts import Lifts, TripRates
from eventlens.duty.windings import Winding
from eventlens.duty.windows import Peak
from eventlens.json_text import number, stamp, stamps
from eventlens.life.contactors import CATEGORIES, ContactorService
from eventlens.life.forecast import Forecast, Rate
from eventlens.life.groups import SOURCE as GROUPS_SOURCE
from eventlens.life.heat import Heat
from eventlens.life.inspection import IDLE_RULES, OSHA, Service
from eventlens.life.outcome import MotionLife
from eventlens.life.parts import PartWear
from eventlens.life.period import ASSESSMENT, RULE_AT_THE_END, SafePeriod
from eventlens.life.spectrum import Spectrum
from eventlens.life.wear import StartsPerHour
from eventlens.reading.log import Log
from eventlens.statistics import rates

if TYPE_CHECKING:
    from eventlens.result import Review

CONTRACT: Final = 1


def to_json(review: Review, *, indent: int | None = 2) -> str:
    """The review as JSON text."""
    return json_text.text(_content(review), indent) + "\n"


def _content(review: Review) -> dict[str, Any]:
    """The review as plain dictionaries, lists, numbers and texts, and tables where lists may be long."""
    review = review.complete()
    zone = ZoneInfo(review.log.timezone)
    plate = review.machine.machine
    return {
        "contract": CONTRACT,
        "source": _source(review),
        "machine": {
            "id": plate.id,
            "group": plate.group,
            "trolley_group": plate.trolley_group,
            "bridge_group": plate.bridge_group,
            "rated_load_kg": plate.rated_load_kg,
            "limits": dict(sorted(review.machine.limits.items())),
        },
        "log": _log(review, zone),
        "shifts": {"times": list(review.shifts.times), "days": list(review.shifts.days), "how": review.shifts.how},
        "motions": {motion: _motion(counts, zone) for motion, counts in review.motions.items()},
        "findings": _findings(review, zone),
        "not_assessed": review.not_assessed.to_dicts(),
        "duty": {motion: _duty(counts, zone) for motion, counts in review.motions.items()},
        "life": {motion: life_of(item, zone) for motion, item in review.life.items()},
        "work": {
            "kinds": [
                {name: number(value) if isinstance(value, float) else value for name, value in row.items()}
                for row in review.work.table.iter_rows(named=True)
            ],
            "notes": list(review.work.notes),
        },
        **causes_of(review.causes),
        "history": [
            {"at": stamp(one.at, zone), "kind": one.kind, "text": one.text, "counts": one.counts or None}
            for one in review.history
        ],
        "cautions": list(review.cautions),
    }


def _source(review: Review) -> dict[str, Any]:
    return {
        "files": [
            {
                "name": file.name,
                "sha256": file.sha256,
                "rows": file.rows,
                "events": file.events,
                "rejected": file.rejected,
                "blank": file.blank,
                "taken": file.taken,
                "first_row": file.first_row,
                "first_line": file.first_line,
                "repeated": file.repeated,
            }
            for file in review.log.files
        ],
        "layout": review.log.layout,
        "profile": review.log.profile,
    }


def _log(review: Review, zone: ZoneInfo) -> dict[str, Any]:
    log = review.log
    rejected = log.rejected.group_by("reason", maintain_order=True).agg(count=pl.len(), first_line=pl.col("row").min())
    return {
        "start": stamp(log.start, zone),
        "end": stamp(log.end, zone),
        "timezone": log.timezone,
        "observed_s": number(log.observed_s),
        "step_s": number(log.step_s),
        "rhythm_s": number(log.rhythm_s),
        "holes": log.holes.select(stamps("start", zone), stamps("end", zone), "why", "rows", "limit_s"),
        "clock_steps": log.clock_steps.select(stamps("at", zone), "seconds", "rows", "why"),
        "duplicates": log.duplicates,
        "reordered": log.reordered,
        "frozen": review.frozen,
        "signal_quality": [
            {**row, "unknown_share": number(row["unknown_share"])}
            for row in review.signal_quality.iter_rows(named=True)
        ],
        "rejected": rejected.sort("first_line", "reason").to_dicts(),
        "signals": log.names.select("name", "signal", "rows", "edges", "repeated", "mapped_by").to_dicts(),
        "notes": list(log.notes),
    }


def _motion(counts: MotionCounts, zone: ZoneInfo) -> dict[str, Any]:
    return {
        "runs": counts.runs,
        "starts": counts.starts,
        "running_s": number(counts.running_s),
        "fast_s": number(counts.fast_s),
        "jogs": counts.jogs,
        "reversals": counts.reversals,
        "starts_per_hour_max": _peak(counts.starts_per_hour_max, zone),
        "starts_per_hour_mean": number(counts.starts_per_hour_mean),
        "starts_by_clock_hour": counts.clock_hours.select(stamps("hour", zone), starts="count"),
        "cyclic_duration_max": _peak(counts.cyclic_duration_max, zone),
        "release_time_s": _spread(counts.release_time_s),
        "apply_time_s": _spread(counts.apply_time_s),
        "speed_change_delay_s": _spread(counts.speed_change_delay_s),
        "endings": dict(counts.endings),
        "lifts": _lifts(counts.lifts) if counts.lifts else None,
        "overload_trips": _trips(counts.trips) if counts.trips else None,
    }


def _lifts(lifts: Lifts) -> dict[str, Any]:
    """Lifts; borders of the load classes are shares of the rated load."""
    return {
        "lifts": lifts.lifts,
        "work_cycles": lifts.cycles,
        "how": lifts.how,
        "assumes": lifts.assumes,
        "load_unknown": lifts.unknown,
        "work_cycle_s": number(lifts.cycle_s),
        "load_classes": [
            {
                "above": number(one.above),
                "upto": number(one.upto),
                "lifts": one.lifts,
                "share": number(one.lifts / lifts.lifts) if lifts.lifts else None,
            }
            for one in lifts.classes
        ],
    }


def _trips(trips: TripRates) -> dict[str, Any]:
    return {
        "trips": trips.trips,
        "per_100_lifts": _limits(trips.per_100_lifts),
        "per_running_hour": _limits(trips.per_running_h),
        "per_observed_hour": _limits(trips.per_observed_h),
    }


def _limits(rate: rates.Rate | None) -> dict[str, Any] | None:
    return {name: number(value) for name, value in vars(rate).items()} if rate else None


def _duty(counts: MotionCounts, zone: ZoneInfo) -> dict[str, Any]:
    limits = counts.limits
    return {
        "starts_per_hour_limit": limits.starts_per_hour if limits else None,
        "cyclic_duration_limit": number(limits.cyclic_duration) if limits else None,
        "cyclic_duration_window_s": number(limits.window_s) if limits else None,
        "cyclic_duration_in_window_max": _peak(counts.limit_window_max, zone),
        "source": limits.source if limits else None,
        "confidence": limits.confidence if limits else None,
        "windings": [_winding(winding, zone) for winding in counts.windings],
        "windings_assumed": counts.windings_assumed,
    }


def _winding(winding: Winding, zone: ZoneInfo) -> dict[str, Any]:
    limits = winding.limits
    return {
        "winding": winding.winding,
        "starts": winding.starts,
        "starts_by_change": winding.changes,
        "running_s": number(winding.running_s),
        "starts_per_hour_max": _peak(winding.starts_per_hour_max, zone),
        "starts_per_hour_limit": number(limits.starts_per_hour) if limits else None,
        "cyclic_duration_max": _peak(winding.cyclic_duration_max, zone),
        "cyclic_duration_limit": number(limits.cyclic_duration) if limits else None,
        "source": limits.source if limits else None,
        "confidence": limits.confidence if limits else None,
    }


def life_of(life: MotionLife, zone: ZoneInfo) -> dict[str, Any]:
    """The life of one motion; hours are hours of running or, where named so, of full load."""
    needed, done = life.needed, life.operations
    unknown = next(iter(life.period_by_loading.values()), None)
    return {
        "running_h": number(life.running_h),
        "running_h_per_day": _rate(life.hours),
        "running_h_per_working_day": number(life.h_per_working_day),
        "group": life.group,
        "needed_group": vars(needed) if needed else None,
        "needed_group_by_load_spectrum": dict(life.needed_by_loading),
        "needed_group_by_load_spectrum_confidence": life.needed_by_loading_confidence,
        "needed_class": life.needed_class,
        "needed_class_source": HOIST_CLASSES["H5"].source if life.motion == "hoist" else None,
        "needed_class_confidence": HOIST_CLASSES["H5"].confidence if life.motion == "hoist" else None,
        "needed_crane_class": vars(life.crane_class) if life.crane_class else None,
        "load_spectrum": _spectrum(life.spectrum) if life.spectrum else None,
        "safe_working_period": _period(life, life.period, zone) if life.period else None,
        "used_full_load_h_by_load_spectrum": {name: number(one.used_h) for name, one in life.period_by_loading.items()},
        "used_full_load_h_by_load_spectrum_source": unknown.source if unknown else None,
        "used_full_load_h_by_load_spectrum_confidence": unknown.confidence if unknown else None,
        "starts": done.starts,
        "equivalent_starts": number(done.equivalent),
        "jogs": done.jogs,
        "plug_stops": done.plug_stops,
        "plug_reversals": done.plug_reversals,
        "ac4_share": number(done.ac4_share),
        "starts_per_hour": _per_hour(life.per_hour, zone) if life.per_hour else None,
        "contactor_service": {**vars(life.contactors), **_category(life.contactors)},
        "parts": [_part(part, zone) for part in life.parts],
        "motor_heat": _heat(life.heat, zone) if life.heat else None,
        "motor_rating_needed": vars(life.rating) if life.rating else None,
        "inspection": _inspection(life.service) if life.service else None,
        "notes": list(life.notes),
    }


def _spectrum(spectrum: Spectrum) -> dict[str, Any]:
    return {
        "class": spectrum.loading.iso,
        "k": number(spectrum.k),
        "km": number(spectrum.km),
        "how": spectrum.how,
        "known_h": number(spectrum.known_h),
        "source": GROUPS_SOURCE,
        "confidence": spectrum.confidence,
    }


def _period(life: MotionLife, period: SafePeriod, zone: ZoneInfo) -> dict[str, Any]:
    return {
        "used_full_load_h": number(period.used_h),
        "in_log_full_load_h": number(period.in_log_h),
        "duration_full_load_h": number(period.duration_h),
        "remaining_full_load_h": number(period.remaining_h),
        "share": number(period.share),
        "recording": period.recording,
        "factor": number(period.factor),
        "factor_set": period.factor_set,
        "source": period.source,
        "confidence": period.confidence,
        "full_load_h_per_day": _rate(life.period_rate),
        "ends": _forecast(life.period_end, zone),
        "at_the_end": RULE_AT_THE_END,
        "special_assessment": ASSESSMENT,
    }


def _part(part: PartWear, zone: ZoneInfo) -> dict[str, Any]:
    return {
        "part": part.part,
        "in_log": number(part.in_log),
        "used": number(part.used),
        "rated": number(part.rated),
        "share": number(part.share),
        "used_up": _forecast(part.until, zone),
        "how": part.how,
        "source": part.source,
        "confidence": part.confidence,
    }


def _per_hour(hour: StartsPerHour, zone: ZoneInfo) -> dict[str, Any]:
    """Raw and equivalent starts in the busiest hours, side by side; limits are held against the raw ones alone."""
    return {
        "max": _peak(hour.raw, zone),
        "equivalent_max": _peak(hour.equivalent, zone),
        "mean": number(hour.raw_mean),
        "equivalent_mean": number(hour.equivalent_mean),
        "source": hour.source,
        "confidence": hour.confidence,
    }


def _category(service: ContactorService) -> dict[str, Any]:
    """What contactors of the category make and break, in rated currents."""
    category = CATEGORIES[service.category]
    return {
        "makes": number(category.make),
        "breaks": number(category.breaks),
        "making_capacity": number(category.making_capacity),
        "breaking_capacity": number(category.breaking_capacity),
        "capacity_confidence": category.capacity_confidence,
    }


def _heat(heat: Heat, zone: ZoneInfo) -> dict[str, Any]:
    """The heat model, in shares of the level that rated duty keeps."""
    return {
        "peak": number(heat.peak),
        "reserve": number(heat.reserve),
        "from_starts": number(heat.from_starts),
        "at": stamp(heat.at, zone),
        "assumes": heat.assumes,
        "confidence": heat.confidence,
    }


def _inspection(service: Service) -> dict[str, Any]:
    return {
        **vars(service),
        "other_intervals": [vars(item) for item in OSHA],
        "after_idle": [vars(rule) for rule in IDLE_RULES],
    }


def _rate(rate: Rate | None) -> dict[str, Any] | None:
    if rate is None:
        return None
    figures = {"value": rate.per_day, "low": rate.low, "high": rate.high, "days": rate.days}
    return {**{name: number(value) for name, value in figures.items()}, "note": rate.note, "drawn": rate.drawn}


def _forecast(forecast: Forecast | None, zone: ZoneInfo) -> dict[str, Any] | None:
    if forecast is None:
        return None
    dates = {"at": forecast.at, "earliest": forecast.earliest, "latest": forecast.latest}
    return {**{name: stamp(at, zone) if at else None for name, at in dates.items()}, "note": forecast.rate.note}


def _findings(review: Review, zone: ZoneInfo) -> list[dict[str, Any]]:
    key = ("pattern", "motion", "signal")
    proof = (stamps("start", zone), stamps("end", zone), "certainty", "measured", "limit", "direction", "rows")
    evidence = review.occurrences.select(*key, *proof).partition_by(*key, include_key=False, as_dict=True)
    return [
        {
            **{name: row[name] for name in (*key, "severity", "certainty", "count", "certain_count")},
            "first": stamp(row["first"], zone),
            "last": stamp(row["last"], zone),
            "rate_per_hour": {
                "value": number(row["rate_per_hour"]),
                "low": number(row["rate_low"]),
                "high": number(row["rate_high"]),
            },
            "summary": row["summary"],
            "signals_proposed": rests_on_proposed(review.log, row["motion"], row["signal"]),
            "occurrences": evidence[tuple(row[name] for name in key)],
        }
        for row in review.findings.iter_rows(named=True)
    ]


def rests_on_proposed(log: Log, motion: str | None, signal: str | None) -> bool:
    """Whether a finding about a motion or a signal rests on signals that nobody stated: see reading/suggest."""
    proposed = log.names.filter(pl.col("mapped_by") == "proposed")["signal"].cast(pl.String).to_list()
    if motion is None:
        return signal in proposed
    return any(signals.motion_of(name) in (motion, None) for name in proposed)


def _peak(peak: Peak | None, zone: ZoneInfo) -> dict[str, Any] | None:
    return {"value": number(peak.value), "at": stamp(peak.at, zone)} if peak else None


def _spread(spread: Spread | None) -> dict[str, Any] | None:
    return {"median": number(spread.median), "p95": number(spread.p95), "n": spread.n} if spread else None
