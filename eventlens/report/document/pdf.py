"""Draws a document as PDF: tagged, by PDF/UA-1, with typst and its own fonts, the same bytes each time.

The template is a file of ours; the document goes in as JSON, so that no text of a log can be read as markup. Without a
glyph there is no accessible PDF: characters that the fonts lack are written as their number, `[U+4E2D]`.
"""

from __future__ import annotations

import json
from importlib import resources
from typing import Any, Final

import typst

from eventlens.report.document.model import Document, data_of

PAPERS: Final = {"a4": "a4", "letter": "us-letter"}
"""Papers as typst names them."""
COVERED: Final = ((0x20, 0x7E), (0xA0, 0x17F), (0x391, 0x3A1), (0x3A3, 0x3C9), (0x410, 0x44F), (0x2013, 0x2014))
"""Characters that both fonts have: Latin, Greek, Cyrillic, dashes (a test draws them all)."""
ALSO: Final = frozenset("‘’“”„…€−≤≥×·")


def render(document: Document, paper: str) -> bytes:
    """The document as PDF."""
    ids = [section.id for section in document.sections]
    after = next((name for name in ids if name not in document.front), "")
    data = {"document": _covered(data_of(document)), "paper": PAPERS[paper], "after_front": after}
    drawn: Any = typst.compile(
        (resources.files("eventlens.report.document") / "templates" / "report.typ").read_bytes(),
        ignore_system_fonts=True,
        format="pdf",
        pdf_standards=["ua-1"],
        timestamp=0,
        sys_inputs={"data": json.dumps(data, ensure_ascii=False)},
    )
    return bytes(drawn)


def _covered(part: Any) -> Any:
    """The same data with characters that the fonts lack written as numbers."""
    if isinstance(part, str):
        return part if part.isascii() else "".join(map(_character, part))
    if isinstance(part, list):
        return [_covered(item) for item in part]
    if isinstance(part, dict):
        return {key: _covered(item) for key, item in part.items()}
    return part


def _character(one: str) -> str:
    number = ord(one)
    has = one in ALSO or any(first <= number <= last for first, last in COVERED)
    return one if has else f"[U+{number:04X}]"
