"""Guards the words of a comparison: each verdict, what it could have seen, what one side could not, how times moved."""

from __future__ import annotations

import pytest

import eventlens
from eventlens import schema
from eventlens.report.comparison import MOVED, VERDICT, WHY, render, styled
from eventlens.wiring import review_log
from tests.comparison.stories import log_of, side, work
from tests.comparison.test_moved import TWELVE, both
from tests.comparison.test_times import SLOW, releasing
from tests.logs import merged, run
from tests.patterns.helpers import M5

LATER = 100_000.0


def said(text: str) -> str:
    return " ".join(text.split())


def test_every_word_of_the_tables_has_its_words() -> None:
    assert tuple(VERDICT) == schema.VERDICTS
    assert set(MOVED) == set(schema.MOVED_VERDICTS)
    assert set(WHY) == {*schema.NOT_ASSESSED_WHY, "no_use"}


@pytest.mark.parametrize("width", [40, 80, 110])
def test_worse_and_bursts(width: int) -> None:
    burst = review_log(log_of(work(300, {*range(100, 110), 200}, begin=LATER), begin=LATER), M5)
    found = eventlens.compare_reviews(side(300, 0), burst)
    text = render(found, width=width)
    assert max(map(len, text.splitlines())) <= width
    assert "not seen before" in said(text)
    assert "they come in bursts" in said(text)
    assert "within 0 blocks of 60.0 min before, 2 after" in said(text)
    worse = eventlens.compare_reviews(side(300, 0), side(300, 12, LATER))
    assert [line.style for line in styled(worse) if line.text == "Worse"] == ["repair"]


def test_less_and_no_change_shown() -> None:
    before = side(300, 20)
    less = said(render(eventlens.compare_reviews(before, side(300, 8, LATER))))
    assert "Less - hoist: drop-out: 20 in 300 starts before, 8 in 300 starts after the rate is 0.4 of" in less
    same = said(render(eventlens.compare_reviews(before, side(300, 9, LATER))))
    assert "of the earlier rate or lower would have been shown, four times in five" in same
    few = said(render(eventlens.compare_reviews(side(300, 4), side(300, 1, LATER))))
    assert "so few that no fall could have been shown" in few


def test_nothing_found_and_no_use_since() -> None:
    assert "No pattern on either side." in render(eventlens.compare_reviews(side(20, 0), side(20, 0, LATER)))
    empty = review_log(log_of([], begin=LATER, end=LATER + 7200), M5)
    text = said(render(eventlens.compare_reviews(side(300, 10), empty)))
    assert "no use since, so nothing can be said" in text
    assert "watch 188 more starts" in text  # 187.4


def test_times_and_what_one_side_could_not_see() -> None:
    sooner = releasing([time - 0.12 for time in SLOW], LATER)
    text = said(render(eventlens.compare_reviews(releasing(SLOW), sooner)))
    assert "release time: median 0.31 s before (8), 0.19 s after (8); shorter, moved by -0.120 s" in text
    coarse = review_log(log_of(work(30, begin=LATER), begin=LATER, step_s=1.0), M5)
    jogging = merged(*(run(second, second + 0.5) for second in range(10, 16)))
    text = said(render(eventlens.compare_reviews(review_log(log_of(jogging, work(20, begin=100)), M5), coarse)))
    assert "Could not be compared - hoist: jogging (1 before): after, the log step is too coarse:" in text
    assert "note the log step is 0.01 s before and 1 s after" in text


def test_an_exchange_that_cannot_be_told_yet_says_when() -> None:
    found = eventlens.compare_reviews(both(TWELVE, ()), both({4}, (), 10, LATER), moved=["hoist.raise:hoist.lower"])
    text = said(render(found))
    assert "hoist.raise with hoist.lower, drop-out: cannot be told yet" in text
    assert "too little use since the exchange: it could be told after" in text
    nowhere = eventlens.compare_reviews(both(TWELVE, ()), both((), (), begin=LATER), moved=["hoist.raise:hoist.lower"])
    assert "cannot be told yet" not in render(nowhere)
    nothing = eventlens.compare_reviews(both((), ()), both((), (), begin=LATER), moved=["hoist.raise:hoist.lower"])
    assert "there is nothing that could have moved" in said(render(nothing))
