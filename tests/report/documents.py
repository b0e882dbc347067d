"""Reviews and readers for the tests of the report that is handed over."""

from __future__ import annotations

import io
from dataclasses import replace
from functools import cache
from html.parser import HTMLParser

import polars as pl
import pypdf

from eventlens import patterns, schema
from eventlens.report import document
from eventlens.result import Review
from tests.report.stories import plain_log, reviewed

HOSTILE = '<script>alert(1)</script> #import "x": * $x$ `raw` {{ 7*7 }} ' + "中 \u202e"
"""A name that HTML, typst, mathematics and templates would each read otherwise; two characters without glyph."""


@cache
def one_drop_out() -> Review:
    """A hoist with one drop-out."""
    return reviewed(group="M5", rated_load_kg=3200)


def with_names(review: Review, name: str) -> Review:
    """The review of the same machine with a name of a signal, of the file and of the machine itself replaced."""
    log = review.log
    names = log.names.with_columns(name=pl.lit(name) + pl.col("name"))
    files = tuple(replace(file, name=name) for file in log.files)
    plate = review.machine.machine.model_copy(update={"id": name})
    machine = review.machine.model_copy(update={"machine": plate})
    return replace(review, log=replace(log, names=names, files=files), machine=machine)


def with_findings(review: Review, number: int) -> Review:
    """The review with so many findings: the one that it has, for as many pairs of pattern and signal."""
    row = review.findings.row(0, named=True)
    evidence = review.occurrences.row(0, named=True)
    known = schema.SIGNAL.categories.to_list()
    pairs = [(pattern, signal) for signal in known for pattern in patterns.catalogue()][:number]
    changed = [{**row, "pattern": pattern, "signal": signal} for pattern, signal in pairs]
    proof = [{**evidence, "pattern": pattern, "signal": signal} for pattern, signal in pairs]
    return replace(
        review,
        findings=pl.DataFrame(changed, schema=schema.FINDINGS.schema),
        occurrences=pl.DataFrame(proof, schema=schema.OCCURRENCES.schema),
    )


def empty() -> Review:
    """A machine that never moved."""
    from tests.logs import HOIST, make_log, off

    return reviewed(make_log(off(*HOIST), end=3600.0))


def with_holes() -> Review:
    """The same runs in a log with two holes."""
    return reviewed(plain_log(holes=[(100.0, 200.0), (1000.0, 1500.0)], rhythm_s=5.0))


def load_measured() -> Review:
    """Two lifts of 1000 kg with a rated load of 3200 kg."""
    from tests.logs import HOIST, make_log, merged, off, run

    load = [
        (0.0, "load.kg", 0.0),
        *((t, "load.kg", kg) for t, kg in ((10, 1000.0), (20, 0.0), (50, 1000.0), (60, 0.0))),
    ]
    parts = merged(off(*HOIST), run(10, 15), run(17, 20, "lower"), run(50, 55), run(57, 60, "lower"), load)
    return reviewed(make_log(parts, end=3600.0), group="M5", rated_load_kg=3200)


def worked() -> Review:
    """Sixty lifts of 12 s in fast with a short run of 2 s after each, and no trolley."""
    from tests.logs import HOIST, make_log, merged, off, run

    lifts = [
        part for at in range(60) for part in (run(10 + 300 * at, 22 + 300 * at), run(30 + 300 * at, 32 + 300 * at))
    ]
    return reviewed(make_log(merged(off(*HOIST), *lifts), end=18_100.0), group="M5", rated_load_kg=3200)


def html(review: Review, language: str = "en") -> str:
    return document.render(review, ".html", language=language).decode()


def pdf(review: Review, language: str = "en", paper: str = "a4") -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(document.render(review, ".pdf", language=language, paper=paper)))


def words_of_pdf(reader: pypdf.PdfReader) -> str:
    """The text of all pages without the line ends of the layout."""
    return " ".join(" ".join(page.extract_text() for page in reader.pages).split())


class Elements(HTMLParser):
    """The elements of a page with their attributes, and its text."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.texts.append(data)

    @property
    def text(self) -> str:
        return " ".join("".join(self.texts).split())
