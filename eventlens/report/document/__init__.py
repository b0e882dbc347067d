"""The report that hands a review over: one content, drawn as PDF and as HTML that stands alone.

    write(review, "week.pdf", paper="letter", language="de")

Nothing in it depends on when or where it is made: the same log gives the same bytes.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

from eventlens.errors import EventlensError, nearest
from eventlens.report.document.content import document_of
from eventlens.report.document.language import SOURCE_LANGUAGE, languages, words_of
from eventlens.report.document.model import PAPERS
from eventlens.result import Review

FORMS: Final = (".html", ".pdf")
"""Forms, by the end of the file's name."""

__all__ = ["FORMS", "PAPERS", "form_of", "languages", "render", "write"]


def form_of(path: str | Path) -> str:
    """'.html' or '.pdf', by the end of a file's name; EventlensError for any other."""
    form = Path(path).suffix.lower()
    if form not in FORMS:
        raise EventlensError(
            "a report that ends in .html or .pdf", f"'{Path(path).name}'", "add the ending of the form"
        )
    return form


def render(review: Review, form: str, *, paper: str = "a4", language: str = SOURCE_LANGUAGE) -> bytes:
    """The report as bytes. form: one of FORMS; paper: 'a4' or 'letter'; language: one of `languages()`."""
    if paper not in PAPERS:
        raise EventlensError("a paper of the report", f"'{paper}'", nearest(paper, PAPERS))
    document = document_of(review, words_of(language))
    if form == ".pdf":
        from eventlens.report.document import pdf  # the compiler is loaded where it is used

        return pdf.render(document, paper)
    from eventlens.report.document import html

    return html.render(document, paper)


def write(review: Review, path: str | Path, *, paper: str = "a4", language: str = SOURCE_LANGUAGE) -> None:
    """Writes the report to a file that ends in .html or .pdf. EventlensError for another ending, paper or language."""
    Path(path).write_bytes(render(review, form_of(path), paper=paper, language=language))
