"""What a document is made of: sections of paragraphs, lists, tables, boxes and figures, as plain data without markup.

Content is built once and drawn twice, as HTML and as PDF. Every text is only text: what comes from a log or from a
settings file can never become markup, because no block holds any.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Final, Literal

STYLES: Final = ("", "strong", "code", "small")

PAPERS: Final = ("a4", "letter")


@dataclass(frozen=True)
class Span:
    """A piece of text. lang: its language where it is not the document's; style: one of STYLES."""

    text: str
    lang: str = ""
    style: Literal["", "strong", "code", "small"] = ""


Inline = tuple[Span, ...]
"""Pieces that stand one after another in one line."""


@dataclass(frozen=True)
class Paragraph:
    """One paragraph."""

    text: Inline
    kind: Literal["paragraph"] = "paragraph"


@dataclass(frozen=True)
class Bullets:
    """A list without an order."""

    items: tuple[Inline, ...]
    kind: Literal["bullets"] = "bullets"


@dataclass(frozen=True)
class Facts:
    """Labels with what they stand for."""

    pairs: tuple[tuple[Inline, Inline], ...]
    kind: Literal["facts"] = "facts"


@dataclass(frozen=True)
class Table:
    """A table. The first row is the head; rows are as long as it; numeric: columns that stand to the right."""

    caption: str
    head: tuple[Inline, ...]
    rows: tuple[tuple[Inline, ...], ...]
    numeric: tuple[int, ...] = ()
    widths: tuple[float, ...] = ()
    """Shares of the width, one for each column; empty: as the text needs."""
    silent: bool = False
    """Whether the caption only repeats the heading above it: kept for those who do not see the page."""
    kind: Literal["table"] = "table"


@dataclass(frozen=True)
class Level:
    """A heading of a finding with its severity as a mark that holds without colour: 4 the most serious, 1 a note."""

    id: str
    title: Inline
    mark: str
    level: int
    kind: Literal["level"] = "level"


@dataclass(frozen=True)
class Figure:
    """A drawing (SVG, made here) with its caption and with what it shows in words."""

    svg: str
    caption: Inline
    alt: str
    kind: Literal["figure"] = "figure"


@dataclass(frozen=True)
class Box:
    """Blocks that stay together in a frame. tone: 'stop' takes the machine out of use, 'check' sends somebody to it."""

    tone: Literal["stop", "check", "caution"]
    title: Inline
    blocks: tuple[Block, ...]
    kind: Literal["box"] = "box"


Block = Paragraph | Bullets | Facts | Table | Level | Figure | Box


@dataclass(frozen=True)
class Section:
    """A heading with blocks. id: its place in the document, the same in every language."""

    id: str
    title: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True)
class Document:
    """One report."""

    language: str
    title: str
    identity: Facts
    """Machine, period and files."""
    footer: str
    """The caution that stands on every page."""
    page_of: str
    """'page {page} of {pages}' in the document's language."""
    sections: tuple[Section, ...]
    front: tuple[str, ...]
    """Ids of the sections that make the first page."""
    labels: dict[str, str] = field(default_factory=dict)
    """Words that a form needs for itself, as 'contents'."""


def plain(inline: Inline) -> str:
    """The text of some spans."""
    return "".join(span.text for span in inline)


def data_of(part: Any) -> Any:
    """A document, or a part of it, as plain dictionaries, lists and texts."""
    if isinstance(part, tuple | list):
        return [data_of(item) for item in part]
    if isinstance(part, dict):
        return {key: data_of(item) for key, item in part.items()}
    if hasattr(part, "__dataclass_fields__"):
        return {name: data_of(getattr(part, name)) for name in part.__dataclass_fields__}
    return part
