"""What the page shows, and how it follows from the address and from what the reader does: plain functions."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any, Final, TypedDict

from dashboards.data import Week
from dashboards.pages.week import ids
from dashboards.tables import Window
from dashboards.wallclock import read_window

CLICKS_MOST: Final = 50
"""Clicks on one button that are made up for in one answer: a key held down while a slow answer was on its way."""


class Chosen(TypedDict):
    """The chosen occurrence: key of its finding, and its number from 1."""

    key: str
    number: int


class State(TypedDict):
    """What is shown."""

    chosen: Chosen | None
    window: list[float]
    """Window of the lanes [ms on the axis]."""
    clicks: dict[str, int]
    """Clicks on each button that are accounted for."""


class Reopened(TypedDict):
    """What an address asks for: an occurrence, and the window of the lanes [ms on the axis]. Each may be None."""

    chosen: Chosen | None
    window: list[float] | None
    made: list[str]
    """Outcomes of checks."""
    motion: str | None
    """The motion of which the work is shown; None: the first."""


@dataclass(frozen=True)
class Done:
    """What the reader did: which parts of the page brought news, and what these say."""

    by: Collection[str]
    reopened: Reopened | None = None
    """What the address asks for, where it was gone back to."""
    finding: str | None = None
    """Key of the finding that was picked in its list."""
    picked: Chosen | None = None
    number: float | None = None
    dragged: dict[str, Any] | None = None
    clicks: Mapping[str, int | None] | None = None


def reopened(week: Week, query: Mapping[str, str]) -> Reopened:
    """What an address asks for; what the review does not hold is left out."""
    key, number = query.get("finding", ""), query.get("number")
    known = {row["key"] for row in week.findings.rows()}
    if key not in known:  # the weeks of a pattern do not tell the signal
        key = next((name for name in sorted(known) if key.endswith("/") and name.startswith(key)), "")
    if key and number is None:  # whoever followed knows when it began, not which one it is
        number = str(week.findings.number_at(key, query.get("at", "")))
    chosen = Chosen(key=key, number=_held(number or "1", week.findings.count(key))) if key else None
    try:
        start, end = (float(place) for place in query.get("view", "").split("_"))
        window = list(week.fitted((start, end))) if start < end else None
    except ValueError:
        window = None
    motion = query.get("motion")
    if motion not in {facts.motion for facts in week.motions}:
        motion = None
    return Reopened(chosen=chosen, window=window, made=made_in(query), motion=motion)


def made_in(query: Mapping[str, str]) -> list[str]:
    """The outcomes of checks that an address holds."""
    return [one for one in query.get("checked", "").split(",") if one]


def _held(number: str, count: int) -> int:
    """The number of an address, held within what there is."""
    return min(max(int(number), 1), count) if number.isdecimal() else 1


def opened(week: Week, asked: Reopened | None) -> State:
    """What is shown where a page is opened: the occurrence and window of its address, or all around, or the log."""
    chosen = asked["chosen"] if asked else None
    window = asked["window"] if asked else None
    return State(chosen=chosen, window=window or _around(week, chosen), clicks={})


def follow(week: Week, done: Done, before: State) -> State:
    """What is shown after something that the reader did. Clicks count as often as they were made since `before`."""
    chosen, window = before["chosen"], before["window"]
    if done.reopened is not None:
        there = opened(week, done.reopened)
        chosen, window = there["chosen"], there["window"]
    clicks = {name: count or 0 for name, count in (done.clicks or {}).items()}
    for step in _steps(done, clicks, before["clicks"]):
        if step in (ids.DRAGGED, ids.SHOW, *ids.MOVES):
            window = move(week, step, done.dragged, chosen, (window[0], window[1]))
        else:
            now = choose(week, step, done, chosen)
            if now != chosen:
                chosen, window = now, _around(week, now)
    return State(chosen=chosen, window=window, clicks={**before["clicks"], **clicks})


def _steps(done: Done, clicks: Mapping[str, int], counted: Mapping[str, int]) -> list[str]:
    """The steps in their order. An answer that was on its way when the next click came is dropped by the browser."""
    picks = [name for name in (ids.ASKED, ids.PICKED, ids.NUMBER, ids.DRAGGED) if name in done.by]
    presses = {name: min(clicks.get(name, 0) - counted.get(name, 0), CLICKS_MOST) for name in ids.BUTTONS}
    return [*picks, *(name for name, count in presses.items() for _ in range(count))]


def _around(week: Week, chosen: Chosen | None) -> list[float]:
    return list(week.around(chosen["key"], chosen["number"]) if chosen else week.whole)


def choose(week: Week, step: str, done: Done, chosen: Chosen | None) -> Chosen | None:
    """Which occurrence is chosen after a step of the reader; the one before where that changes nothing."""
    key = done.finding if step == ids.ASKED else chosen["key"] if chosen else None
    if not key:
        return chosen
    now = chosen["number"] if chosen and chosen["key"] == key else 1
    number = now if done.number is None else done.number
    wanted: float = {ids.PREVIOUS: now - 1, ids.NEXT: now + 1, ids.NUMBER: number}.get(step, now)
    if step == ids.PICKED and done.picked and done.picked["key"] == key:
        wanted = done.picked["number"]
    return Chosen(key=key, number=min(max(int(wanted), 1), week.findings.count(key)))


def move(week: Week, step: str, dragged: dict[str, Any] | None, chosen: Chosen | None, window: Window) -> list[float]:
    """The window of the lanes after a drag or a button; the same where it stays."""
    start, end = window
    width = end - start
    if step == ids.SHOW:
        return _around(week, chosen) if chosen else list(window)
    if step == ids.DRAGGED:
        to = read_window(dragged)
        if to is None:
            return list(window)
        return list(week.whole if isinstance(to, str) else week.fitted((to[0], to[1])))
    if step == ids.ZOOM_IN:
        middle = _middle(week, chosen, window)
        return list(week.fitted((middle - width / 4, middle + width / 4)))
    before, after = {
        ids.ZOOM_OUT: (-width / 2, width / 2),
        ids.EARLIER: (-width / 2, -width / 2),
        ids.LATER: (width / 2, width / 2),
    }.get(step, (0.0, 0.0))
    return list(week.whole if step == ids.WHOLE else week.fitted((start + before, end + after)))


def _middle(week: Week, chosen: Chosen | None, window: Window) -> float:
    """What zooming in closes in on: the chosen occurrence where it is in view, else the middle."""
    middle = (window[0] + window[1]) / 2
    if chosen is None:
        return middle
    start, end = week.findings.mark(chosen["key"], chosen["number"]).window
    return (start + end) / 2 if start >= window[0] and end <= window[1] else middle
