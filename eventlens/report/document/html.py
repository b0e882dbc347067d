"""Draws a document as one HTML file that asks nothing of anybody: style and drawings inside, no script, no address.

Every text is escaped by the template engine. The drawings alone are put in as they are: `diagram` makes them and
escapes what they hold.
"""

from __future__ import annotations

from functools import cache
from importlib import resources
from typing import Final

import jinja2
from markupsafe import Markup

from eventlens.report.document.model import Document, data_of

SIZES: Final = {"a4": "A4", "letter": "letter"}
"""Papers as CSS names them."""


def render(document: Document, paper: str) -> bytes:
    """The document as HTML in UTF-8; paper: size when it is printed."""
    ids = [section.id for section in document.sections]
    last = [name for name in ids if name in document.front][-1]
    style = _file("report.css").replace("PAPER", SIZES[paper]).replace("FOOTER", _css_text(document.footer))
    page = _template().render(
        document=data_of(document),
        style=Markup(style),  # a file of ours with a quoted sentence of ours
        drawing=Markup,
        last_front=last,
    )
    return (page.strip() + "\n").encode()


def _css_text(text: str) -> str:
    """A sentence as a quoted text of CSS that cannot end the style sheet."""
    return '"' + "".join(c if c.isalnum() or c in " .,:;-" else f"\\{ord(c):x} " for c in text) + '"'


@cache
def _template() -> jinja2.Template:
    return jinja2.Environment(autoescape=True, undefined=jinja2.StrictUndefined).from_string(_file("report.html"))


def _file(name: str) -> str:
    return (resources.files("eventlens.report.document") / "templates" / name).read_text("utf-8")
