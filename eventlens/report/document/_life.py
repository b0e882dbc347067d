"""Life: how hard each mechanism works against what it was built for, what is used of it, and when the rest will be."""

from __future__ import annotations

from collections.abc import Iterator

from eventlens.life.forecast import Forecast
from eventlens.life.outcome import MotionLife
from eventlens.life.parts import PartWear
from eventlens.life.period import RULE_AT_THE_END, SafePeriod
from eventlens.life.wear import StartsPerHour
from eventlens.report.document._duty import source_of
from eventlens.report.document._front import place
from eventlens.report.document.language import Words, text
from eventlens.report.document.model import Block, Bullets, Facts, Inline, Level, Paragraph, Section, Table
from eventlens.report.words import Clock
from eventlens.result import Review

Pairs = Iterator[tuple[Inline, Inline]]


def life(review: Review, words: Words, clock: Clock) -> Section:
    """The life of every motion that the log carries."""
    blocks: list[Block] = [Paragraph(words.say("life_intro" if review.life else "no_motion"))]
    for motion, item in review.life.items():
        blocks.append(Level(f"life-{motion}", text(place(motion, words)), "", 0))
        blocks.append(Facts(tuple(_facts(item, words, clock))))
        if rated := [part for part in item.parts if part.rated is not None]:
            blocks.append(_parts(rated, words, clock))
        if item.notes:
            blocks.append(Bullets(tuple((words.english(note),) for note in item.notes)))
    return Section("life", words("life"), tuple(blocks))


def _facts(item: MotionLife, words: Words, clock: Clock) -> Pairs:
    done = item.operations
    worked = words("life_hours", hours=words.number(item.running_h))
    if item.h_per_working_day is not None:
        worked += words("life_daily", hours=words.number(item.h_per_working_day))
    yield words.say("life_work"), text(worked)
    share = f"{100 * done.ac4_share:.0f} %"
    yield (
        words.say("starts_label"),
        words.say("life_starts", n=done.starts, whole=words.number(done.equivalent), share=share),
    )
    if item.per_hour:
        yield words.say("starts_hour"), _per_hour(item.per_hour, words)
    if done.starts:
        asked = item.contactors
        needed = words("category", cls=asked.category, minute=asked.in_minute, ten=asked.in_ten_minutes)
        yield words.say("contactors"), text(needed, *source_of(asked.source, asked.confidence, words))
    if item.motion == "hoist":
        yield from _group(item, words)
    if item.period:
        yield words.say("safe_period"), _period(item.period, words)
        yield words.say("used_up"), _when(item.period_end, words, clock)
        yield words.say("at_the_end"), (words.english(RULE_AT_THE_END),)
    if item.heat:
        peak = words("heat_peak", percent=f"{100 * item.heat.peak:.0f}", at=clock(item.heat.at))
        yield words.say("heat"), text(peak, words.english(item.heat.assumes))
    if unrated := [part for part in item.parts if part.rated is None]:
        done_so_far = ", ".join(f"{words.title(part.part)} {words.number(part.used)}" for part in unrated)
        yield words.say("operations"), text(done_so_far, words("give_ratings"))
    if item.service:
        service = item.service
        intervals = words("intervals", frequent=words.title(service.frequent), periodic=words.title(service.periodic))
        yield (
            words.say("inspection"),
            text(
                f"{words.title(service.name)}: {intervals} (",
                *source_of(service.source, service.confidence, words),
                ")",
            ),
        )


def _per_hour(hour: StartsPerHour, words: Words) -> Inline:
    """Raw starts, which the limits count, and equivalent ones beside them."""
    raw, raw_mean, whole, whole_mean = (
        words.number(value) for value in (hour.raw.value, hour.raw_mean, hour.equivalent.value, hour.equivalent_mean)
    )
    said = words("starts_hour_both", raw=raw, raw_mean=raw_mean, whole=whole, whole_mean=whole_mean)
    return text(said, *source_of(hour.source, hour.confidence, words))


def _group(item: MotionLife, words: Words) -> Pairs:
    plate = words("on_plate", group=item.group or words("not_stated"))
    if item.spectrum:
        spectrum = item.spectrum
        k, km = (f"{value:.3f}".replace(".", words("decimal")) for value in (spectrum.k, spectrum.km))
        yield (
            words.say("spectrum"),
            words.say(
                f"spectrum_{spectrum.how}", loading=f"{spectrum.loading.iso} ({spectrum.loading.name})", k=k, km=km
            ),
        )
    if item.needed:
        needed = item.needed
        beyond = words("and_more_than_it") if needed.beyond else ""
        by = words("needed_by", use=needed.utilisation, load=needed.loading)
        said = f"{needed.group} ({needed.fem}){beyond}, {by}; {plate}; "
        yield words.say("group_needed"), text(said, *source_of(needed.source, needed.confidence, words))
    elif item.needed_by_loading:
        each = ", ".join(words("group_with", group=group, load=load) for load, group in item.needed_by_loading.items())
        yield words.say("group_needed"), text(f"{each}; {plate}")
    yield words.say("hoist_class"), words.say("class_by_hours", cls=item.needed_class or words("above_h5"))


def _period(period: SafePeriod, words: Words) -> Inline:
    used, whole, in_log = (words.number(value) for value in (period.used_h, period.duration_h, period.in_log_h))
    said = words("period_used", used=used, whole=whole, share=words.percent(period.share), in_log=in_log)
    factor = words(
        "period_factor", factor=words.number(period.factor), recording=words(f"recording_{period.recording}")
    )
    return text(said, factor, *source_of(period.source, period.confidence, words))


def _parts(parts: list[PartWear], words: Words, clock: Clock) -> Table:
    rows = tuple(
        (
            text(words.title(part.part)),
            text(words.number(part.used)),
            text(words.number(part.rated or 0.0)),
            text(words.percent(part.share or 0.0)),
            _when(part.until, words, clock),
            (words.english(part.how),),
        )
        for part in parts
    )
    heads = tuple(words.say(f"head_{name}") for name in ("part", "done", "rated", "share_used", "used_up", "counted"))
    return Table(words("parts"), heads, rows, (1, 2, 3), (12, 11, 11, 9, 32, 25))


def _when(forecast: Forecast | None, words: Words, clock: Clock) -> Inline:
    """A date with its interval, and what it takes for granted."""
    if forecast is None:
        return words.say("when_unknown")
    if forecast.at is None:
        return words.say("when_far")
    said = clock(forecast.at)[:10]
    if forecast.rate.low is None:
        said += words("when_no_interval")
    elif forecast.earliest and forecast.earliest != forecast.at:
        latest = words("when_to", date=clock(forecast.latest)[:10]) if forecast.latest else words("when_onwards")
        said += words("when_interval", earliest=clock(forecast.earliest)[:10], latest=latest)
    rests = words("when_rests", days=words.number(forecast.rate.days))
    drawn = [words(f"when_drawn_{forecast.rate.drawn}")] if forecast.rate.drawn else []
    return text(said, rests, words.english(forecast.rate.note), *drawn)
