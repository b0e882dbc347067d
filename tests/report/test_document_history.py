"""What people wrote down stands in the report with how it counts, in both languages; without entries there is none."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest

from eventlens.archive.entries import KINDS
from eventlens.result import Review, Statement
from tests.causes.stories import of, work


def told(review: Review) -> Review:
    at = review.runs["start"].min()
    assert isinstance(at, datetime)
    kinds = [kind for kind in KINDS if kind != "machine"]
    return replace(review, history=tuple(Statement(at, kind, f"said {kind}", f"taken {kind}") for kind in kinds))


@pytest.mark.parametrize(("language", "title"), [("en", "What was written down"), ("de", "Was aufgeschrieben wurde")])
def test_each_entry_and_how_it_counts(tmp_path: Path, language: str, title: str) -> None:
    review = of(work(4))
    plain, full = tmp_path / "plain.html", tmp_path / "full.html"
    review.to_report(plain, language=language)
    told(review).to_report(full, language=language)
    assert title not in plain.read_text("utf-8")
    shown = full.read_text("utf-8")
    assert title in shown
    for one in told(review).history:
        assert one.text in shown
        assert one.counts in shown


def test_the_pdf_is_the_same_twice(tmp_path: Path) -> None:
    review = told(of(work(4)))
    for name in ("one.pdf", "two.pdf"):
        review.to_report(tmp_path / name)
    assert (tmp_path / "one.pdf").read_bytes() == (tmp_path / "two.pdf").read_bytes()
