"""Guards the timing diagram as SVG: the states where they belong, in black and white, and the same in words."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from typing import Any

import polars as pl
import pytest

from eventlens.report.document.diagram import COLUMNS, GREY, INK, draw
from eventlens.report.document.language import words_of
from eventlens.report.occurrence import around, lanes_of
from eventlens.result import Review
from tests.report.documents import one_drop_out, with_holes

NAME = "{http://www.w3.org/2000/svg}"


def first(review: Review, pattern: str) -> dict[str, Any]:
    return review.occurrences.filter(pl.col("pattern") == pattern).row(0, named=True)


def drawn(review: Review, pattern: str, language: str = "en") -> tuple[ET.Element, str]:
    drawing = draw(review, first(review, pattern), words_of(language))
    return ET.fromstring(drawing.svg), drawing.alt


def test_a_lane_for_each_signal_and_one_for_the_occurrence() -> None:
    review = one_drop_out()
    svg, _ = drawn(review, "drop_out")
    names = [element.text for element in svg.iter(f"{NAME}text")]
    found = first(review, "drop_out")
    lanes, _ = lanes_of(review, found, around(found, COLUMNS))
    assert [lane.name for lane in lanes] == [name for name in names if name and "." in name and "hoist" in name]
    assert "hoist.raise.contactor" in names
    assert names[-1] == "this occurrence"


def test_a_bar_is_as_long_as_the_signal_was_on() -> None:
    review = one_drop_out()
    found = first(review, "drop_out")
    grid = around(found, COLUMNS)
    lane = next(lane for lane in lanes_of(review, found, grid)[0] if lane.name == "hoist.raise.contactor")
    on = lane.line.count("#") / grid.count
    svg, _ = drawn(review, "drop_out")
    label = next(e for e in svg.iter(f"{NAME}text") if e.text == "hoist.raise.contactor")
    base = float(label.get("y", 0)) + 1.5
    bars = [
        e for e in svg.iter(f"{NAME}rect") if float(e.get("y", 0)) + float(e.get("height", 0)) == pytest.approx(base)
    ]
    assert on > 0
    assert sum(float(bar.get("width", 0)) for bar in bars) == pytest.approx(on * (720 - 190 - 8), abs=0.1)


def test_black_and_white() -> None:
    drawing = draw(one_drop_out(), first(one_drop_out(), "drop_out"), words_of("en"))
    used = {word.split('"')[0] for word in drawing.svg.split('"#')[1:]}
    assert {f"#{one}" for one in used} <= {INK, GREY, "#fff"}


@pytest.mark.parametrize(
    ("language", "on"), [("en", "hoist raise contactor on: "), ("de", "hoist raise contactor ein: ")]
)
def test_the_picture_in_words(language: str, on: str) -> None:
    _, alt = drawn(one_drop_out(), "drop_out", language)
    assert on in alt
    assert "50" not in alt  # seconds count from its beginning, not from that of the log


def test_what_is_not_known_is_a_frame_with_a_question_mark() -> None:
    review = with_holes()
    svg, _ = drawn(review, "log_hole")
    frames = [e for e in svg.iter(f"{NAME}rect") if e.get("stroke-dasharray")]
    assert frames
    assert "?" in [e.text for e in svg.iter(f"{NAME}text")]
