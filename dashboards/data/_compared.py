"""From a comparison to what the page about a repair shows."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Any, Final

import numpy as np
import polars as pl

from dashboards import words
from dashboards.bins import Reals
from dashboards.data._limits import beyond, borders, limit_of, shares
from dashboards.data._names import key_of
from dashboards.data._rates import counted_in, ratio
from dashboards.repairs import Rated, TimesView, Told
from eventlens import patterns
from eventlens.comparison import Comparison
from eventlens.comparison.moved import TOO_LITTLE, compare_moved, exchange
from eventlens.report.comparison import MOVED, TIME, WHY, drift, outlook, when
from eventlens.report.words import Clock, either, figure
from eventlens.result import Review

ORDER: Final = ("worse", "gone", "less", "not_shown")
"""Verdicts, what somebody must look at first."""
NO_USE: Final = "no use since, so nothing can be said"


class Compared:
    """One comparison, made ready to be looked at; of both logs only what exchanged parts are told by is kept."""

    def __init__(self, found: Comparison) -> None:
        self._before, self._after, self._level = _light(found.before), _light(found.after), found.confidence
        self.rated = _rated(found)
        """What somebody must look at first at the top."""
        self.answer = answer(self.rated)
        self.times = [_times(row, found) for row in found.times.iter_rows(named=True)]
        self.sides = _side(found.before), _side(found.after)
        """Each log in a sentence."""
        self.spans = tuple((side.log.start, side.log.end) for side in (found.before, found.after))
        """First and last instant of each log."""
        self.compared = _made(found)
        self.not_compared = [_lack(row) for row in found.not_compared.iter_rows(named=True)]
        """Pattern, why it could not be compared, and how often it was seen on the other side."""
        self.notes, self.cautions = found.notes, found.cautions
        self.motions = sorted({*found.before.motions, *found.after.motions})

    def moved(self, text: str) -> list[Told]:
        """Whether faults went with the part that changed places, as 'hoist.raise:trolley.left'; EventlensError for
        another text."""
        found = compare_moved(self._before, self._after, [exchange(text)], self._level)
        return [_told(row) for row in found.iter_rows(named=True)]


def _light(review: Review) -> Review:
    """The review without its events and without the states that no use is counted by."""
    commands = pl.col("signal").cast(pl.String).str.ends_with(".command")
    return replace(
        review, log=replace(review.log, events=review.log.events.clear()), states=review.states.filter(commands)
    )


def _rated(found: Comparison) -> list[Rated]:
    rows = [_one(row) for row in found.patterns.iter_rows(named=True)]
    return sorted(rows, key=lambda one: ORDER.index(one.verdict))


def _one(row: Mapping[str, Any]) -> Rated:
    unit = patterns.EXPOSURES[row["exposure"]]
    used = row["after_rate"] is not None
    return Rated(
        name=_name(row),
        brief=_brief(row),
        series=key_of(row),
        severity=row["severity"],
        verdict=row["verdict"],
        before=counted_in(row["before_count"], row["before_exposure"], row["exposure"]),
        after=counted_in(row["after_count"], row["after_exposure"], row["exposure"]),
        ratio=ratio(row) if used else NO_USE,
        outlook="; ".join(outlook(dict(row), unit)),
        value=row["ratio"],
        low=row["ratio_low"] if used else None,
        high=row["ratio_high"] if used else None,
    )


def _name(row: Mapping[str, Any]) -> str:
    where = row["signal"] or row["motion"]
    title = patterns.catalogue()[row["pattern"]].title
    return f"{where}: {title}" if where else title


def _brief(row: Mapping[str, Any]) -> str:
    """The same within a sentence."""
    where = row["signal"] or row["motion"]
    title = patterns.catalogue()[row["pattern"]].title
    return f"{title} ({where})" if where else title


def answer(rated: Iterable[Rated]) -> str:
    """What the comparison says, in one plain sentence."""
    rows = list(rated)
    if not rows:
        return "Neither side shows a pattern that could be compared, so there is nothing that could have changed."
    if all(one.low is None for one in rows):
        return f"There is no use since: nothing can be said of {words.counted(len(rows), 'pattern')} seen before."
    said = []
    for verdict, (of_one, of_several) in _SAID.items():
        names = [one.brief for one in rows if one.verdict == verdict]
        said += [f"{_list(names)} {of_several if names[1:] else of_one}"] if names else []
    open_ = [one for one in rows if one.verdict == "not_shown"]
    if open_:
        silent = sum(one.outlook.startswith("watch") for one in open_)
        more = f" ({_silent(silent, len(open_))})" if silent else ""
        said.append(f"no change is shown for {_list((one.brief for one in open_), 2)}{more}")
    sentence = "; ".join(said)
    return f"Since then {sentence}."


_SAID: Final = MappingProxyType(
    {
        "worse": ("comes oftener than before", "come oftener than before"),
        "gone": ("has gone, for longer than chance explains", "have gone, for longer than chance explains"),
        "less": ("comes more seldom, but has not gone", "come more seldom, but have not gone"),
    }
)


def _silent(silent: int, all_of_them: int) -> str:
    if all_of_them == 1:
        return "not seen since, but not for long enough"
    return f"{silent} of them not seen since, but not for long enough"


def _list(names: Iterable[str], most: int = 3) -> str:
    every = list(names)
    rest = len(every) - most
    if rest > 0:
        return f"{', '.join(every[:most])} and {words.counted(rest, 'other')}"
    return " and ".join([*([", ".join(every[:-1])] if every[1:] else []), every[-1]])


def _side(review: Review) -> str:
    log, clock = review.log, Clock.of(review.log)
    use = [
        f"{motion} {words.counted(counts.starts, 'start')}, running {words.length(counts.running_s)}"
        for motion, counts in review.motions.items()
    ]
    span = f"{clock(log.start)[:16]} to {clock(log.end)[:16]}"
    return f"{span}, {words.length(log.observed_s)} observed; {'; '.join(use) or 'no motion is logged'}"


def _made(found: Comparison) -> str:
    share = figure(100 * (1 - found.confidence))
    return (
        f"{words.counted(found.comparisons, 'rate')} and {words.counted(found.times_compared, 'measured time')} were "
        f"compared. Of the changes called gone, less or worse at most {share} % on average are chance; intervals hold "
        f"at {figure(100 * found.confidence)} % each."
    )


def _lack(row: Mapping[str, Any]) -> tuple[str, str, str]:
    other = "after" if row["side"] == "before" else "before"
    needs = ", ".join(map(either, row["needs"]))
    seen = f"{row['count']:,} {other}" if row["count"] else f"none {other}"
    return _name(row), f"{row['side']}: {WHY[row['why']]}: {needs}", seen


# --- measured times


def _times(row: Mapping[str, Any], found: Comparison) -> TimesView:
    sides = [_values(review, row) for review in (found.before, found.after)]
    step_s = max(found.before.log.step_s, found.after.log.step_s)
    limit, limit_name, least = limit_of(row["time"], found.after.machine.limits)
    edges = borders(sides, limit, step_s)
    view = TimesView(
        title=f"{row['motion']}: {TIME[row['time']]}",
        borders=edges,
        shares=(shares(sides[0], edges), shares(sides[1], edges)),
        counts=(row["before_n"], row["after_n"]),
        medians=(row["before_median_s"], row["after_median_s"]),
        high=(row["before_p95_s"], row["after_p95_s"]),
        beyond=(beyond(sides[0], limit, least=least), beyond(sides[1], limit, least=least)),
        limit=limit,
        limit_name=limit_name,
        least=least,
        moved=_moved(row),
        verdict=row["verdict"],
        drifts=(drift(dict(row), "before"), drift(dict(row), "after")),
        reading="",
    )
    return replace(view, reading=reading(view))


def _values(review: Review, row: Mapping[str, Any]) -> Reals:
    own = review.runs.filter(pl.col("motion") == row["motion"])[row["time"]].drop_nulls()
    return np.asarray(own.to_numpy(), np.float64)


def _moved(row: Mapping[str, Any]) -> str:
    if row["shift_s"] is None:
        return "too few to compare"
    return f"{_ms(row['shift_s'])} ms ({_ms(row['shift_low_s'])} to {_ms(row['shift_high_s'])})"


def _ms(seconds: float) -> str:
    """Milliseconds with their sign; 0 has none."""
    whole = round(1000 * seconds)
    return f"{whole:+d}" if whole else "0"


_CHANGE: Final = MappingProxyType({"longer": "Longer", "shorter": "Shorter", "not_shown": "No change shown"})


def reading(view: TimesView) -> str:
    """One sentence: how the time moved, and where it lies against its limit."""
    before, after = (f"{figure(value)} s" for value in view.medians)
    side = "below" if view.least else "above"
    said = f"{_CHANGE[view.verdict]}: median {after}, {before} before; moved by {view.moved}"
    if view.moved.startswith("too few"):
        said = f"Median {after}, {before} before; {view.moved}"
    n, m = view.beyond[1], view.beyond[0]
    return (
        f"{said}; {f'{n:,}' if n else 'none'} of {words.counted(view.counts[1], 'run')} {side} the limit of "
        f"{figure(view.limit)} s, {f'{m:,}' if m else 'none'} of {view.counts[0]:,} before."
    )


# --- exchanged parts


def _told(row: Mapping[str, Any]) -> Told:
    unit = patterns.EXPOSURES[row["exposure"]]
    sides = [
        [counted_in(row[f"{place}_{side}_count"], row[f"{place}_{side}_exposure"], row["exposure"]) for side in _SIDES]
        for place in ("first", "second")
    ]
    yet = " yet" if row["why"] == TOO_LITTLE else ""
    return Told(
        name=patterns.catalogue()[row["pattern"]].title,
        verdict=f"{MOVED[row['verdict']]}{yet}",
        first=(sides[0][0], sides[0][1]),
        second=(sides[1][0], sides[1][1]),
        why=row["why"] + when(dict(row), unit) if row["why"] else "",
    )


_SIDES: Final = ("before", "after")
