"""Guards kinds of work on the page of weeks: every week and kind is drawn, told by its number, and put into words."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import polars as pl
import pytest

from dashboards.data import History
from dashboards.figures import work as drawing
from dashboards.figures.theme import PALETTES
from dashboards.pages.trends import callbacks, ids
from dashboards.pages.trends.layout import layout
from tests.dashboards.histories import history_of, weekly
from tests.dashboards.test_shell import text_of
from tests.trends.tables import week
from tests.trends.test_work import worked

LIGHT = PALETTES["light"]


@cache
def used() -> History:
    """SAW-3 gets another use in its last four weeks, and lies still in the sixth; SLAB-1 has only one week of work."""
    moved = worked(lambda number, _: 0.2 if number < 8 else 0.6, machine="SAW-3")
    short = worked(lambda *_: 0.5, 1, machine="SLAB-1", days=1)
    moved = moved.filter(pl.col("week") != week(5))
    return history_of(replace(weekly(), work=moved.vstack(short)))


def test_each_week_and_kind_is_drawn_once_and_weeks_without_work_are_hatched() -> None:
    found = used().work("SAW-3")
    (view,) = found.views
    assert (view.title, [kind.number for kind in view.kinds], view.recent) == ("Hoist runs", [1, 2], (8, 11))
    figure = drawing.figure(view, LIGHT)
    bars = {one.name: one for one in figure.data if one.type == "bar"}
    assert list(bars["kind 1"].x) == [n for n in range(12) if n != 5] == list(bars["kind 2"].x)
    assert [a + b for a, b in zip(bars["kind 1"].y, bars["kind 2"].y, strict=True)] == pytest.approx([100] * 11)
    assert list(bars["kind 2"].y) == pytest.approx([20] * 7 + [60] * 4)
    assert list(bars["kind 2"].text) == ["2"] * 11  # not by colour alone
    assert list(bars["no log"].x) == [5]
    assert len({str(marker) for marker, _ in drawing.tones(LIGHT)}) == 5


def test_a_block_that_is_too_low_for_its_number_has_none_and_few_runs_are_pale() -> None:
    (view,) = used().work("SAW-3").views
    low = view.frame.with_columns(share=pl.lit(drawing.NUMBERED - 0.01), few=pl.col("at") == 3)
    figure = drawing.figure(replace(view, frame=low), LIGHT)
    bar = figure.data[0]
    assert set(bar.text) == {""}
    assert [opacity for x, opacity in zip(bar.x, bar.marker.opacity, strict=True) if x == 3] == [drawing.PALE]
    assert sorted(set(bar.marker.opacity)) == [drawing.PALE, 1.0]
    assert sum("few: not judged" in row[5] for row in bar.customdata) == 1


def test_it_is_said_in_a_sentence_with_its_numbers() -> None:
    found = used().work("SAW-3")
    assert found.reading.startswith("Hoist runs of about ")
    assert "before the last weeks" in found.reading
    verdicts = {row["kind"]: (row["past"], row["recent"], row["verdict"]) for row in found.rows}
    assert verdicts[2] == (pytest.approx(0.2), pytest.approx(0.6), "a larger share in the last weeks")
    assert used().work("SAW-3") is found  # it takes a moment: once


def test_what_is_too_little_is_said_and_nothing_is_drawn() -> None:
    found = used().work("SLAB-1")
    assert (found.views, found.rows) == ((), ())
    assert found.reading == "There is too little work in these logs to tell kinds of it apart."
    assert found.notes[-1] == "SLAB-1: hoist runs: 50 in all weeks, kinds need 100"
    drawn = callbacks.draw_work(used(), {"machine": "SLAB-1"}, "light")
    assert found.reading in text_of(drawn)


def test_the_page_has_its_place_and_fills_it() -> None:
    class Shown:
        archived = True

        def history(self) -> History:
            return used()

    page: Any = layout(Shown(), "SAW-3")  # type: ignore[arg-type]
    assert ids.WORK in str(page)
    said = text_of(callbacks.draw_work(used(), {"machine": "SAW-3"}, "dark"))
    assert "Hoist runs" in said
    assert "Kinds are found in all weeks together" in said
    assert "1: runs of about " in said
