"""Guards the figures over weeks and machines: nothing is hidden, shapes differ where colours do, names stay text."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import plotly.graph_objects as go
import polars as pl
import pytest

from dashboards.figures import drift, funnel, life, weekly
from dashboards.figures.theme import PALETTES
from dashboards.series import WeeklyView
from tests.dashboards.histories import DROP_OUT, GROWS, aging, history, yard

LIGHT = PALETTES["light"]


def trace(figure: go.Figure, name: str) -> Any:
    return next(one for one in figure.data if one.name == name)


def of_kinds(*kinds: str) -> WeeklyView:
    """The weeks of SAW-3 with other kinds, in order."""
    view = history().weekly_view("SAW-3", DROP_OUT)
    every = [*kinds, *["usual"] * (view.frame.height - len(kinds))]
    return replace(view, frame=view.frame.with_columns(kind=pl.Series(every)))


def test_every_week_is_drawn_once() -> None:
    figure = weekly.figure(history().weekly_view("SAW-3", DROP_OUT), LIGHT)
    points = [one for one in figure.data if one.name in weekly.NAMES.values()]
    assert sorted(x for one in points for x in one.x) == list(range(12))
    assert sorted(y for one in points for y in one.y) == pytest.approx(sorted(n / 10 for n in GROWS))


def test_kinds_of_weeks_differ_in_shape_not_only_in_colour() -> None:
    figure = weekly.figure(of_kinds("above", "below", "little", "apart"), LIGHT)
    shapes = {name: trace(figure, name).marker.symbol for name in weekly.NAMES.values()}
    assert len(set(shapes.values())) == 5
    coloured = {name for name in shapes if trace(figure, name).marker.color == LIGHT.alert}
    assert coloured == {weekly.NAMES["above"]}  # only what needs a person


def test_limits_of_a_week_are_drawn_from_its_point() -> None:
    view = history().weekly_view("SAW-3", DROP_OUT)
    points = trace(weekly.figure(view, LIGHT), weekly.NAMES["above"])
    last = view.frame.row(11, named=True)
    assert points.y[-1] + points.error_y.array[-1] == pytest.approx(last["high"])
    assert points.y[-1] - points.error_y.arrayminus[-1] == pytest.approx(last["low"])
    assert points.customdata[-1][0] == last["week"]  # what a click leads to


def test_a_week_without_a_log_is_hatched() -> None:
    view = history().weekly_view("SAW-3", DROP_OUT)
    gone = replace(view, frame=view.frame.filter(pl.col("at") != 4))
    hatched = trace(weekly.figure(gone, LIGHT), "no log")
    assert (list(hatched.x), list(hatched.customdata)) == ([4], [view.weeks[4]])
    assert hatched.marker.pattern.shape == "/"
    assert [one.name for one in weekly.figure(view, LIGHT).data if one.name == "no log"] == []


def test_work_is_marked_and_what_was_written_stays_text() -> None:
    figure = weekly.figure(history().weekly_view("SAW-3", DROP_OUT), LIGHT)
    assert [shape.x0 for shape in figure.layout.shapes if shape.name == "work"] == [-0.5]
    assert list(trace(figure, "work").customdata) == ["2025-12-15 repair: &lt;b&gt;brake&lt;/b&gt; adjusted"]
    assert len(drift.figure(history().times("SLAB-1")[0], LIGHT).layout.shapes) == 0


def test_the_axis_names_the_year_where_it_begins() -> None:
    axis = weekly.figure(history().weekly_view("SAW-3", DROP_OUT), LIGHT).layout.xaxis
    assert list(axis.ticktext)[:3] == ["W51<br>2025", "W01<br>2026", "W03"]


def test_a_long_history_has_no_more_labels_than_fit() -> None:
    view = history().weekly_view("SAW-3", DROP_OUT)
    long = replace(view, weeks=tuple(f"2026-W{n:02}" for n in range(1, 54)))
    assert len(weekly.figure(long, LIGHT).layout.xaxis.tickvals) <= 8


def test_a_drift_is_drawn_as_a_line_and_in_colour_only_where_it_needs_a_person() -> None:
    drifting, still = history().times("SAW-3")[0], history().times("SLAB-1")[0]
    lines = [shape for shape in drift.figure(drifting, LIGHT).layout.shapes if shape.name == "drift"]
    assert [line.line.color for line in lines] == [LIGHT.alert]
    calm = replace(drifting, needs=False)
    shapes = drift.figure(calm, LIGHT).layout.shapes
    assert [shape.line.color for shape in shapes if shape.name == "drift"] == [LIGHT.ink]
    assert len(drift.figure(still, LIGHT).layout.shapes) == 0
    assert list(drift.figure(still, LIGHT).data[0].y) == [0.20] * 12


def test_every_machine_is_in_the_funnel_and_one_beyond_has_another_shape() -> None:
    figure = funnel.figure(yard().funnel(DROP_OUT), LIGHT)
    points = [one for one in figure.data if one.customdata is not None]
    assert sum(len(one.x) for one in points) == 12
    beyond = next(one for one in points if "SAW-3" in one.text)
    assert (beyond.marker.symbol, beyond.marker.color) == ("triangle-up", LIGHT.alert)
    others = [one for one in points if one is not beyond]
    assert all(one.marker.color == LIGHT.on for one in others)
    # the sisters stand at one use: there is room for one name, all others are in the list and under the pointer
    assert sum(bool(name) for one in others for name in one.text) == 1
    assert {told[0] for one in others for told in one.customdata} == {f"SLAB-{n}" for n in range(1, 12)}


def test_names_of_machines_stay_text() -> None:
    view = history().funnel(DROP_OUT)
    odd = replace(view, frame=view.frame.with_columns(machine=pl.lit("<a href='x'>M</a>")))
    texts = [name for one in funnel.figure(odd, LIGHT).data if one.customdata is not None for name in one.text]
    assert {*texts} - {""} == {"&lt;a href='x'&gt;M&lt;/a&gt;"}


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_ink_stands_out_from_the_ground(theme: str) -> None:
    colours = PALETTES[theme]
    for colour, least in ((colours.ink, 7.0), (colours.quiet, 4.5), (colours.on, 4.5), (colours.alert, 4.5)):
        assert contrast(colour, colours.ground) >= least


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours (WCAG 2.2)."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def luminance(colour: str) -> float:
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_the_life_chart_shows_the_limit_and_where_the_forecast_meets_it() -> None:
    view = aging().life_view("SAW-3")
    assert view is not None
    figure = life.used(view, LIGHT)
    assert trace(figure, "used").y[-1] == pytest.approx(78)
    limit = next(one for one in figure.layout.shapes if one.name == "limit")
    assert limit.y0 == limit.y1 == 100
    ahead = trace(figure, "at this rate")
    assert ahead.y[0] == pytest.approx(78)
    assert ahead.y[1] > 100  # it is drawn beyond the limit
    band = trace(figure, "95 % interval")
    assert band.y[1] >= ahead.y[1] >= band.y[2]


def test_without_a_forecast_the_life_chart_ends_with_the_weeks() -> None:
    view = aging().life_view("SAW-3")
    assert view is not None
    figure = life.used(replace(view, ahead=None), LIGHT)
    assert [one.name for one in figure.data] == ["used"]


def test_the_interval_of_the_forecast_lies_on_the_limit() -> None:
    view = aging().life_view("SAW-3")
    assert view is not None
    assert view.ahead is not None
    figure = life.used(view, LIGHT)
    assert list(trace(figure, "used up").x) == [view.ahead.ends]
    first, last = trace(figure, "used up between").x
    assert first <= view.ahead.ends <= last
    assert set(trace(figure, "used up between").y) == {100}


def test_weeks_with_little_log_are_pale_and_said() -> None:
    view = aging().life_view("SAW-3")
    assert view is not None
    thin = replace(view, frame=view.frame.with_columns(little=pl.Series([True] + [False] * 11)))
    bars = trace(life.weekly(thin, LIGHT), "hours of full load")
    assert bars.marker.color[0] != bars.marker.color[1]
    assert tuple(bars.customdata[0]) == (view.weeks[0], ", little log")
