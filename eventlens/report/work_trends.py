"""Kinds of work over the weeks in sentences, for a terminal and for the pages."""

from __future__ import annotations

from collections.abc import Iterator
from types import MappingProxyType
from typing import Any, Final

import polars as pl

from eventlens.report.lines import Page
from eventlens.report.words import figure
from eventlens.trends import Trends

VERDICT: Final = MappingProxyType(
    {
        "more": "a larger share in the last weeks",
        "less": "a smaller share in the last weeks",
        "uneven": "differs from week to week",
        "not_shown": "no change shown",
        "too_little": "too little to say",
    }
)
"""tables.WORK_VERDICTS in words."""
MAY_BE_USE: Final = "Findings that changed in the same weeks may have changed with the use, not with the machine."
ONE_SET: Final = "Kinds are found in all weeks together; runs and cycles of each week are assigned to them."


def reading(kinds: pl.DataFrame, level: float) -> str:
    """What the weeks show, in a sentence or two; kinds: tables.WORK_KINDS of one machine, level: of its limits."""
    if kinds.is_empty():
        return "There is too little work in these logs to tell kinds of it apart."
    if kinds.group_by("subject").len()["len"].max() == 1:
        return f"{_listed(kinds)} are of one kind each in all weeks: no share can move."
    judged = kinds.filter((pl.col("verdict") != "too_little") & (pl.col("p").is_not_null()))
    if judged.is_empty():
        return "Too few weeks or days have enough work to say whether the kinds of work have moved."
    moved = judged.filter(pl.col("verdict").is_in(["more", "less"])).sort(pl.col("change").abs(), descending=True)
    if not moved.is_empty():
        others = moved.height - 1
        more = "" if not others else f" {others} other kind{'s' if others > 1 else ''} moved too."
        return f"{_moved(moved.row(0, named=True), level)}.{more} {MAY_BE_USE}"
    uneven = judged.filter(pl.col("verdict") == "uneven")
    if not uneven.is_empty():
        row = uneven.sort("range", descending=True).row(0, named=True)
        said = f"The share of {name_of(row)} differs from week to week, by up to {100 * row['range']:.0f} points"
        return f"{said}; the last weeks are not shown to differ from those before. {MAY_BE_USE}"
    return f"The kinds of work show no change{_bounds(judged, level)}."


def _bounds(judged: pl.DataFrame, level: float) -> str:
    """By how much a share may have moved all the same."""
    ends = judged.select(pl.max_horizontal(pl.col("change_low").abs(), pl.col("change_high").abs()).max()).item()
    if ends is None:
        return " from week to week"
    return (
        f": in the last weeks no share differs from that before by more than {100 * ends:.0f} points "
        f"({figure(100 * level)} % limits)"
    )


def _listed(kinds: pl.DataFrame) -> str:
    names = kinds["subject"].unique(maintain_order=True).to_list()
    text = " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else names[0]
    return f"{text[0].upper()}{text[1:]}"


def _moved(row: dict[str, Any], level: float) -> str:
    before, since = (row[f"{side}_count"] / row[f"{side}_whole"] for side in ("past", "recent"))
    name = name_of(row)
    return (
        f"{name[0].upper()}{name[1:]} were {100 * before:.0f} % of all {row['subject']} before the last weeks and "
        f"{100 * since:.0f} % in them ({limits_of(row, level)})"
    )


def limits_of(row: dict[str, Any], level: float) -> str:
    """The change of a row of tables.WORK_KINDS with its limits, as '+40 points, 95 % limits +31 to +48'."""
    change, low, high = (100 * row[name] for name in ("change", "change_low", "change_high"))
    return f"{change:+.0f} points, {figure(100 * level)} % limits {low:+.0f} to {high:+.0f}"


def name_of(row: dict[str, Any]) -> str:
    """A kind by its subject and what is typical of it."""
    first, *others = row["words"].split("; ")
    length = first.partition(" of ")[2].partition(" (")[0]
    return ", ".join([f"{row['subject']} of {length}", *others])


def add_work(page: Page, found: Trends) -> None:
    """The section of the terminal's report."""
    kinds, notes = found.work.kinds, found.work.notes
    if kinds.is_empty() and not notes:
        return
    page.heading("Kinds of work")
    page.say(ONE_SET, "  ")
    for machine in found.machines:
        own = kinds.filter(pl.col("machine") == machine)
        where = f"{machine}: " if len(found.machines) > 1 else ""
        if not own.is_empty():
            page.say(where + reading(own, found.confidence), "  - ", "    ")
        for text in _rows(own, found.confidence):
            page.say(text, "    ", "      ")
    for note in notes:
        page.say(note, "  - ", "    ")


def _rows(own: pl.DataFrame, level: float) -> Iterator[str]:
    """A line for each kind of a subject that has several."""
    several = own.filter(pl.len().over("subject") > 1)
    for row in several.iter_rows(named=True):
        said = f"{name_of(row)}: {100 * row['share']:.0f} % of all"
        if row["change"] is not None:
            said += f"; in the last weeks {limits_of(row, level)}"
        yield f"{said}; {VERDICT[row['verdict']]}"
