"""Guards the figures: what a state looks like, that nothing is hidden, and where marks and limits stand."""

from __future__ import annotations

from typing import Any

import numpy as np
import plotly.graph_objects as go
import pytest

from dashboards import bins, lanes, readings
from dashboards.data import Week
from dashboards.figures import cyclic, starts
from dashboards.figures import lanes as drawing
from dashboards.figures.theme import PALETTES, palette
from dashboards.tables import LanesView
from eventlens.wiring import review_log
from tests.dashboards.pictures import Pixels, colour_of, picture_of
from tests.dashboards.weeks import SAW, full_week, measured_only, three_signals
from tests.logs import HOIST, make_log, merged, pulse, run

LIGHT = PALETTES["light"]
WIDTH = 1372
BINS = drawing.bins_for(WIDTH)


def trace(figure: go.Figure, name: str) -> Any:
    return next(one for one in figure.data if one.name == name)


def week_view(monkeypatch: pytest.MonkeyPatch) -> LanesView:
    """A week in bins with one pulse of one log step of the overload trip, and a supply that is lost once."""
    monkeypatch.setattr(lanes, "EXACT_MOST", 0)
    supply = [(0.0, "supply.control", 1.0), (400_000.0, "supply.control", 0.0), (450_000.0, "supply.control", 1.0)]
    records = merged(pulse("overload.trip", (300_000.0, 300_000.01)), supply)
    week = Week(review_log(make_log(records, end=604_800.0, carries=HOIST), SAW))
    return week.lanes.view(week.whole, BINS)


def test_there_is_one_bin_for_each_pixel_of_the_plot() -> None:
    assert WIDTH - drawing.left_px(WIDTH) - drawing.right_px(WIDTH) == BINS


def test_a_pulse_of_one_log_step_is_drawn_in_a_whole_week(monkeypatch: pytest.MonkeyPatch) -> None:
    view = week_view(monkeypatch)
    figure = drawing.figure(view, None, LIGHT, WIDTH)
    lane = [one.signal for one in view.lanes].index("overload.trip")
    place = int(300_000 / 604_800 * BINS)
    states, told = (np.asarray(one)[row_of(view, lane)] for one in (trace(figure, "states").z, told_of(figure)))
    assert np.flatnonzero(states == bins.PARTLY).tolist() == [place]
    block, foot = block_and_foot(figure, view, lane)
    # the pulse is the only place with a block, and it has the colour of what needs a person
    assert np.flatnonzero(block[:, 3]).tolist() == [place]
    assert tuple(block[place, :3]) == colour_of(LIGHT.alert_partly)
    assert (foot[:, 3] == 255).all()
    assert told[place].tolist() == [1, 1]  # once; less than a percent of the bin is rounded up


def row_of(view: LanesView, lane: int) -> int:
    return round(drawing.Places.of(view.lanes).top[lane])


def told_of(figure: go.Figure) -> Any:
    return np.asarray(trace(figure, "states").customdata)


def block_and_foot(figure: go.Figure, view: LanesView, lane: int) -> tuple[Pixels, Pixels]:
    """One row of pixels through the block of a lane, and one through its foot."""
    picture = picture_of(figure)
    assert picture is not None
    top = row_of(view, lane) * drawing.LANE_PX
    return picture[top + drawing.LANE_PX // 2], picture[top + round(0.79 * drawing.LANE_PX)]


def test_the_supply_is_red_where_it_is_off_and_grey_where_it_is_on(monkeypatch: pytest.MonkeyPatch) -> None:
    view = week_view(monkeypatch)
    lane = [one.signal for one in view.lanes].index("supply.control")
    block, foot = block_and_foot(drawing.figure(view, None, LIGHT, WIDTH), view, lane)
    lost, there = int(420_000 / 604_800 * BINS), 10
    assert block[lost, 3] == 0
    assert tuple(foot[lost, :3]) == colour_of(LIGHT.alert)
    assert tuple(block[there, :3]) == tuple(foot[there, :3]) == colour_of(LIGHT.on)


def test_on_off_and_unknown_differ_in_shape_not_only_in_colour(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(lanes, "EXACT_MOST", 0)
    week = full_week()
    view = week.lanes.view(week.whole, 72)
    figure = drawing.figure(view, None, LIGHT, WIDTH)
    states = np.asarray(trace(figure, "states").z)
    for lane in range(len(week.lanes.lanes)):
        block, foot = (row[:, 3] != 0 for row in block_and_foot(figure, view, lane))
        row = states[row_of(view, lane)]
        assert (block == (row >= bins.PARTLY)).all()  # a block only where it is on
        assert view.binned is not None
        assert (foot == view.binned.known[lane]).all()  # a line wherever the state is known, if only for a part
        assert (foot | np.isnan(row)).all()
        assert not foot.all()
    hatched = trace(figure, "not known")
    assert hatched.marker.pattern.shape == "/"
    assert len(hatched.base) == len(week.lanes.lanes)  # the hole, once in each lane


def test_exact_bars_carry_the_intervals_and_never_vanish() -> None:
    week = Week(three_signals())
    figure = drawing.figure(week.lanes.view(week.whole, BINS), None, LIGHT, WIDTH)
    on, off = trace(figure, "on"), trace(figure, "off")
    assert sorted(on.x) == [3900.0, 4000.0, 4900.0, 5000.0]  # lengths in ms of the four times on
    assert on.marker.line.width == 0  # the library widens bars to whole pixels only where they have no border
    assert on.width > off.width
    assert on.customdata[0][2] == "4 s"


def test_the_chosen_occurrence_is_a_shaded_span_with_its_name() -> None:
    week = full_week()
    mark = week.findings.mark("drop_out/hoist/", 1)
    for width in (WIDTH, 350):
        view = week.lanes.view(week.around("drop_out/hoist/", 1), drawing.bins_for(width))
        figure = drawing.figure(view, mark, LIGHT, width)
        (span,) = [shape for shape in figure.layout.shapes if shape.name == "chosen occurrence"]
        assert (span.x0, span.x1) == mark.window
        assert any(mark.label in note.text for note in figure.layout.annotations)
        start, end = figure.layout.xaxis.range
        assert start < span.x0 < span.x1 < end


def test_an_occurrence_out_of_view_says_on_which_side() -> None:
    week = full_week()
    mark = week.findings.mark("drop_out/hoist/", 1)
    start, end = week.whole
    for window, text in (((start, start + 1000), "later ▶"), ((end - 1000, end), "◀ chosen occurrence is earlier")):
        figure = drawing.figure(week.lanes.view(window, BINS), mark, LIGHT, WIDTH)
        assert not [shape for shape in figure.layout.shapes if shape.name == "chosen occurrence"]
        assert any(text in note.text for note in figure.layout.annotations)


def test_a_log_of_measured_values_only_has_strips_and_no_lanes() -> None:
    week = Week(measured_only())
    figure = drawing.figure(week.lanes.view(week.whole, BINS), None, LIGHT, WIDTH)
    assert [one.name for one in figure.data] == ["load [kg]"]
    assert np.nanmax(figure.data[0].y) == 800


def test_strips_and_lanes_do_not_overlap() -> None:
    week = full_week()
    layout = drawing.figure(week.lanes.view(week.whole, BINS), None, LIGHT, WIDTH).layout
    assert layout.yaxis2.domain[1] < layout.yaxis.domain[0]


def test_a_telephone_scrolls_where_a_mouse_zooms() -> None:
    week = full_week()
    view = week.lanes.view(week.whole, 200)
    assert drawing.figure(view, None, LIGHT, 350).layout.dragmode is False
    assert drawing.figure(view, None, LIGHT, WIDTH).layout.dragmode == "zoom"


def test_the_limit_is_a_line_and_only_what_is_above_it_is_red() -> None:
    within = starts.figure(full_week().duty.starts_per_hour("hoist"), LIGHT)
    (line,) = [shape for shape in within.layout.shapes if shape.name == "limit"]
    assert (line.y0, line.y1) == (240, 240)
    assert "above the limit" not in [one.name for one in within.data]

    records = merged(*[run(t, t + 3) for t in range(10, 3610, 12)])
    busy = Week(review_log(make_log(records, end=7200.0, carries=HOIST), SAW)).duty
    above = trace(starts.figure(busy.starts_per_hour("hoist"), LIGHT), "above the limit")
    assert above.line.color == LIGHT.alert
    assert np.nanmin(above.y) > 240
    assert "above the limit of 240 starts per hour" in readings.starts(busy.starts_per_hour("hoist"))


def test_cyclic_duration_is_drawn_in_percent() -> None:
    view = full_week().duty.cyclic_duration("hoist")
    figure = cyclic.figure(view, LIGHT)
    (line,) = [shape for shape in figure.layout.shapes if shape.name == "limit"]
    assert line.y0 == pytest.approx(40)
    assert max(figure.data[0].y) == pytest.approx(100 * view.value.max())
    assert trace(figure, "no log").marker.pattern.shape == "/"


def test_without_a_limit_there_is_no_line_and_the_reading_says_why() -> None:
    view = Week(three_signals()).duty.starts_per_hour("hoist")
    assert not starts.figure(view, LIGHT).layout.shapes
    assert "no limit to hold it against: the machine file gives no group" in readings.starts(view)


def test_readings_are_one_sentence_with_numbers_and_units() -> None:
    week = full_week()
    assert readings.starts(week.duty.starts_per_hour("hoist")) == (
        "At most 23 starts of the hoist in any hour (first at Mon 2 Mar 2026 06:50); within the limit of 240 starts "
        "per hour (FEM 9.683, hoist motors, intermittent duty S3/S4; confirmed). Windows that reach over a hole in "
        "the log show a proven minimum."
    )  # 14 lowered or raised, 1 dropped out, 8 jogs: counted by hand; the last jog is at 3003 s
    mark = week.findings.mark("drop_out/hoist/", 1)
    told = readings.lanes(week.lanes.view(week.whole, 100), mark)
    assert told.startswith("2 h of 13 signals; every interval is drawn exactly (")
    assert told.endswith("Hatched: state not known. Marked: drop-out, 1 of 1.")


@pytest.mark.parametrize("theme", ["light", "dark", None])
def test_every_theme_has_its_palette(theme: str | None) -> None:
    assert palette(theme) is PALETTES[theme or "light"]
