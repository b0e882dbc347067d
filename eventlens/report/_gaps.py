"""Section of the report: what could not be assessed and what would allow it, and what was looked for in vain."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from eventlens import patterns, signals
from eventlens.report.lines import Page
from eventlens.report.words import WHY_NOT, either
from eventlens.result import Review

Places = tuple[str, ...]


def write(page: Page, review: Review) -> None:
    """One line for each thing that is missing, and one for each set of motions on which nothing was found."""
    if review.not_assessed.height:
        page.heading("Could not be assessed")
        _not_assessed(page, review)
    clear = clear_of(review)
    if clear:
        page.heading("Looked for and not found")
        for places, titles in clear.items():
            page.say(", ".join(titles), f"  {', '.join(places) or 'whole machine'}: ", "    ")


def _not_assessed(page: Page, review: Review) -> None:
    told_why = None
    for lack in lacking(review):
        if lack.why != told_why:
            told_why = lack.why
            page.say(f"{WHY_NOT[lack.why].capitalize()}:", "  ")
        where = f" ({', '.join(lack.places)})" if lack.places else ""
        page.say(f"{', '.join(map(either, lack.needs))}{where}: {', '.join(lack.titles)}", "  - with ", "      ")


@dataclass(frozen=True)
class Lack:
    """What would allow some patterns to be assessed."""

    why: str
    """schema.NOT_ASSESSED_WHY."""
    needs: tuple[str, ...]
    places: Places
    """Motions, where the needs do not name them."""
    titles: tuple[str, ...]


def lacking(review: Review) -> list[Lack]:
    """Patterns that lack the same are said together, and so are the motions of one pattern (settings: all of them)."""
    together: dict[tuple[str, str, tuple[str, ...]], list[dict[str, Any]]] = {}
    for row in review.not_assessed.iter_rows(named=True):
        alike = tuple(_of_any(need, row["motion"]) for need in row["needs"] if row["why"] != "missing_setting")
        together.setdefault((row["pattern"], row["why"], alike), []).append(row)
    lines: dict[str, dict[tuple[tuple[str, ...], Places], list[str]]] = {why: {} for why in WHY_NOT}
    for (pattern, why, _), rows in together.items():
        needs = _once(need for row in rows for need in row["needs"])
        places = _once(row["motion"] for row in rows if row["motion"])
        lines[why].setdefault((needs, places), []).append(patterns.catalogue()[pattern].title)
    return [
        Lack(why, needs, () if _told(needs, places) else places, tuple(titles))
        for why, wanted in lines.items()
        for (needs, places), titles in wanted.items()
    ]


def _told(needs: tuple[str, ...], places: Places) -> bool:
    return all(any(need.startswith(place) for need in needs) for place in places)


def _of_any(need: str, motion: str | None) -> str:
    """A need with its motion left open, so that the same need of several motions is recognised."""
    return need.replace(motion, "MOTION") if motion else need


def _once(items: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(items))


def clear_of(review: Review) -> dict[Places, list[str]]:
    """Titles of the patterns that were assessed and not found, by the motions for which that holds."""
    found = set(review.findings.select("pattern", "motion").iter_rows())
    lacking = set(review.not_assessed.select("pattern", "motion").iter_rows())
    looked = {motion for _, motion in found | lacking} | set(review.motions)
    clear: dict[Places, list[str]] = {}
    for name, pattern in patterns.catalogue().items():
        places = [motion for motion in signals.MOTIONS if motion in pattern.motions and motion in looked]
        free = tuple(motion for motion in places if (name, motion) not in found | lacking)
        if free or (not pattern.motions and (name, None) not in found | lacking):
            clear.setdefault(free, []).append(pattern.title)
    return clear
