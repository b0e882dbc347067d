"""The two lists of the week page: findings, and the occurrences of one of them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import dash_ag_grid as dag

_LOOK: Final = {
    "function": "themeQuartz.withParams({"
    "fontFamily: 'inherit', fontSize: 13, headerFontSize: 12, spacing: 5, wrapperBorderRadius: 4,"
    "backgroundColor: 'var(--surface)', foregroundColor: 'var(--ink)', textColor: 'var(--ink)',"
    "headerBackgroundColor: 'var(--page)', headerTextColor: 'var(--quiet)', borderColor: 'var(--rule)',"
    "selectedRowBackgroundColor: 'var(--chosen-fill)', rowHoverColor: 'var(--page)',"
    "accentColor: 'var(--chosen)', chromeBackgroundColor: 'var(--page)'})"
}
_LEVELS: Final = ("out_of_service", "repair", "watch", "note")
_MOST_ROWS_SHOWN: Final = 8
_ROW_PX: Final = 34


def _grid(grid_id: str, columns: list[dict[str, Any]], rows: Sequence[dict[str, Any]], **more: Any) -> Any:
    options = {
        "theme": _LOOK,
        "rowSelection": {"mode": "singleRow", "checkboxes": False, "enableClickSelection": True},
        "enableCellTextSelection": True,
        "rowHeight": _ROW_PX,
        "headerHeight": _ROW_PX,
        "animateRows": False,
    }
    return dag.AgGrid(
        id=grid_id,
        columnDefs=columns,
        rowData=list(rows),
        defaultColDef={"resizable": True, "sortable": True, "suppressMovable": True},
        dashGridOptions=options,
        **more,
    )


def findings(grid_id: str, rows: Sequence[dict[str, Any]], zone: str) -> Any:
    """The findings, the most serious first; a row is chosen by click or by space bar."""
    columns = [
        {
            "field": "rank",
            "headerName": "Asks for",
            "valueFormatter": {"function": "params.data.severity"},
            "cellClassRules": {level: f"params.data.level == '{level}'" for level in _LEVELS},
            "width": 140,
            "pinned": "left",
        },
        {"field": "pattern", "headerName": "Finding", "width": 265, "tooltipField": "summary"},
        {"field": "motion", "headerName": "Motion", "width": 90},
        {"field": "count", "headerName": "Times", "width": 85, "type": "rightAligned"},
        {"field": "certainty", "headerName": "How sure", "width": 170},
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
    height = _ROW_PX * (min(len(rows), _MOST_ROWS_SHOWN) + 1) + 20
    return _grid(grid_id, columns, rows, getRowId="params.data.key", style={"height": height})


def occurrences(grid_id: str, zone: str) -> Any:
    """The occurrences of the chosen finding."""
    columns = [
        {"field": "number", "headerName": "No.", "width": 72, "pinned": "left"},
        {"field": "start", "headerName": f"From ({zone})", "width": 195},
        {"field": "lasts", "headerName": "Lasts", "width": 90, "sortable": False},
        {"field": "measured", "headerName": "Measured", "width": 170, "sortable": False},
        {"field": "limit", "headerName": "Limit", "width": 150, "sortable": False},
        {"field": "certainty", "headerName": "How sure", "width": 95},
        {"field": "direction", "headerName": "Direction", "width": 95},
        {"field": "lines", "headerName": "Lines in the source", "width": 220, "sortable": False},
        {"field": "end", "headerName": f"To ({zone})", "width": 195},
    ]
    return _grid(grid_id, columns, [], getRowId="params.data.id", style={"height": 306})
