"""Section of the report: how hard the hoist works against what it was built for, and how much of it is used."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from eventlens.life.assess import MotionLife, PartWear
from eventlens.life.forecast import Forecast
from eventlens.life.period import RULE_AT_THE_END, SafePeriod
from eventlens.report.lines import Page
from eventlens.report.words import CONFIDENCE, Clock, counted, figure
from eventlens.result import Review

Facts = Iterator[tuple[str, str]]
"""Label and text."""

_HOW: Final = {
    "measured": "measured",
    "classes": "from the classes in the machine file",
    "assumed": "assumed by the machine file",
}


def write(page: Page, review: Review, clock: Clock) -> None:
    """The life of every motion that the log carries."""
    if not review.life:
        return
    page.heading("Life")
    for motion, life in review.life.items():
        page.say(f"{motion}: {work(life)}", "  ", "      ")
        for label, text in facts(life, clock):
            page.pair(label, text)


def work(life: MotionLife) -> str:
    """How much it ran and started."""
    done = life.operations
    daily = f", {figure(life.h_per_working_day)} h on a working day" if life.h_per_working_day is not None else ""
    return (
        f"{figure(life.running_h)} running hours in the log{daily}; {counted(done.starts, 'start')} weigh as "
        f"{figure(done.equivalent)} complete ones, {100 * done.ac4_share:.0f} % of them jogs or plug reversals"
    )


def facts(life: MotionLife, clock: Clock) -> Facts:
    """Everything else, each with its rule and what it assumes."""
    if life.motion == "hoist":
        yield from _group(life)
    if life.period:
        yield "safe period", _period(life.period)
        yield "used up", when(life.period_end, clock)
        yield "", RULE_AT_THE_END
    if life.heat:
        peak = f"{100 * life.heat.peak:.0f} % of the level of rated duty at most, {clock(life.heat.at)}"
        yield "motor heat", f"{peak}; {life.heat.assumes}"
    yield from _parts(life.parts, clock)
    if life.service:
        asks = f"frequent {life.service.frequent}, periodic {life.service.periodic} ({life.service.source})"
        yield "inspection", f"{life.service.name} service: {asks}; local codes and the maker come first"
    for note in life.notes:
        yield "note", note


def _group(life: MotionLife) -> Facts:
    """The needed group beside the plate's, or what it would be by load."""
    plate = f"plate: {life.group}" if life.group else "the machine file gives none"
    if life.spectrum:
        spectrum = life.spectrum
        kind = f"{spectrum.loading.iso} ({spectrum.loading.name})"
        yield "load spectrum", f"{kind}: k {spectrum.k:.2f}, km {spectrum.km:.3f}, {_HOW[spectrum.how]}"
    if life.needed:
        needed = life.needed
        mark = f", {CONFIDENCE[needed.confidence]}" if CONFIDENCE[needed.confidence] else ""
        beyond = " and more than it" if needed.beyond else ""
        by = f"by {needed.utilisation} and {needed.loading} ({needed.source}{mark})"
        yield "group needed", f"{needed.group} ({needed.fem}){beyond} {by}; {plate}"
    elif life.needed_by_loading:
        each = ", ".join(f"{group} with {loading}" for loading, group in life.needed_by_loading.items())
        yield "group needed", f"{each}; {plate}"
    yield "hoist class", f"{life.needed_class or 'above H5'} by its busiest hours (ASME HST)"


def _period(period: SafePeriod) -> str:
    mark = f"; {CONFIDENCE[period.confidence]}" if CONFIDENCE[period.confidence] else ""
    return (
        f"{figure(period.used_h)} of {figure(period.duration_h)} hours of full load used, {100 * period.share:.1f} %; "
        f"of these {figure(period.in_log_h)} in the log, factor {period.factor:g} ({period.source}; recorded: "
        f"{period.recording.replace('_', ' ')}{mark})"
    )


def _parts(parts: tuple[PartWear, ...], clock: Clock) -> Facts:
    """A line for each part whose rating is known, one for all others."""
    for part in parts:
        if part.rated is not None:
            share = f"{figure(part.used)} of {figure(part.rated)}, {100 * (part.share or 0.0):.1f} % ({part.how})"
            yield part.part, f"{share}; used up {when(part.until, clock)}"
    if unrated := [f"{part.part} {figure(part.used)}" for part in parts if part.rated is None]:
        yield "operations", f"{', '.join(unrated)}; give their ratings in [parts] to see what is left"


def when(forecast: Forecast | None, clock: Clock) -> str:
    """A date with its interval, and what it takes for granted."""
    if forecast is None:
        return "not known: no day was observed"
    if forecast.at is None:
        return "not within two hundred years at this rate"
    date = clock(forecast.at)[:10]
    if forecast.rate.low is None:
        date += " (too few days for an interval)"
    elif forecast.earliest and forecast.earliest != forecast.at:
        latest = f"to {clock(forecast.latest)[:10]}" if forecast.latest else "onwards"
        date += f" (95 % interval from {clock(forecast.earliest)[:10]} {latest})"
    return f"{date} at the rate of {figure(forecast.rate.days)} days of log; {forecast.rate.note}"
