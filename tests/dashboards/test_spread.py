"""Guards how the measured times of a review are spread: counts against the limit from both sides, bins, colours."""

from __future__ import annotations

import numpy as np
import pytest

from dashboards.data import Week
from dashboards.data._limits import borders, shares
from dashboards.figures import spread
from dashboards.figures.theme import PALETTES
from dashboards.pages.week import ids, parts
from dashboards.tables import SpreadView
from tests.dashboards.test_repair import releasing
from tests.dashboards.test_shell import text_of
from tests.dashboards.weeks import measured_only

LIGHT = PALETTES["light"]


def released(*times: float) -> SpreadView:
    views = Week(releasing(list(times), 0.0)).spreads
    return next(view for view in views if view.title == "hoist: release time")


def test_a_time_that_is_just_the_limit_is_within_it_and_one_a_step_longer_is_beyond() -> None:
    """The limit of 0.5 s is shipped (brake_release_s: common practice)."""
    at, over = released(*[0.5] * 12), released(*[0.5] * 11, 0.52)
    assert (at.limit, at.limit_name, at.least) == (0.5, "brake_release_s", False)
    assert (at.beyond, over.beyond) == (0, 1)
    assert at.reading == "Median 0.5 s, 95 in 100 within 0.5 s; none of 12 runs above the limit of 0.5 s."
    assert "1 of 12 runs above the limit" in over.reading


def test_every_run_is_in_a_bin_and_those_beyond_the_limit_have_another_colour() -> None:
    view = released(*[0.2] * 9, 0.7, 0.7, 0.9)
    assert view.share.sum() == pytest.approx(100)
    (bars,) = spread.figure(view, LIGHT).data
    colours = dict(zip(np.round(bars.x, 3), bars.marker.color, strict=True))
    assert colours[0.2] == LIGHT.partly
    assert {colour for at, colour in colours.items() if at > 0.5} == {LIGHT.alert}
    assert {shape.name for shape in spread.figure(view, LIGHT).layout.shapes} == {"median", "limit"}


def test_a_bin_that_holds_the_limit_itself_is_not_beyond_it() -> None:
    view = released(*[0.5] * 12, *[0.52] * 12)
    (bars,) = spread.figure(view, LIGHT).data
    colours = dict(zip(np.round(bars.x, 3), bars.marker.color, strict=True))
    assert (colours[0.5], colours[0.52]) == (LIGHT.partly, LIGHT.alert)


def test_the_last_bin_takes_what_lies_far_beyond() -> None:
    times = np.array([*[0.2] * 999, 30.0])
    edges = borders([times], 0.5, 0.02)
    assert edges[-1] < 1.0
    assert shares(times, edges)[-1] == pytest.approx(0.1)
    assert shares(times, edges).sum() == pytest.approx(100)


def test_the_page_has_the_numbers_in_a_table_and_says_where_there_are_none() -> None:
    shown = text_of(parts.times([released(*[0.2] * 12)], "0.04 s"))
    assert "at most 0.5 (brake_release_s)" in shown
    nothing = text_of(parts.times(Week(measured_only()).spreads, "0.04 s"))
    assert "these times are not known" in nothing
    assert ids.TIMES in nothing, "the callback that draws has its place"
