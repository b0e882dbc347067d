"""Section of the report: what each motion did, and against which limits."""

from __future__ import annotations

from collections.abc import Iterator

from eventlens.duty.counts import MotionCounts, Spread
from eventlens.duty.groups import GroupLimits
from eventlens.duty.lifts import NEAR, Lifts, TripRates
from eventlens.duty.windings import START_OF_A_WINDING, Winding
from eventlens.report.lines import Page
from eventlens.report.words import CONFIDENCE, ENDING, Clock, counted, figure, span
from eventlens.result import Review


def write(page: Page, review: Review, clock: Clock) -> None:
    """The counts of every motion that the log carries."""
    if not review.motions:
        page.heading("Motions")
        page.say("The log carries no command and no contactor of any motion; name them in a profile.", "  ")
    for motion, counts in review.motions.items():
        page.heading(motion.capitalize())
        _motion(page, counts, review.log.observed_s, clock)


def _motion(page: Page, counts: MotionCounts, observed_s: float, clock: Clock) -> None:
    cut = counts.runs - counts.starts
    page.pair(
        "runs",
        f"{counts.runs} with {counted(counts.starts, 'start')}"
        + (f" ({cut} began before the log or in a hole)" if cut else "")
        + f"; {counted(counts.jogs, 'jog')}, {counted(counts.reversals, 'reversal')}",
    )
    share = f" ({_percent(counts.running_s / observed_s)} of the observed time)" if observed_s else ""
    fast = f"fast {span(counts.fast_s)}" if counts.fast_s is not None else "fast is not logged"
    page.pair("running time", f"{span(counts.running_s)}{share}; {fast}")
    if counts.lifts:
        page.pair("lifts", _lifts(counts.lifts))
    if counts.trips:
        page.pair("overload trips", _trips(counts.trips))
    page.pair("busiest hour", _busiest_hour(counts, clock))
    page.pair("cyclic duration", _cyclic_duration(counts, clock))
    for label, text in windings(counts, clock):
        page.pair(label, text)
    _times(page, counts)
    ended = [f"{ENDING[name]} {number}" for name, number in counts.endings.items() if number]
    page.pair("runs ended", ", ".join(ended) or "none")


def _lifts(lifts: Lifts) -> str:
    """How many, how near to the rated load, and what was taken for granted."""
    text = f"{lifts.lifts} in {counted(lifts.cycles, 'work cycle')}"
    if lifts.cycle_s:
        text += f", one in {span(lifts.cycle_s)} (median)"
    if lifts.classes and lifts.lifts:
        near, above = (_percent(number / lifts.lifts) for number in (lifts.near_rated, lifts.above_rated))
        text += f"; {lifts.near_rated} ({near}) from {_percent(NEAR)} of the rated load up to it, "
        text += f"{lifts.above_rated} ({above}) above it"
    if lifts.unknown:
        text += f"; of {counted(lifts.unknown, 'more raise')} the load is not known"
    return f"{text} ({lifts.assumes})"


def _trips(trips: TripRates) -> str:
    """How often the overload device tripped, against each measure of use."""
    rates = {
        "100 lifts": trips.per_100_lifts,
        "running hour": trips.per_running_h,
        "observed hour": trips.per_observed_h,
    }
    parts = [
        f"{figure(rate.value)} per {what} ({figure(rate.low)} to {figure(rate.high)})"
        for what, rate in rates.items()
        if rate
    ]
    return f"{trips.trips}" + (f": {', '.join(parts)}, with 95 % limits" if parts else "")


def _busiest_hour(counts: MotionCounts, clock: Clock) -> str:
    most, mean = counts.starts_per_hour_max, counts.starts_per_hour_mean
    if most is None:
        return "no starts"
    text = f"{counted(round(most.value), 'start')} in the hour to {clock(most.at)}; "
    if counts.limits:
        text += _against(most.value, counts.limits.starts_per_hour, str(counts.limits.starts_per_hour), counts.limits)
    else:
        text += "no limit known: the machine file gives no group"
    return text + (f"; mean {figure(mean)} per observed hour" if mean is not None else "")


def _cyclic_duration(counts: MotionCounts, clock: Clock) -> str:
    limits = counts.limits
    most, window = (counts.limit_window_max, limits.window_s) if limits else (counts.cyclic_duration_max, 600.0)
    if most is None:
        return "did not run"
    text = f"{_percent(most.value)} of the {window / 60:g} min to {clock(most.at)}; "
    if limits is None:
        return text + "no limit known"
    return text + _against(most.value, limits.cyclic_duration, _percent(limits.cyclic_duration), limits)


def _against(value: float, limit: float, written: str, limits: GroupLimits) -> str:
    """The limit beside the value, with its source and, where the figure is not confirmed, that mark."""
    mark = CONFIDENCE[limits.confidence]
    return f"{_held(value, limit)} {written} ({limits.source}{', ' + mark if mark else ''})"


def windings(counts: MotionCounts, clock: Clock) -> Iterator[tuple[str, str]]:
    """Label and text of each winding of a two-speed motor, and what both rest on."""
    for winding in counts.windings:
        yield f"{winding.winding} winding", _winding(winding, clock)
    if counts.windings:
        limits = counts.windings[0].limits
        mark = f", {CONFIDENCE[limits.confidence]}" if limits and CONFIDENCE[limits.confidence] else ""
        source = f"limits: {limits.source}{mark}" if limits else "no limit known"
        taken = "taken for a motor with two windings, since fast is logged" if counts.windings_assumed else ""
        yield "", "; ".join(text for text in (source, START_OF_A_WINDING, taken) if text)


def _winding(winding: Winding, clock: Clock) -> str:
    """Starts and running time of one winding, with its limits."""
    most, share, limits = winding.starts_per_hour_max, winding.cyclic_duration_max, winding.limits
    came = "by going to fast" if winding.winding == "fast" else "by going back to slow"
    texts = [counted(winding.starts, "start") + (f" ({winding.changes} {came})" if winding.changes else "")]
    if most:
        held = f", {_held(most.value, limits.starts_per_hour)} {figure(limits.starts_per_hour)}" if limits else ""
        texts.append(f"{round(most.value)} in the hour to {clock(most.at)}{held}")
    if share:
        held = f", {_held(share.value, limits.cyclic_duration)} {_percent(limits.cyclic_duration)}" if limits else ""
        texts.append(f"on for {_percent(share.value)} of the 10 min to {clock(share.at)}{held}")
    return "; ".join(texts)


def _held(value: float, limit: float) -> str:
    return "ABOVE the limit of" if value > limit else "limit"


def _times(page: Page, counts: MotionCounts) -> None:
    """Where the measured times lie; those that no run has are said in one line."""
    times: dict[str, tuple[Spread | None, str]] = {
        "release time": (counts.release_time_s, "start to brake released"),
        "apply time": (counts.apply_time_s, "end to brake applied"),
        "speed change": (counts.speed_change_delay_s, "start to fast output"),
    }
    for label, (spread, what) in times.items():
        if spread:
            middle = f"median {spread.median:.2f} s, 95 % within {spread.p95:.2f} s"
            page.pair(label, f"{middle} ({what}, {counted(spread.n, 'run')})")
    if lacking := [label for label, (spread, _) in times.items() if not spread]:
        page.pair("not measured", ", ".join(lacking))


def _percent(share: float) -> str:
    return f"{figure(100 * share)} %"
