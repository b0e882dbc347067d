"""The lists of the page: patterns, the weeks of one of them, measured times, and every week."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from dashboards.pages import _grids


def series(grid_id: str, rows: Sequence[dict[str, Any]]) -> Any:
    """The patterns that the machine has shown; a name leads to its weeks."""
    columns = [
        _grids.link("name", "Pattern", "href", width=250),
        {"field": "severity", "headerName": "Asks for", "width": 130, "cellClassRules": _grids.LEVEL_CLASSES},
        {"field": "verdict", "headerName": "Over the weeks", "width": 170},
        {"field": "recent", "headerName": "In the last weeks", "width": 195},
        {"field": "past", "headerName": "Before", "width": 195},
        {
            "field": "ratio",
            "headerName": "Last weeks over before",
            "headerTooltip": "the rate of the last weeks over that before, with its 95 % limits",
            "valueFormatter": {"function": "params.data.ratio_text"},
            "width": 180,
        },
        {
            "field": "beyond",
            "headerName": "Weeks beyond the chart's limits",
            "flex": 1,
            "minWidth": 220,
            "tooltipField": "beyond",
        },
    ]
    return _grids.grid(grid_id, columns, rows, getRowId="params.data.key", style=_grids.height(len(rows), 7))


def numbers(grid_id: str) -> Any:
    """The numbers of the chart of one pattern; filled by a callback."""
    columns = [
        _grids.link("week", "Week", "href", width=96, pinned="left"),
        {"field": "count", "headerName": "Times", "width": 64, "type": "rightAligned"},
        {"field": "amount", "headerName": "Use", "width": 72, **_grids.NUMBER},
        {"field": "rate", "headerName": "Rate", "width": 68, **_grids.NUMBER},
        {"field": "low", "headerName": "from", "headerTooltip": "lower 95 % limit", "width": 66, **_grids.NUMBER},
        {"field": "high", "headerName": "to", "headerTooltip": "upper 95 % limit", "width": 66, **_grids.NUMBER},
        {"field": "where", "headerName": "On the chart", "flex": 1, "minWidth": 108, "tooltipField": "meaning"},
    ]
    return _grids.grid(grid_id, columns, [], getRowId="params.data.week", style={"height": 340})


def times(grid_id: str, rows: Sequence[dict[str, Any]]) -> Any:
    """The weekly medians of the measured times."""
    columns = [
        {"field": "time", "headerName": "Time", "width": 220, "pinned": "left"},
        _grids.link("week", "Week", "href", width=110),
        {"field": "median", "headerName": "Median [s]", "width": 120, **_grids.NUMBER},
        {"field": "n", "headerName": "Runs", "width": 100, "type": "rightAligned"},
        {"field": "step", "headerName": "Log step [s]", "width": 130, **_grids.NUMBER},
    ]
    return _grids.grid(grid_id, columns, rows, style=_grids.height(len(rows), 8))


def life(grid_id: str, rows: Sequence[dict[str, Any]]) -> Any:
    """Hours of full load of each week, the latest first."""
    percent = {"function": "d3.format('.2f')(100 * params.value) + ' %'"}
    columns = [
        _grids.link("week", "Week", "href", width=110, pinned="left"),
        {"field": "full_load_h", "headerName": "Full load [h]", "width": 130, **_grids.NUMBER},
        {"field": "used_h", "headerName": "Used in all [h]", "width": 140, **_grids.NUMBER},
        {"field": "used_share", "headerName": "Used", "width": 100, "type": "rightAligned", "valueFormatter": percent},
        {"field": "log", "headerName": "Log", "width": 120},
    ]
    return _grids.grid(grid_id, columns, rows, getRowId="params.data.week", style=_grids.height(len(rows), 8))


_PERCENT: Final = {"valueFormatter": {"function": "d3.format('.0f')(100 * params.value) + ' %'"}}


def work(grid_id: str, rows: Sequence[dict[str, Any]]) -> Any:
    """The kinds of work, and how their shares have moved."""
    share = {"type": "rightAligned", **_PERCENT}
    columns = [
        {"field": "subject", "headerName": "Of", "width": 130, "pinned": "left"},
        {"field": "kind", "headerName": "Kind", "width": 70, "type": "rightAligned"},
        {"field": "share", "headerName": "In all", "width": 84, **share},
        {"field": "past", "headerName": "Before", "width": 84, **share},
        {"field": "recent", "headerName": "In the last weeks", "width": 140, **share},
        {"field": "verdict", "headerName": "Over the weeks", "width": 240},
        {"field": "change", "headerName": "Last weeks less before", "width": 280},
        {"field": "words", "headerName": "What is typical", "flex": 1, "minWidth": 320, "tooltipField": "words"},
    ]
    return _grids.grid(grid_id, columns, rows, getRowId="params.data.key", style=_grids.height(len(rows), 10))


def work_weeks(grid_id: str, rows: Sequence[dict[str, Any]]) -> Any:
    """The share of each kind of work in each week."""
    share = {"type": "rightAligned", **_PERCENT}
    columns = [
        {"field": "subject", "headerName": "Of", "width": 130, "pinned": "left"},
        {"field": "kind", "headerName": "Kind", "width": 80, "type": "rightAligned"},
        {"field": "week", "headerName": "Week", "width": 110},
        {"field": "count", "headerName": "Number", "width": 100, "type": "rightAligned"},
        {"field": "whole", "headerName": "Of", "width": 90, "type": "rightAligned"},
        {"field": "share", "headerName": "Share", "width": 90, **share},
        {"field": "low", "headerName": "from", "headerTooltip": "lower 95 % limit", "width": 80, **share},
        {"field": "high", "headerName": "to", "headerTooltip": "upper 95 % limit", "width": 80, **share},
    ]
    return _grids.grid(grid_id, columns, rows, style=_grids.height(len(rows), 10))


def weeks(grid_id: str, rows: Sequence[dict[str, Any]]) -> Any:
    """Every week of the history, the latest first."""
    columns = [
        _grids.link("week", "Week", "href", width=120, pinned="left"),
        {"field": "monday", "headerName": "From Monday", "width": 130},
        {"field": "observed_h", "headerName": "Observed [h]", "width": 130, **_grids.NUMBER},
        {"field": "running_h", "headerName": "Running [h]", "width": 130, **_grids.NUMBER},
        {"field": "starts", "headerName": "Starts", "width": 110, **_grids.NUMBER},
        {"field": "lifts", "headerName": "Lifts", "width": 110, **_grids.NUMBER},
        {"field": "full_load_h", "headerName": "Full load [h]", "width": 120, **_grids.NUMBER},
        {"field": "why", "headerName": "No review because", "flex": 1, "minWidth": 220},
    ]
    return _grids.grid(grid_id, columns, rows, getRowId="params.data.week", style=_grids.height(len(rows), 12))
