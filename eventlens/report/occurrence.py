"""One occurrence of a pattern: the signals around it, what was measured, which lines prove it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

import polars as pl

from eventlens import patterns, signals
from eventlens.errors import EventlensError, nearest
from eventlens.report.lines import Line, Page
from eventlens.report.timing import LEGEND, Grid, block, lane_of_states, lane_of_values
from eventlens.report.words import WHY_NOT, Clock, either, figure, lines_of, listed, span
from eventlens.result import Review

LEAST_PAD_S: Final = 0.5
"""What led to it and what came of it: so much time before and after is drawn, or a quarter of its length."""
MOST_LANES: Final = 18
_NORMALLY_ON: Final = ("supply.control",)
_LANE_LABEL: Final = 26
"""Columns of the longest names, with a margin."""


def show(review: Review, wanted: str, *, width: int = 80) -> list[Line]:
    """The occurrence `PATTERN` or `PATTERN:N` (N from 1, in the order of time) as lines of at most `width` columns.

    A pattern that did not occur, or could not be assessed, is said to be so. EventlensError for an unknown pattern, or
    an N beyond the last.
    """
    name, number = asked(wanted)
    every = review.occurrences.filter(pl.col("pattern") == name).sort("start", maintain_order=True)
    page = Page(width)
    if every.is_empty():
        page.say(f"{name}: {_why_none(review, name)}")
        return page.lines
    if number > every.height:
        raise EventlensError(f"an occurrence of {name} from 1 to {every.height}", str(number), "ask for one of these")
    found = every.row(number - 1, named=True)
    _head(page, review, found, f"{name} {number} of {every.height}")
    page.gap()
    picture(page, review, found)
    return page.lines


def picture(page: Page, review: Review, found: dict[str, Any]) -> None:
    """The signals around an occurrence (a row of schema.OCCURRENCES) as a timing diagram."""
    grid = around(found, max(page.width - _LANE_LABEL, 20))
    drawn, left_out = lanes_of(review, found, grid)
    lanes = [
        (f"{lane.name} (9: {figure(lane.top)})" if lane.top is not None else lane.name, lane.line) for lane in drawn
    ]
    lanes.append(("this occurrence", grid.mark(*_extent(found))))
    for line in block(lanes, grid):
        page.lines.append(Line(line))
    page.say(f"One character is {span(grid.column / 1e6)}: {LEGEND}.")
    if left_out:
        page.say(f"Not drawn: {listed(left_out, 6)}.")


def around(found: dict[str, Any], most: int) -> Grid:
    """The grid of at most `most` columns on which an occurrence is drawn with what led to it and what came of it."""
    start, end = _extent(found)
    return Grid.around(start, end, max((end - start).total_seconds() / 4, LEAST_PAD_S), most)


def _extent(found: dict[str, Any]) -> tuple[datetime, datetime]:
    start, end = sorted((found["start"], found["end"]))  # a clock that was set back
    return start, end


def asked(wanted: str) -> tuple[str, int]:
    """Name and number of `PATTERN[:N]`. EventlensError for an unknown pattern, or an N that is no number from 1."""
    name, colon, number = wanted.partition(":")
    known = patterns.catalogue()
    if name not in known:
        raise EventlensError("the name of a pattern", f"'{name}'", nearest(name, known))
    if colon and (not number.isascii() or not number.isdigit() or int(number) < 1):
        raise EventlensError("PATTERN or PATTERN:N, N from 1", f"'{wanted}'", f"write {name}:1 for the first")
    return name, int(number or 1)


def _why_none(review: Review, name: str) -> str:
    lacking = review.not_assessed.filter(pl.col("pattern") == name)
    if lacking.is_empty():
        return "none found in this log."
    row = lacking.row(0, named=True)
    needs = ", ".join(either(need) for need in row["needs"])
    return f"none found; not fully assessed, because {WHY_NOT[row['why']]} (with {needs} it would be)."


def _head(page: Page, review: Review, found: dict[str, Any], title: str) -> None:
    """What, when, how sure, and the lines that prove it."""
    pattern, clock = patterns.catalogue()[found["pattern"]], Clock.of(review.log)
    where = " ".join(str(found[part]) for part in ("motion", "direction") if found[part])
    page.say(f"{title}: {pattern.title}" + (f", {where}" if where else ""), style="heading")
    length = (found["end"] - found["start"]).total_seconds()
    page.pair("from", f"{_exact(clock, found['start'])} ({review.log.timezone})")
    page.pair("to", f"{_exact(clock, found['end'])}" + (f", {span(length)} later" if length >= 0 else ""))
    if found["signal"]:
        page.pair("signal", str(found["signal"]))
    if found["measured"] is not None:
        limit = f"; limit {figure(found['limit'])}" if found["limit"] is not None else ""
        page.pair("measured", f"{figure(found['measured'])} {pattern.unit}{limit}")
    sure = "certain" if found["certainty"] == "certain" else "only possible"
    page.pair("how sure", f"{sure}; a time between two records is known to {span(review.log.uncertainty_s)}")
    page.pair("proof", lines_of(found["rows"], review.log.files) if found["rows"] else "no single line")


def _exact(clock: Clock, instant: datetime) -> str:
    local = instant.astimezone(clock.zone)
    return local.isoformat(" ", "milliseconds")[: None if clock.with_offset else 23]


@dataclass(frozen=True)
class Lane:
    """One signal of a picture: a character for each column (report.timing), and what a 9 stands for if it measures."""

    name: str
    line: str
    top: float | None = None


def lanes_of(review: Review, found: dict[str, Any], grid: Grid) -> tuple[list[Lane], list[str]]:
    """The signals around an occurrence that have something to show, and the names that found no room.

    Of a pattern of the machine as a whole the resting signals are shown too, unless there are too many.
    """
    needed = _needed(found)
    start, end = grid.span
    near = review.states.filter((pl.col("end") > start) & (pl.col("start") < end))
    telling: list[Lane] = []
    every: list[Lane] = []
    for name in _candidates(review, found):
        if name in signals.MEASURES:
            values = review.log.events.filter(pl.col("signal").cast(pl.String) == name).select("time", "value")
            line, top = lane_of_values(values, grid)
            known = [Lane(name, line, top)] if top is not None else []
            telling, every = telling + known, every + known
            continue
        lane = Lane(name, lane_of_states(near.filter(pl.col("signal").cast(pl.String) == name), grid))
        quiet = {"#", "?"} if name in _NORMALLY_ON else {".", "?"}
        every.append(lane)
        if name in needed or set(lane.line) - quiet:
            telling.append(lane)
    whole = not patterns.catalogue()[found["pattern"]].motions
    shown = every if whole and len(every) <= MOST_LANES else telling
    left_out = [lane.name for lane in (every if whole else telling) if lane not in shown[:MOST_LANES]]
    return shown[:MOST_LANES], left_out


def _candidates(review: Review, found: dict[str, Any]) -> list[str]:
    """The signals of the motion and of the machine as a whole; of every motion where it belongs to none."""
    carried = review.log.signals()
    return [
        name
        for name in signals.ALL
        if name in carried and (found["motion"] is None or signals.motion_of(name) in (None, found["motion"]))
    ]


def _needed(found: dict[str, Any]) -> set[str]:
    """The signals that the pattern rests on, for the direction of the occurrence where it has one."""
    motion, direction = found["motion"], found["direction"]
    ways = signals.MOTIONS.get(motion, ())
    wanted = [direction] if direction else list(ways)
    needs = patterns.catalogue()[found["pattern"]].needs
    names = {name.format(motion=motion) for way in needs for name in way}
    return set(_with_ways(names, wanted, ways)) | ({str(found["signal"])} if found["signal"] else set())


def _with_ways(names: Iterable[str], wanted: Iterable[str], both: Iterable[str]) -> Iterable[str]:
    for name in names:
        yield from (
            (name.replace("*", way) for way in wanted)
            if "*" in name
            else (name.replace("+", way) for way in (both or ("",)))
        )
