"""How lists look and behave on all pages."""

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
LEVELS: Final = ("out_of_service", "repair", "watch", "note", "calm")
LEVEL_CLASSES: Final = {level: f"params.data.level == '{level}'" for level in LEVELS}
"""How a cell shows what its row asks for."""
ROW_PX: Final = 34


def grid(
    grid_id: str, columns: list[dict[str, Any]], rows: Sequence[dict[str, Any]], *, filtered: bool = False, **more: Any
) -> Any:
    """A list with the common look, of which no row can be chosen; filtered: each column can be."""
    return _grid(grid_id, columns, rows, {}, {"filter": filtered}, **more)


def choosing_grid(grid_id: str, columns: list[dict[str, Any]], rows: Sequence[dict[str, Any]], **more: Any) -> Any:
    """A list of which one row is chosen by click or by space bar."""
    choice = {"rowSelection": {"mode": "singleRow", "checkboxes": False, "enableClickSelection": True}}
    return _grid(grid_id, columns, rows, choice, {}, **more)


def _grid(
    grid_id: str,
    columns: list[dict[str, Any]],
    rows: Sequence[dict[str, Any]],
    options: dict[str, Any],
    defaults: dict[str, Any],
    **more: Any,
) -> Any:
    options = {
        "theme": _LOOK,
        "enableCellTextSelection": True,
        "rowHeight": ROW_PX,
        "headerHeight": ROW_PX,
        "animateRows": False,
        **options,
    }
    return dag.AgGrid(
        id=grid_id,
        columnDefs=columns,
        rowData=list(rows),
        defaultColDef={"resizable": True, "sortable": True, "suppressMovable": True, **defaults},
        dashGridOptions=options,
        **more,
    )


NUMBER: Final = {
    "type": "rightAligned",
    "valueFormatter": {
        "function": "params.value == null ? '–' : "
        "d3.format(Math.abs(params.value) >= 100 ? ',.0f' : '.3~g')(params.value)"
    },
}
"""A column of numbers: three digits, whole from a hundred on, a dash where there is none."""


def height(rows: int, most: int) -> dict[str, int]:
    """Style of a list that shows up to `most` rows without scrolling."""
    return {"height": ROW_PX * (min(max(rows, 1), most) + 1) + 20}


def link(field: str, name: str, to: str, **more: Any) -> dict[str, Any]:
    """A column whose texts lead to the address in the field `to`."""
    return {"field": field, "headerName": name, "cellRenderer": "InnerLink", "cellRendererParams": {"to": to}, **more}
