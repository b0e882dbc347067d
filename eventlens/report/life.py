"""Section of the report: how hard the hoist works against what it was built for, and how much of it is used."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from eventlens.duty.groups import FROM_COLD, HOIST_CLASSES, MEAN_LOAD
from eventlens.life.classes import alike
from eventlens.life.contactors import CATEGORIES, OCCASIONAL, ContactorService
from eventlens.life.forecast import Forecast, Rate
from eventlens.life.groups import SOURCE as GROUPS_SOURCE
from eventlens.life.heat import Heat
from eventlens.life.inspection import IDLE_RULES, OSHA, Service
from eventlens.life.outcome import MotionLife
from eventlens.life.parts import PartWear
from eventlens.life.period import RULE_AT_THE_END, SafePeriod
from eventlens.life.rating import MotorRating
from eventlens.life.wear import StartsPerHour
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
    """How much it ran and started; equivalent starts stand beside the raw ones, which the limits count."""
    done = life.operations
    daily = f", {figure(life.h_per_working_day)} h on a working day" if life.h_per_working_day is not None else ""
    return (
        f"{figure(life.running_h)} running hours in the log{daily}; {counted(done.starts, 'start')} weigh as "
        f"{figure(done.equivalent)} complete ones, {100 * done.ac4_share:.0f} % of them jogs or plugging"
    )


def facts(life: MotionLife, clock: Clock) -> Facts:
    """Everything else, each with its rule and what it assumes."""
    if life.per_hour:
        yield "starts an hour", _per_hour(life.per_hour, clock)
    if life.motion == "hoist":
        yield from _group(life)
    if life.period:
        yield "safe period", _period(life.period)
        yield "used up", _end(life, clock)
        yield "", RULE_AT_THE_END
    elif life.period_by_loading:
        one = next(iter(life.period_by_loading.values()))
        each = ", ".join(f"{figure(item.used_h)} with {name}" for name, item in life.period_by_loading.items())
        mark = _marked(one.source, one.confidence)
        yield (
            "safe period",
            f"of {figure(one.duration_h)} hours of full load used: {each}; factor {one.factor:g} ({mark})",
        )
    if life.heat:
        yield "motor heat", _heat(life.heat, clock)
    if life.rating:
        yield "motor needed", _rating(life.rating)
    if life.operations.starts:
        yield "contactors", _contactors(life.contactors)
    yield from _parts(life.parts, clock)
    if life.service:
        yield from _inspection(life.service)
    for note in life.notes:
        yield "note", note


def _per_hour(hour: StartsPerHour, clock: Clock) -> str:
    """Equivalent starts beside the raw ones, never instead of them."""
    raw = f"{figure(hour.raw.value)} at most, mean {figure(hour.raw_mean)}: raw starts, which the limits count"
    whole = (
        f"{figure(hour.equivalent.value)} at most (to {clock(hour.equivalent.at)}), mean {figure(hour.equivalent_mean)}"
    )
    return f"{raw}; weighed as complete ones {whole} ({_marked(hour.source, hour.confidence)})"


def _contactors(service: ContactorService) -> str:
    """The category, what it means, and what decided."""
    category, (_, minute), (_, ten) = CATEGORIES[service.category], *OCCASIONAL
    means = f"{category.use}; makes {category.make:g} and breaks {category.breaks:g} times its rated current"
    most = (
        f"{service.in_minute} jogs or pluggings of one contactor in a minute at most, {service.in_ten_minutes} in ten"
    )
    mark = _marked(service.source, service.confidence)
    return f"{service.category} ({means}): {most}; up to {minute} and {ten} are occasional; for a cage motor ({mark})"


def _marked(source: str, confidence: str) -> str:
    """A source with the mark of a figure that is not confirmed."""
    return f"{source}, {CONFIDENCE[confidence]}" if CONFIDENCE[confidence] else source


def _group(life: MotionLife) -> Facts:
    """The needed group beside the plate's, or what it would be by load."""
    plate = f"plate: {life.group}" if life.group else "the machine file gives none"
    if life.spectrum:
        spectrum = life.spectrum
        kind = f"{spectrum.loading.iso} ({spectrum.loading.name})"
        mark = "" if spectrum.confidence == "confirmed" else f", with dead load ({CONFIDENCE[spectrum.confidence]})"
        yield "load spectrum", f"{kind}: k {spectrum.k:.2f}, km {spectrum.km:.3f}, {_HOW[spectrum.how]}{mark}"
    if life.needed:
        needed = life.needed
        beyond = " and more than it" if needed.beyond else ""
        by = f"by {needed.utilisation} and {needed.loading} ({_marked(needed.source, needed.confidence)})"
        yield "group needed", f"{needed.group} ({needed.fem}){beyond} {by}; {plate}"
    elif life.needed_by_loading:
        each = ", ".join(f"{group} with {loading}" for loading, group in life.needed_by_loading.items())
        yield "group needed", f"{each} ({_marked(GROUPS_SOURCE, life.needed_by_loading_confidence)}); {plate}"
    yield "hoist class", "; ".join(_classes(life))


def _classes(life: MotionLife) -> Iterator[str]:
    """The American classes."""
    yield f"{life.needed_class or 'above H5'} by its busiest hours (ASME HST)"
    if life.crane_class:
        crane = life.crane_class
        yield f"crane class {crane.name} by the lifts of a working hour ({_marked(crane.source, crane.confidence)})"
    if life.group and (same := alike(life.group)):
        yield f"the plate's {life.group} is about {same[0]} and {same[1]} (sources differ by a step)"
    if life.group and life.group in FROM_COLD:
        minutes, starts = FROM_COLD[life.group]
        yield f"once from cold {life.group} also allows {minutes:g} min or {starts} starts in all"
    if life.group in HOIST_CLASSES and life.spectrum and life.spectrum.k > MEAN_LOAD:
        yield f"{life.group} is meant for a mean load of {100 * MEAN_LOAD:.0f} %, here {100 * life.spectrum.k:.0f} %"


def _period(period: SafePeriod) -> str:
    return (
        f"{figure(period.used_h)} of {figure(period.duration_h)} hours of full load used, {100 * period.share:.1f} %, "
        f"{figure(max(period.remaining_h, 0.0))} left; of these {figure(period.in_log_h)} in the log, factor "
        f"{period.factor:g} ({_marked(period.source, period.confidence)}; recorded: "
        f"{period.recording.replace('_', ' ')})"
    )


def _end(life: MotionLife, clock: Clock) -> str:
    """The forecast, and the use of a year that it rests on."""
    rate, text = life.period_rate, date_of(life.period_end, clock)
    if rate is None:
        return text
    text += f" {_rests_on(rate)}"
    year = f"{figure(365 * rate.per_day)}"
    if rate.low is not None and rate.high is not None:
        year += f" ({figure(365 * rate.low)} to {figure(365 * rate.high)})"
    return f"{text}; that is {year} hours of full load in a year"


def _heat(heat: Heat, clock: Clock) -> str:
    """What the model says, that it is one, and what it takes for granted."""
    level = f"{100 * heat.peak:.0f} % of the level of rated duty at most, {clock(heat.at)}"
    kept = f"reserve {100 * heat.reserve:.0f} %" if heat.reserve >= 0 else "no reserve"
    mark = (
        f"; its time constants are {CONFIDENCE[heat.confidence].replace('check it', 'check them')}"
        if CONFIDENCE[heat.confidence]
        else ""
    )
    return f"{level} ({kept}; {100 * heat.from_starts:.0f} % of it from starts); {heat.assumes}{mark}"


def _rating(rating: MotorRating) -> str:
    share = f"{rating.duty} {100 * rating.cyclic_duration:.0f} %" if rating.cyclic_duration else rating.duty
    starts = f"{rating.starts_per_hour}" if rating.starts_per_hour else "more than 600"
    mark = _marked(rating.source, rating.confidence)
    return f"{share} with {starts} starts an hour, by its busiest times: {rating.meaning} ({mark})"


def _inspection(service: Service) -> Facts:
    """By class of service, whatever the service, and after a rest."""
    by = f"{service.name} service by {service.decided_by}" if service.decided_by else f"{service.name} service"
    asks = f"frequent {service.frequent}, periodic {service.periodic} ({_marked(service.source, service.confidence)})"
    yield "inspection", f"{by}: {asks}; local codes and the maker come first"
    yield "", "; ".join(f"{item.what} {item.how_often}" for item in OSHA) + " (OSHA 29 CFR 1910.179)"
    rules = "; ".join(f"{rule.after}: {rule.needs} ({_marked(rule.source, rule.confidence)})" for rule in IDLE_RULES)
    yield "after a rest", rules


def _parts(parts: tuple[PartWear, ...], clock: Clock) -> Facts:
    """A line for each part whose rating is known, what their dates rest on, and one line for all others."""
    rates = []
    for part in parts:
        if part.rated is not None:
            how = (
                part.how
                if part.confidence == "machine file"
                else f"{part.how}; {_marked(part.source, part.confidence)}"
            )
            share = f"{figure(part.used)} of {figure(part.rated)}, {100 * (part.share or 0.0):.1f} % ({how})"
            yield part.part, f"{share}; used up {date_of(part.until, clock)}"
            rates += [part.until.rate] if part.until else []
    if rates:
        yield "", f"dates {_rests_on(rates[0])}"
    if unrated := [f"{part.part} {figure(part.used)}" for part in parts if part.rated is None]:
        yield "operations", f"{', '.join(unrated)}; give their ratings in [parts] to see what is left"


def date_of(forecast: Forecast | None, clock: Clock) -> str:
    """A date with its interval."""
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
    return date


def _rests_on(rate: Rate) -> str:
    """What a date takes for granted: a log is a sample."""
    drawn = f"; interval from {rate.drawn} drawn anew" if rate.drawn else ""
    return f"at the rate of {figure(rate.days)} days of log; {rate.note}{drawn}"
