"""Trends as plain text for a terminal: who needs a person first, what changed, how measured times drift."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, Final

import polars as pl

from eventlens import patterns
from eventlens.life.period import RULE_AT_THE_END
from eventlens.report.comparison import TIME
from eventlens.report.lines import Line, Page
from eventlens.report.words import CONFIDENCE, SEVERITY, counted, figure, listed
from eventlens.report.work_trends import add_work
from eventlens.trends import Trends

VERDICT: Final = MappingProxyType(
    {
        "rising": "Comes oftener",
        "falling": "Comes more seldom",
        "uneven": "Differs from week to week",
        "not_shown": "No trend shown",
        "too_little": "Too few weeks",
    }
)
"""tables.TREND_VERDICTS in words."""
STYLE: Final = MappingProxyType({"rising": "repair", "uneven": "watch"})
DRIFT: Final = MappingProxyType(
    {"longer": "longer", "shorter": "shorter", "not_shown": "no drift shown", "too_little": "too few weeks"}
)
"""tables.DRIFT_VERDICTS in words."""
ONE: Final = MappingProxyType(
    {
        "start": "start",
        "running_h": "running hour",
        "fast_run": "run in fast",
        "lift": "lift",
        "try": "command",
        "fast_try": "command of fast",
        "observed_h": "observed hour",
    }
)
"""One of what occurrences are counted against (patterns.EXPOSURES)."""
WEEKS_SHOWN: Final = 4
"""Weeks beyond the limits that are named before the rest is only counted."""


def render(found: Trends, *, width: int = 80) -> str:
    """The trends as plain text, no line longer than `width` columns (40 at least)."""
    return _page(found, width).text()


def styled(found: Trends, *, width: int = 80) -> list[Line]:
    """The same lines, each with its style ('', 'heading' or a severity)."""
    return _page(found, width).lines


def _page(found: Trends, width: int) -> Page:
    page = Page(width)
    _head(page, found)
    _fleet(page, found)
    for verdict in VERDICT:
        _verdict(page, found, verdict)
    _times(page, found)
    _life(page, found)
    add_work(page, found)
    page.heading("Before anybody acts on a trend, or touches the machine")
    for caution in found.cautions:
        page.say(caution, "- ")
    return page


def _head(page: Page, found: Trends) -> None:
    """Machines, weeks, and how many comparisons were made."""
    one = len(found.machines) == 1
    page.say(f"{found.machines[0] if one else counted(len(found.machines), 'machine')}: trends", style="heading")
    page.pair("weeks", f"{found.weeks[0]} to {found.weeks[-1]}, {len(found.weeks)} with log")
    page.pair("last weeks", f"{', '.join(found.recent)}: held against those before")
    share = figure(100 * (1 - found.confidence))
    compared = f"{counted(found.comparisons, 'pattern')} of machines and "
    compared += (
        f"{counted(found.times_compared, 'measured time')}; of each kind's changes at most {share} % on average "
    )
    compared += "are chance. A week beyond the limits of its chart is a false alarm in at most "
    page.pair("compared", f"{compared}{100 * found.false_alarm:.2g} % of the weeks in which nothing has changed")
    little = found.weekly.filter("little")["week"].unique().sort().to_list()
    if little:
        page.pair("little log", f"{listed(little, WEEKS_SHOWN)} for some patterns: they could show next to nothing")
    for number, note in enumerate(found.notes):
        page.pair("" if number else "note", note)


def _fleet(page: Page, found: Trends) -> None:
    if len(found.machines) < 2:
        return
    page.heading("Who needs a person first")
    for row in found.fleet.iter_rows(named=True):
        place = f"{row['rank']}." if row["rank"] else f"{row['rank_best']} to {row['rank_worst']}"
        life = (
            f"; {100 * row['life_used']:.0f} % of its hours of full load used" if row["life_used"] is not None else ""
        )
        page.say(f"{place:<7} {row['machine']}: {_leads(row)}{life}", "  ", " " * 10)
    if found.fleet["rank"].null_count():
        page.say("A range of places: the limits of these machines do not separate them.", "  ")


def _leads(row: dict[str, Any]) -> str:
    if row["severity"] is None:
        return "nothing in the last weeks"
    what = f"{SEVERITY[row['severity']]}: {_name(row)}, {_times_in(row['count'], row['amount'], row['exposure'])}"
    if row["verdict"] == "rising":
        what += "; comes oftener than before"
    if row["shrunk"] is not None:
        limits = f"{figure(row['shrunk_low'])} to {figure(row['shrunk_high'])}"
        what += f"; {figure(row['shrunk'])} times the common rate ({limits})"
    return what


def _name(row: dict[str, Any]) -> str:
    title = patterns.catalogue()[row["pattern"]].title
    return f"{row['motion']}: {title}" if row["motion"] else title


def _times_in(count: int, amount: float, exposure: str) -> str:
    use = f"{amount:.0f}" if amount >= 100 or amount.is_integer() else figure(amount)
    return f"{count or 'none'} in {use} {patterns.EXPOSURES[exposure]}"


def _verdict(page: Page, found: Trends, verdict: str) -> None:
    rows = found.rates.filter(pl.col("verdict") == verdict)
    if rows.is_empty():
        return
    page.gap()
    page.say(VERDICT[verdict], style=STYLE.get(verdict, "heading"))
    for row in rows.iter_rows(named=True):
        where = f"{row['machine']}, " if len(found.machines) > 1 else ""
        page.say(f"{where}{_name(row)}: {_times_in(row['count'], row['amount'], row['exposure'])}", "  - ", "    ")
        for line in _details(row, found):
            page.say(line, "    ")


def _details(row: dict[str, Any], found: Trends) -> list[str]:
    level = f"{figure(100 * found.confidence)} %"
    lines = []
    if row["rate"] is not None:
        limits = f"{level} limits {figure(row['rate_low'])} to {figure(row['rate_high'])}"
        always = f"valid at every look {figure(row['always_low'])} to {figure(row['always_high'])}"
        lines.append(f"{figure(row['rate'])} per {ONE[row['exposure']]} ({limits}; {always})")
    if row["beyond"]:
        lines.append(f"beyond the limits of its chart: {listed(row['beyond'], WEEKS_SHOWN)}")
    if row["run"]:
        lines.append(f"on one side of its mean from {row['run'][0]} to {row['run'][1]}")
    if row["verdict"] in ("rising", "falling") and row["beta"] is not None:
        lines.append(f"grows as the power {figure(row['beta'])} of the use (1: no trend)")
    if row["verdict"] == "too_little":
        return lines
    return [*lines, *_against_past(row, level)]


def _against_past(row: dict[str, Any], level: str) -> list[str]:
    """The last weeks against those before, and what that could have shown."""
    if row["ratio_low"] is None:
        return []
    low, high = figure(row["ratio_low"]), row["ratio_high"]
    limits = f"{level} limits {low} " + (f"to {figure(high)}" if high is not None else "upwards")
    if row["ratio"] is None:
        return [f"not seen before the last weeks ({limits} of the earlier rate)"]
    could = []
    if row["smallest_rise"] is not None:
        could.append(f"a rise to {figure(row['smallest_rise'])}")
    could.append(f"a fall to {figure(row['smallest_fall'])}" if row["smallest_fall"] is not None else "no fall")
    now = f"in the last weeks {figure(row['ratio'])} of the earlier rate ({limits})"
    return [f"{now}; {' and '.join(could)} of it would have been shown, four times in five"]


def _times(page: Page, found: Trends) -> None:
    if found.times.is_empty():
        return
    page.heading("Measured times")
    for row in found.times.iter_rows(named=True):
        where = f"{row['machine']}, " if len(found.machines) > 1 else ""
        text = f"{where}{row['motion']}: {TIME[row['time']]} {row['first_s']:.2f} s in the first week, "
        page.say(f"{text}{row['last_s']:.2f} s in the last ({row['weeks']}); {_drift(row)}", "  - ", "    ")


def before_work(row: Mapping[str, Any]) -> str | None:
    """How a measured time (a row of tables.DRIFTS) moved until the latest work; None where no drift is shown there."""
    if row["work_verdict"] not in ("longer", "shorter"):
        return None
    low, high = (f"{1000 * row[f'work_slope_{end}']:+.1f}" for end in ("low", "high"))
    first, last = (f"{figure(row[f'work_{end}_s'])} s" for end in ("first", "last"))
    by = f"by {1000 * row['work_slope_s_per_week']:+.1f} ms a week ({low} to {high})"
    return f"got {row['work_verdict']} until the work of {row['work']}, {by}: from {first} to {last}"


def _drift(row: dict[str, Any]) -> str:
    """How it moved over all weeks, and until the latest work."""
    before = before_work(row)
    return _over_all(row) + (f"; {before}" if before else "")


def _over_all(row: dict[str, Any]) -> str:
    verdict = DRIFT[row["verdict"]]
    if row["verdict"] in ("not_shown", "too_little"):
        return verdict
    if row["shape"] == "slope":
        low, high = (f"{1000 * row[f'slope_{end}']:+.1f}" for end in ("low", "high"))
        return f"{verdict}, by {1000 * row['slope_s_per_week']:+.1f} ms a week ({low} to {high})"
    span = "" if row["change_first"] == row["change_last"] else f" ({row['change_first']} to {row['change_last']})"
    return f"{verdict} since {row['change']}{span}: {row['before_s']:.2f} s before, {row['after_s']:.2f} s since"


def _life(page: Page, found: Trends) -> None:
    """What is used of the safe working period, in the last weeks and in all, and until when it lasts."""
    if found.life.is_empty():
        return
    page.heading("Hours of full load")
    for row in found.life.iter_rows(named=True):
        where = f"{row['machine']}: " if len(found.machines) > 1 else ""
        used = f"{figure(row['used_h'])} of {figure(row['duration_h'])} used, {100 * row['used_share']:.1f} %"
        mark = CONFIDENCE[row["confidence"]]
        source = row["source"] + (f", {mark}" if mark else "")
        page.say(f"{where}{used} ({source}; load spectrum {row['how']})", "  - ", "    ")
        page.say(_weekly_life(row, found), "    ")
        page.say(_ends(row), "    ")
        if row["used_share"] >= 1:
            page.say(RULE_AT_THE_END, "    ")


def _weekly_life(row: dict[str, Any], found: Trends) -> str:
    """The share of the last weeks with log, little log marked."""
    weeks = found.life_weeks.filter(pl.col("machine") == row["machine"]).tail(WEEKS_SHOWN)
    each = [
        f"{week} {100 * share:.2g} %" + (" (little log)" if little else "")
        for week, share, little in weeks.select("week", "share", "little").iter_rows()
    ]
    return f"of all its hours {', '.join(each)}; weeks in no log are not counted"


def _ends(row: dict[str, Any]) -> str:
    if row["ends"] is None:
        return "not used up within two hundred years at this rate"
    at, low, high = (f"{row[name]:%Y-%m-%d}" if row[name] else None for name in ("ends", "earliest", "latest"))
    text = f"used up {at}"
    if low:
        text += f" (95 % interval from {low} " + (f"to {high}" if high else "on")
        text += f", {row['drawn']} drawn anew)" if row["drawn"] else ")"
    return f"{text} at the rate of {counted(row['weeks'], 'week')}; {row['assumes']}"
