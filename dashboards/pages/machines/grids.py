"""The two lists of the page: the machines, and the numbers of the chart that holds them side by side."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from dashboards.pages import _grids

_MOST_ROWS_SHOWN: Final = 12


_FLEET: Final = (
    {
        "field": "order",
        "headerName": "Place",
        "valueFormatter": {"function": "params.data.place"},
        "width": 76,
        "filter": False,
    },
    _grids.link("machine", "Machine", "weeks_href", width=112),
    {"field": "severity", "headerName": "Asks for", "width": 112, "cellClassRules": _grids.LEVEL_CLASSES},
    {
        "field": "leads",
        "headerName": "Because of",
        "width": 250,
        "flex": 2,
        "minWidth": 240,
        "tooltipField": "leads",
    },
    {
        "field": "counted",
        "headerName": "In the last weeks",
        "width": 192,
        "filter": False,
        "tooltipField": "counted",
    },
    {"field": "verdict", "headerName": "Against its own past", "width": 172},
    {
        "field": "shrunk",
        "headerName": "Against its sisters",
        "headerTooltip": "times their rate, with its 95 % limits",
        "valueFormatter": {"function": "params.data.sisters"},
        "width": 165,
        "filter": False,
    },
    _grids.link(
        "life",
        "Life used",
        "life_href",
        valueFormatter={"function": "params.data.life_text"},
        headerTooltip="hours of full load used of those that its group lasts, and when they end at this rate",
        filter=False,
        width=128,
    ),
    {
        "field": "active",
        "headerName": "Patterns",
        "headerTooltip": "patterns that it shows in the last weeks",
        "filter": False,
        "width": 88,
        "type": "rightAligned",
    },
    {
        "field": "weeks",
        "headerName": "Weeks",
        "headerTooltip": "weeks with log",
        "filter": False,
        "width": 78,
        "type": "rightAligned",
    },
    _grids.link("last", "Latest review", "review_href", width=116, filter=False),
)
"""Columns of the table of machines."""


def fleet(grid_id: str, rows: Sequence[dict[str, Any]]) -> Any:
    """The machines, the one that needs a person first at the top."""
    return _grids.grid(
        grid_id,
        list(_FLEET),
        rows,
        filtered=True,
        getRowId="params.data.machine",
        style=_grids.height(len(rows), _MOST_ROWS_SHOWN),
    )


def numbers(grid_id: str) -> Any:
    """The numbers of the chart; filled by a callback."""
    columns = [
        _grids.link("machine", "Machine", "href", width=100, pinned="left"),
        {"field": "count", "headerName": "Times", "width": 72, "type": "rightAligned"},
        {"field": "amount", "headerName": "Use", "width": 78, **_grids.NUMBER},
        {"field": "rate", "headerName": "Rate", "width": 72, **_grids.NUMBER},
        {
            "field": "limits",
            "headerName": "95 % limits",
            "headerTooltip": "where chance alone puts a machine of this use",
            "width": 112,
            "sortable": False,
        },
        {"field": "where", "headerName": "Where", "flex": 1, "minWidth": 128},
        {
            "field": "bursts",
            "headerName": "Bursts",
            "headerTooltip": "its occurrences come in bursts: they vary by so much more than single ones would, which "
            "widens the limits",
            "valueFormatter": {"function": "params.value == null ? '' : '✱ × ' + d3.format('.2~g')(params.value)"},
            "width": 96,
        },
    ]
    return _grids.grid(grid_id, columns, [], style={"height": 380})
