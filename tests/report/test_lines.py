"""Guards the wrapping of report lines: nothing is wider than asked, no word is lost, nothing steers the terminal."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eventlens.report.lines import LABEL, NARROWEST, Line, Page, printable


@given(st.text(min_size=1), st.integers(NARROWEST, 120))
def test_no_line_is_wider_than_the_page(text: str, width: int) -> None:
    page = Page(width)
    page.pair("label", text)
    assert max(len(line.text) for line in page.lines) <= width
    assert all(line.text.isprintable() for line in page.lines)


@given(st.lists(st.text("abcdefgh-", min_size=1, max_size=20), min_size=1), st.integers(NARROWEST, 120))
def test_no_word_is_lost(words: list[str], width: int) -> None:
    page = Page(width)
    page.say(" ".join(words), "  - ")
    assert " ".join(line.text[4:] for line in page.lines).split() == words


def test_following_lines_hang_under_the_text() -> None:
    page = Page(40)
    page.pair("holes", "one two three four five six seven")
    left = 2 + LABEL  # counted by hand: 22 columns remain, "one two three four" is 18, "five" would make 23
    assert page.lines == [Line("  holes" + " " * 11 + "one two three four"), Line(" " * left + "five six seven")]


def test_gap_is_no_line_on_an_empty_page() -> None:
    page = Page(80)
    page.heading("First")
    page.heading("Second")
    assert page.text() == "First\n\nSecond\n"
    assert [line.style for line in page.lines] == ["heading", "", "heading"]


@pytest.mark.parametrize(
    ("text", "shown"), [("K1\x1b[2J", "K1\\x1b[2J"), ("a\tb", "a\\tb"), ("Größe 10 µm", "Größe 10 µm")]
)
def test_control_characters_are_written_out(text: str, shown: str) -> None:
    assert printable(text) == shown
