"""The words of the document: a file for each language in `languages/`, all with the same keys.

Sentences of the report stand in `CODE.toml`, by key; `{name}` is put in. What knowledge, patterns and cautions say is
English text of their own files; `CODE_known.toml` holds its translation, by the English sentence itself. A sentence
that somebody changed therefore loses its translation and is shown in English, marked as such: an old translation never
stands for a new caution.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources
from importlib.resources.abc import Traversable
from typing import Final

from eventlens.errors import EventlensError, nearest, printable
from eventlens.reading.log import SourceFile
from eventlens.report.document.model import Inline, Span
from eventlens.report.words import figure, ranges_of, span

KNOWN: Final = "_known"
SOURCE_LANGUAGE: Final = "en"
"""The language of knowledge, patterns, limits and of everything that a review says in free words."""


@dataclass(frozen=True)
class Words:
    """One language."""

    code: str
    words: dict[str, str]
    known: dict[str, str]
    """English sentence -> the same in this language."""

    def __call__(self, key: str, **values: object) -> str:
        """A sentence with its values put in."""
        filled = {name: printable(str(value)) for name, value in values.items()}
        return self.words[key].format(**filled)

    def say(self, key: str, **values: object) -> Inline:
        """The same as text of the document."""
        return (Span(self(key, **values)),)

    def count(self, key: str, number: int) -> str:
        """A number with its noun, `key` for many and `key_1` for one."""
        return self(f"{key}_1" if number == 1 else key, n=number)

    def english(self, text: str, style: str = "") -> Span:
        """What is known only in English: translated where the language has it, else marked as English."""
        if self.code == SOURCE_LANGUAGE or not text:
            return Span(printable(text), "", style)  # type: ignore[arg-type]
        if text in self.known:
            return Span(self.known[text], "", style)  # type: ignore[arg-type]
        return Span(printable(text), SOURCE_LANGUAGE, style)  # type: ignore[arg-type]

    def title(self, text: str) -> str:
        """A short English name in this language; the English one where it has none."""
        return self.known.get(text, printable(text))

    def number(self, value: float) -> str:
        """A number to three places with the decimal sign of the language."""
        return figure(value).replace(".", self.words["decimal"])

    def percent(self, share: float) -> str:
        """A share as percent."""
        return f"{self.number(100 * share)} %"

    def listed(self, items: Iterable[str], most: int) -> str:
        """Items with commas; those beyond `most` are only counted."""
        every = list(items)
        shown = ", ".join(every[:most])
        return shown if len(every) <= most else self("and_more", shown=shown, n=len(every) - most)

    def lines_of(self, rows: Sequence[int], files: Sequence[SourceFile]) -> str:
        """Lines of the log as lines of their files (report.words.ranges_of)."""
        shown, rest = ranges_of(rows, files)
        found = self("lines_1" if len(rows) == 1 else "lines", lines=", ".join(shown))
        return self("and_more", shown=found, n=rest) if rest else found

    def span(self, seconds: float) -> str:
        """A length of time."""
        return span(seconds).replace(".", self.words["decimal"])


def languages() -> tuple[str, ...]:
    """The codes of the languages, sorted."""
    files = (item.name.removesuffix(".toml") for item in _folder().iterdir() if item.name.endswith(".toml"))
    return tuple(sorted(name for name in files if not name.endswith(KNOWN)))


def words_of(code: str) -> Words:
    """A language by its code. EventlensError for one that is not there."""
    if code not in languages():
        raise EventlensError("a language of the report", f"'{code}'", nearest(code, languages()))
    return _loaded(code)


@cache
def _loaded(code: str) -> Words:
    known = {} if code == SOURCE_LANGUAGE else _content(f"{code}{KNOWN}")["known"]
    return Words(code, _content(code)["words"], known)


def _content(name: str) -> dict[str, dict[str, str]]:
    return tomllib.loads((_folder() / f"{name}.toml").read_text("utf-8"))


def _folder() -> Traversable:
    return resources.files("eventlens.report.document") / "languages"


def text(*parts: Span | str) -> Inline:
    """Texts and spans as one line."""
    return tuple(part if isinstance(part, Span) else Span(printable(part)) for part in parts if part)


def joined(parts: list[Inline], between: str = ", ") -> Inline:
    """Lines as one, with something between."""
    found: list[Span] = []
    for number, part in enumerate(parts):
        found += ([Span(between)] if number else []) + list(part)
    return tuple(found)


def code(value: str) -> Span:
    """A name as the machine writes it."""
    return Span(printable(value), "", "code")


def strong(value: str) -> Span:
    """Text that stands out."""
    return Span(printable(value), "", "strong")
