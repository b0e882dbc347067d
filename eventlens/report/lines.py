"""Lines of text that fit a width: what every text report is made of. Plain; a style is only a name beside the line."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass, field
from typing import Final

from eventlens.errors import printable

NARROWEST: Final = 40
"""Least width [columns] that text is wrapped to; on anything narrower lines are cut by the terminal itself."""
LABEL: Final = 16
"""Columns of the labels on the left of a pair."""


@dataclass(frozen=True)
class Line:
    """One line without its end. style: '', 'heading', or the name of a severity."""

    text: str
    style: str = ""


@dataclass
class Page:
    """Collects wrapped lines."""

    width: int
    lines: list[Line] = field(default_factory=list)

    def heading(self, text: str) -> None:
        """A heading with an empty line before it."""
        self.gap()
        self.say(text, style="heading")

    def gap(self) -> None:
        """An empty line, unless the page is empty so far."""
        if self.lines:
            self.lines.append(Line(""))

    def say(self, text: str, first: str = "", rest: str | None = None, style: str = "") -> None:
        """A paragraph: `first` stands before its first line, `rest` (blanks as wide as `first`) before the others."""
        wrapped = textwrap.wrap(
            printable(text),
            max(self.width, NARROWEST),
            initial_indent=printable(first),
            subsequent_indent=" " * len(first) if rest is None else rest,
            break_on_hyphens=False,
        )
        self.lines += [Line(line, style) for line in wrapped or [first.rstrip()]]

    def pair(self, label: str, text: str) -> None:
        """A label on the left and its text beside it."""
        self.say(text, f"  {label:<{LABEL}}")

    def text(self) -> str:
        """The page as one text."""
        return "".join(f"{line.text}\n" for line in self.lines)
