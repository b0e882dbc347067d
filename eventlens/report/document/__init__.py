"""The report that hands a review over: one content, drawn as PDF and as HTML that stands alone.

    write(review, "week.pdf", paper="letter", language="de")

Nothing in it depends on when or where it is made: the same log gives the same bytes.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Final

from eventlens.errors import EventlensError, nearest
from eventlens.report.document.content import ALWAYS, CHOICE, chosen, document_of
from eventlens.report.document.language import SOURCE_LANGUAGE, languages, words_of
from eventlens.report.document.model import PAPERS
from eventlens.result import Review

FORMS: Final = (".html", ".pdf")
"""Forms, by the end of the file's name."""

__all__ = ["ALWAYS", "CHOICE", "FORMS", "PAPERS", "chosen", "form_of", "languages", "render", "titles", "write"]


def form_of(path: str | Path) -> str:
    """'.html' or '.pdf', by the end of a file's name; EventlensError for any other."""
    form = Path(path).suffix.lower()
    if form not in FORMS:
        raise EventlensError(
            "a report that ends in .html or .pdf", f"'{Path(path).name}'", "add the ending of the form"
        )
    return form


def titles(language: str = SOURCE_LANGUAGE) -> dict[str, str]:
    """The headings of all sections, by their ids: those of ALWAYS and of CHOICE."""
    words = words_of(language)
    return {name: words(name) for name in (*ALWAYS, *CHOICE)}


def render(
    review: Review,
    form: str,
    *,
    paper: str = "a4",
    language: str = SOURCE_LANGUAGE,
    sections: Iterable[str] | None = None,
) -> bytes:
    """The report as bytes. form: one of FORMS; paper: 'a4' or 'letter'; language: one of `languages()`.

    sections: those of CHOICE that it is to have; None: all. What is dangerous, what was found, cautions, what could not
    be assessed, and hashes (ALWAYS) stand in every report. EventlensError for what is not known.
    """
    if paper not in PAPERS:
        raise EventlensError("a paper of the report", f"'{paper}'", nearest(paper, PAPERS))
    if form not in FORMS:
        raise EventlensError("a report in .html or .pdf", f"'{form}'", nearest(form, FORMS))
    document = document_of(review, words_of(language), chosen(sections))
    if form == ".pdf":
        from eventlens.report.document import pdf  # the compiler is loaded where it is used

        return pdf.render(document, paper)
    from eventlens.report.document import html

    return html.render(document, paper)


def write(
    review: Review,
    path: str | Path,
    *,
    paper: str = "a4",
    language: str = SOURCE_LANGUAGE,
    sections: Iterable[str] | None = None,
) -> None:
    """Writes the report to a file that ends in .html or .pdf; else as `render`."""
    Path(path).write_bytes(render(review, form_of(path), paper=paper, language=language, sections=sections))
