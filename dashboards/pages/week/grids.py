"""The two lists of the week page: findings, and the occurrences of one of them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from dashboards.pages import _grids

_MOST_ROWS_SHOWN: Final = 8


def findings(grid_id: str, rows: Sequence[dict[str, Any]], zone: str, **more: Any) -> Any:
    """The findings, the most serious first; a row is chosen by click or by space bar."""
    columns = [
        {
            "field": "rank",
            "headerName": "Asks for",
            "valueFormatter": {"function": "params.data.severity"},
            "cellClassRules": _grids.LEVEL_CLASSES,
            "width": 112,
            "pinned": "left",
        },
        {"field": "pattern", "headerName": "Finding", "width": 225, "tooltipField": "summary"},
        {"field": "motion", "headerName": "Motion", "width": 82},
        {"field": "count", "headerName": "Times", "width": 70, "type": "rightAligned"},
        {"field": "certainty", "headerName": "How sure", "width": 165},
        {
            "field": "rate",
            "headerName": "Per hour (95 % limits)",
            "valueFormatter": {"function": "params.data.rate_text"},
            "width": 185,
        },
        {"field": "first", "headerName": f"First ({zone})", "width": 190},
        {"field": "last", "headerName": f"Last ({zone})", "width": 190},
        {"field": "signal", "headerName": "Signal", "width": 150},
        {"field": "summary", "headerName": "In words", "width": 620, "tooltipField": "summary"},
    ]
    style = _grids.height(len(rows), _MOST_ROWS_SHOWN)
    return _grids.choosing_grid(grid_id, columns, rows, getRowId="params.data.key", style=style, **more)


def occurrences(grid_id: str, rows: Sequence[dict[str, Any]], zone: str, **more: Any) -> Any:
    """The occurrences of the chosen finding."""
    columns = [
        {"field": "number", "headerName": "No.", "width": 64, "pinned": "left"},
        {"field": "start", "headerName": f"From ({zone})", "width": 195},
        {"field": "lasts", "headerName": "Lasts", "width": 80, "sortable": False},
        {"field": "measured", "headerName": "Measured", "width": 100, "sortable": False},
        {"field": "limit", "headerName": "Limit", "width": 90, "sortable": False},
        {"field": "certainty", "headerName": "How sure", "width": 95},
        {"field": "direction", "headerName": "Direction", "width": 95},
        {"field": "lines", "headerName": "Lines in the source", "width": 220, "sortable": False},
        {"field": "end", "headerName": f"To ({zone})", "width": 195},
    ]
    return _grids.choosing_grid(grid_id, columns, rows, getRowId="params.data.id", style={"height": 306}, **more)
