"""The table in which signals are stated."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dashboards.data.dump import NOTHING, options
from dashboards.pages import _grids

__all__ = ["NOTHING", "names"]


def names(grid_id: str, rows: Sequence[dict[str, Any]]) -> Any:
    """The names of a dump: a signal is chosen from a list, a row is chosen to see what it did."""
    columns = [
        {"field": "name", "headerName": "In the dump", "width": 170, "pinned": "left"},
        {
            "field": "signal",
            "headerName": "Stands for",
            "width": 230,
            "editable": True,
            "singleClickEdit": True,
            "cellEditor": "agSelectCellEditor",
            "cellEditorParams": {"values": options()},
        },
        {
            "field": "invert",
            "headerName": "1 means off",
            "width": 110,
            "editable": True,
            "cellRenderer": "agCheckboxCellRenderer",
            "cellEditor": "agCheckboxCellEditor",
        },
        {"field": "changes", "headerName": "Changes", "width": 95, "type": "rightAligned"},
        {"field": "values", "headerName": "Values", "width": 110},
        {"field": "why", "headerName": "Why", "width": 700, "tooltipField": "why"},
    ]
    return _grids.choosing_grid(grid_id, columns, rows, getRowId="params.data.name", style={"height": 420})
