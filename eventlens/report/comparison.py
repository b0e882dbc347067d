"""A comparison as plain text for a terminal: what is gone, what is less, what is not shown, what is worse."""

from __future__ import annotations

import math
from types import MappingProxyType
from typing import Any, Final
from zoneinfo import ZoneInfo

from eventlens import patterns
from eventlens.comparison import Comparison
from eventlens.comparison.moved import TOO_LITTLE
from eventlens.limits import configure
from eventlens.report.lines import Line, Page
from eventlens.report.words import WHY_NOT, Clock, counted, either, figure, span
from eventlens.result import Review
from eventlens.statistics.bursts import BurstParameters

VERDICT: Final = MappingProxyType({"gone": "Gone", "less": "Less", "not_shown": "No change shown", "worse": "Worse"})
"""schema.VERDICTS in words."""
STYLE: Final = MappingProxyType({"worse": "repair", "not_shown": "watch"})
TIME: Final = MappingProxyType(
    {
        "contactor_delay_s": "contactor time",
        "release_time_s": "release time",
        "apply_time_s": "apply time",
        "speed_change_delay_s": "speed change",
    }
)
MOVED: Final = MappingProxyType(
    {
        "moved_with_part": "the fault moved with the part",
        "stayed_with_place": "the fault stayed with the place",
        "cannot_tell": "cannot be told",
    }
)
WHY: Final = MappingProxyType({**WHY_NOT, "no_use": "there was no use"})
LONGEST_DAYS: Final = 250
"""Working days of a year: longer is not worth a number."""
BURSTS: Final = 1.2
"""Spread from which on a line says that the occurrences come in bursts (no source)."""


def render(found: Comparison, *, width: int = 80) -> str:
    """The comparison as plain text, no line longer than `width` columns (40 at least)."""
    return _page(found, width).text()


def styled(found: Comparison, *, width: int = 80) -> list[Line]:
    """The same lines, each with its style ('', 'heading' or a severity)."""
    return _page(found, width).lines


def _page(found: Comparison, width: int) -> Page:
    page = Page(width)
    _head(page, found)
    for verdict in VERDICT:
        _verdict(page, found, verdict)
    _not_compared(page, found)
    _times(page, found)
    _moved(page, found)
    page.heading("Before anybody calls it repaired, or touches the machine")
    for caution in found.cautions:
        page.say(caution, "- ")
    return page


def _head(page: Page, found: Comparison) -> None:
    """The machine, both sides, and how many comparisons were made."""
    log, end = found.before.log, found.after.log.end
    zone = ZoneInfo(log.timezone)
    offsets = {instant.astimezone(zone).utcoffset() for instant in (log.start, log.end, found.after.log.start, end)}
    clock = Clock(zone, len(offsets) > 1)
    page.say(f"{found.before.machine.machine.id}: before against after", style="heading")
    tally = [f"{VERDICT[name].lower()} {n}" for name in VERDICT if (n := _count(found, name))]
    page.say(
        f"{counted(found.patterns.height, 'pattern')}: {', '.join(tally)}." if tally else "No pattern on either side."
    )
    page.gap()
    for label, side in (("before", found.before), ("after", found.after)):
        page.pair(label, _side(side, clock))
    if found.until:
        page.pair("left out", f"the work on the machine, {clock(found.at or found.until)} to {clock(found.until)}")
    share = figure(100 * (1 - found.confidence))
    page.pair(
        "compared",
        f"{counted(found.comparisons, 'rate')}; of the changes called gone, less or worse at most {share} % on average "
        f"are chance. Intervals hold at {_percent(found)} each; times are in {log.timezone}",
    )
    for number, note in enumerate(found.notes):
        page.pair("" if number else "note", note)


def _count(found: Comparison, verdict: str) -> int:
    return int((found.patterns["verdict"] == verdict).sum())


def _percent(found: Comparison) -> str:
    return f"{figure(100 * found.confidence)} %"


def _side(review: Review, clock: Clock) -> str:
    log = review.log
    use = [f"{motion} {counted(c.starts, 'start')}, {span(c.running_s)}" for motion, c in review.motions.items()]
    return f"{clock(log.start)} to {clock(log.end)}, {span(log.observed_s)} observed; {'; '.join(use) or 'no motion'}"


def _verdict(page: Page, found: Comparison, verdict: str) -> None:
    rows = found.patterns.filter(found.patterns["verdict"] == verdict)
    if rows.is_empty():
        return
    page.gap()
    page.say(VERDICT[verdict], style=STYLE.get(verdict, "heading"))
    for row in rows.iter_rows(named=True):
        _pattern(page, row, found)


def _pattern(page: Page, row: dict[str, Any], found: Comparison) -> None:
    unit = patterns.EXPOSURES[row["exposure"]]
    before, after = (times_in(row[f"{side}_count"], row[f"{side}_exposure"], unit) for side in ("before", "after"))
    page.say(f"{_name(row)}: {before} before, {after} after", "  - ", "    ")
    page.say(_ratio(row, found), "    ")
    if row["spread"] >= BURSTS:
        page.say(f"they come in bursts, and the limits are wider for it ({_blocks(row, found)})", "    ")
    for line in outlook(row, unit):
        page.say(line, "    ")


def _blocks(row: dict[str, Any], found: Comparison) -> str:
    """Into how many pieces of the log they crowd."""
    length = configure(BurstParameters, found.before.machine.limits).burst_block_s
    return f"within {row['before_blocks']} blocks of {span(length)} before, {row['after_blocks']} after"


def _name(row: dict[str, Any]) -> str:
    where = row["signal"] or row["motion"]
    return f"{where}: {_title(row)}" if where else _title(row)


def _title(row: dict[str, Any]) -> str:
    return patterns.catalogue()[row["pattern"]].title


def times_in(count: int, exposure: float, unit: str) -> str:
    """So many in so much use."""
    return f"{count or 'none'} in {_amount(exposure)} {unit}"


def _amount(exposure: float) -> str:
    return f"{exposure:.0f}" if exposure.is_integer() else figure(exposure)


def _ratio(row: dict[str, Any], found: Comparison) -> str:
    if row["after_rate"] is None:
        return "no use since, so nothing can be said"
    low = figure(row["ratio_low"])
    limits = f"{_percent(found)} limits {low} " + (
        f"to {figure(row['ratio_high'])}" if row["ratio_high"] else "upwards"
    )
    if row["ratio"] is None:
        return f"not seen before, so that no ratio can be given, only its limits ({limits})"
    return f"the rate is {figure(row['ratio'])} of the earlier one ({limits})"


def outlook(row: dict[str, Any], unit: str) -> list[str]:
    """How long to watch, or what the comparison could have seen."""
    if row["watch_use"] is not None and row["verdict"] == "gone":
        return [f"it took {_whole(row['watch_use'])} {unit} of silence to say so"]
    if row["watch_left"]:
        days = row["watch_days"]
        pace = f", {_days(days)} at the present use," if days else ""
        return [f"watch {_whole(row['watch_left'])} more {unit}{pace} before silence means anything"]
    if row["verdict"] != "not_shown" or not row["before_count"]:
        return []
    if row["smallest_change"] is None:
        return ["so few that no fall could have been shown"]
    return [
        f"a fall to {figure(row['smallest_change'])} of the earlier rate or lower would have been shown, four times in "
        "five"
    ]


def _whole(amount: float) -> str:
    """An amount of use rounded up, so that it is enough."""
    return str(math.ceil(amount)) if amount >= 10 else figure(math.ceil(amount * 10) / 10)


def _days(days: float) -> str:
    if days > LONGEST_DAYS:
        return "more than a year"
    return "about " + counted(max(1, math.ceil(days)), "working day")


def _not_compared(page: Page, found: Comparison) -> None:
    if found.not_compared.is_empty():
        return
    page.heading("Could not be compared")
    for row in found.not_compared.iter_rows(named=True):
        other = "after" if row["side"] == "before" else "before"
        seen = f"{row['count'] or 'none'} {other}"
        needs = ", ".join(map(either, row["needs"]))
        page.say(f"{_name(row)} ({seen}): {row['side']}, {WHY[row['why']]}: {needs}", "  - ", "    ")


def _times(page: Page, found: Comparison) -> None:
    if found.times.is_empty():
        return
    page.heading("Measured times")
    for row in found.times.iter_rows(named=True):
        page.pair(f"{row['motion']}", f"{TIME[row['time']]}: {_moved_by(row, found)}")
        for side in ("before", "after"):
            if slope := drift(row, side):
                page.pair("", f"{side}, it drifts: {slope}")


def _moved_by(row: dict[str, Any], found: Comparison) -> str:
    middle = f"median {row['before_median_s']:.2f} s before ({row['before_n']}), {row['after_median_s']:.2f} s after "
    middle += f"({row['after_n']})"
    if row["shift_s"] is None:
        return f"{middle}; too few to compare"
    verdict = "no change shown" if row["verdict"] == "not_shown" else row["verdict"]
    limits = f"{row['shift_low_s']:+.3f} to {row['shift_high_s']:+.3f}"
    return f"{middle}; {verdict}, moved by {row['shift_s']:+.3f} s ({_percent(found)} limits {limits})"


def drift(row: dict[str, Any], side: str) -> str:
    """The slope of a measured time on one side, 'before' or 'after', where its interval leaves 0 out; else empty."""
    slope, low, high = (row[f"{side}_slope_{name}"] for name in ("s_per_day", "low", "high"))
    if slope is None or low <= 0 <= high:
        return ""
    return f"{1000 * slope:+.1f} ms a day ({1000 * low:+.1f} to {1000 * high:+.1f})"


def _moved(page: Page, found: Comparison) -> None:
    if not found.exchanges:
        return
    page.heading("Exchanged parts")
    if found.moved.is_empty():
        page.say("No fault of a part at these places before: there is nothing that could have moved.", "  ")
    for row in found.moved.iter_rows(named=True):
        yet = " yet" if row["why"] == TOO_LITTLE else ""
        page.say(f"{row['first']} with {row['second']}, {_title(row)}: {MOVED[row['verdict']]}{yet}", "  - ", "    ")
        unit = patterns.EXPOSURES[row["exposure"]]
        for place in ("first", "second"):
            before, after = (
                times_in(row[f"{place}_{side}_count"], row[f"{place}_{side}_exposure"], unit)
                for side in ("before", "after")
            )
            page.say(f"{row[place]}: {before} before, {after} after", "    ")
        if row["why"]:
            page.say(row["why"] + when(row, unit), "    ")


def when(row: dict[str, Any], unit: str) -> str:
    """After how much more use it could be told whether the fault moved; empty where that is not known."""
    if row["further_days"] is None:
        return ""
    use = f"{_whole(row['further_first'])} more {unit} of {row['first']} and {_whole(row['further_second'])} of "
    return f": it could be told after {use}{row['second']}, {_days(row['further_days'])} at the present use"
