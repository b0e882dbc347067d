"""What happens when the reader does something: plain functions from the address to what the page shows."""

from __future__ import annotations

from typing import Any, Final

import plotly.graph_objects as go

from dashboards.data import History
from dashboards.figures import funnel
from dashboards.figures.theme import palette
from dashboards.pages import _parts
from dashboards.pages._page import Query, address
from dashboards.pages.machines.layout import COMPARE, PATH

_WHERE: Final = {2: "▲ above both", 1: "▲ above the inner", 0: "within", -1: "▼ below the inner", -2: "▼ below both"}


def draw_funnel(history: History, query: Query, theme: str | None) -> tuple[Any, go.Figure, str, list[dict[str, Any]]]:
    """The choice of patterns, the chart of the chosen one, its sentence and its numbers."""
    known = history.funnels()
    key = query.get(COMPARE, "")
    key = key if key in known else next(iter(known))
    view = history.funnel(key)
    hrefs = {name: address(PATH, **{COMPARE: name}) for name in known}
    rows = [
        {
            "machine": row["machine"],
            "href": address("/weeks", machine=row["machine"], pattern=key),
            "count": row["count"],
            "amount": row["amount"],
            "rate": row["rate"],
            "limits": f"{row['low']:.3g} to {row['high']:.3g}",
            "where": _WHERE[row["beyond"]],
            "bursts": row["bursts"] if row["bursts"] > 1 else None,
        }
        for row in view.frame.iter_rows(named=True)
    ]
    reading = f"{view.title[0].upper()}{view.title[1:]}, {view.scale.unit}: {view.reading}"
    chosen = _parts.choices(known, key, hrefs, "Pattern in which the machines are held side by side")
    return chosen, funnel.figure(view, palette(theme)), reading, rows
