"""The report that hands a review over, for whatever the pages show."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from dashboards.data.source import Fault, Kept, Source
from eventlens.errors import nearest
from eventlens.report import document
from eventlens.result import Review

__all__ = ["FORMS", "LANGUAGES", "PAPERS", "Made", "Ordered", "made", "optional", "standing"]

FORMS: Final = ("html", "pdf")
LANGUAGES: Final = {"en": "English", "de": "Deutsch"}
PAPERS: Final = {"a4": "A4", "letter": "Letter"}
NONE: Final = "none"
"""In the address for a report without any of the sections that may be left out."""


@dataclass(frozen=True)
class Ordered:
    """A report that is asked for."""

    machine: str | None = None
    dump: str | None = None
    week: str | None = None
    """First week; None: the latest, or the whole log."""
    to: str | None = None
    """Last week; None: the first is the only one."""
    language: str = "en"
    paper: str = "a4"
    sections: tuple[str, ...] | None = None
    """Those of `optional` that it is to have; None: all."""

    def check(self, form: str) -> None:
        """Fault for a form, language, paper or section that is not known."""
        for what, given, known in (
            ("form", form, FORMS),
            ("language", self.language, tuple(LANGUAGES)),
            ("paper", self.paper, tuple(PAPERS)),
        ):
            if given not in known:
                raise Fault(f"a {what} of the report", f"'{given}'", nearest(given, known))
        document.chosen(self.sections)


def optional() -> dict[str, str]:
    """The sections that may be left out: name and heading."""
    titles = document.titles()
    return {name: titles[name] for name in document.CHOICE}


def standing() -> list[str]:
    """The headings of those that stay."""
    titles = document.titles()
    return [titles[name] for name in document.ALWAYS]


@dataclass(frozen=True)
class Made:
    """What a report is made of, known before it is made."""

    key: tuple[object, ...]
    name: str
    """Of the file, without its ending."""
    render: Callable[[str], bytes]
    """Form -> the report; reads the log where that is not at hand."""


def made(source: Source, ordered: Ordered, visitor: str) -> Made:
    """What is needed to make a report; Fault or what the shelf says where that cannot be, or is not the visitor's."""
    key, name, review = _review(source, ordered, visitor)

    def render(form: str) -> bytes:
        return document.render(
            review(), f".{form}", paper=ordered.paper, language=ordered.language, sections=ordered.sections
        )

    rest = (ordered.language, ordered.paper, None if ordered.sections is None else tuple(sorted(ordered.sections)))
    return Made((*key, *rest), re.sub(r"[^A-Za-z0-9._-]+", "-", name).strip("-.") or "report", render)


def _review(source: Source, ordered: Ordered, visitor: str) -> tuple[tuple[object, ...], str, Callable[[], Review]]:
    """What the review rests on, a name, and how it is had."""
    intake = source.intake
    if ordered.dump is not None:
        if intake is None:
            raise Fault("an address of the log that is shown", f"dump {ordered.dump}", "open the start page")
        dump, own = ordered.dump, intake.review_key(visitor, ordered.dump)
        return own, "report", lambda: intake.week(visitor, dump).review
    if isinstance(source, Kept):
        return _of_archive(source, source.known(ordered.machine), ordered)
    week = source.week(ordered.machine, ordered.week)
    return (), week.facts.machine, lambda: week.review


def _of_archive(source: Kept, machine: str, ordered: Ordered) -> tuple[tuple[object, ...], str, Callable[[], Review]]:
    history = source.history()
    first = history.stored(machine, ordered.week)
    last = first if ordered.to is None else history.stored(machine, ordered.to)
    if last["week"] < first["week"]:
        raise Fault("a last week not before the first", f"{last['week']} before {first['week']}", "exchange the two")
    key = (source.archive.version(), machine, first["week"], last["week"])
    if first["week"] == last["week"]:
        return key, f"{machine}-{first['week']}", lambda: source.week(machine, first["week"]).review
    name = f"{machine}-{first['week']}-to-{last['week']}"
    return key, name, lambda: source.archive.review(machine, first["start"], last["end"])
