"""Colours and the look that all figures share. Grey is ordinary; red needs a person; blue is what was chosen."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Final

import plotly.graph_objects as go


@dataclass(frozen=True)
class Palette:
    """One set of colours, light or dark."""

    ink: str
    quiet: str
    rule: str
    ground: str
    off: str
    partly: str
    on: str
    alert_partly: str
    alert: str
    chosen: str
    chosen_fill: str


PALETTES: Final = MappingProxyType(
    {
        "light": Palette(
            ink="#1d2429",
            quiet="#4d5860",
            rule="#dfe3e0",
            ground="#ffffff",
            off="#c3cac6",
            partly="#8a969d",
            on="#3b474f",
            alert_partly="#d6836f",
            alert="#a82c17",
            chosen="#1f4fa3",
            chosen_fill="rgba(31, 79, 163, 0.13)",
        ),
        "dark": Palette(
            ink="#e6ebed",
            quiet="#aab5bb",
            rule="#323b41",
            ground="#1b2125",
            off="#57656e",
            partly="#7f8e97",
            on="#c3ced4",
            alert_partly="#b8614d",
            alert="#ff8b70",
            chosen="#8db6ff",
            chosen_fill="rgba(141, 182, 255, 0.20)",
        ),
    }
)

CLEAR: Final = "rgba(0, 0, 0, 0)"
FONT: Final = "system-ui, 'Segoe UI', 'DejaVu Sans', Arial, sans-serif"
NARROW: Final = 620
"""Width [px] below which a figure is drawn for a telephone."""
NOTHING: Final = "nothing"

_TICKS: Final = (
    {"dtickrange": [None, 1_000], "value": "%H:%M:%S.%3f\n%a %-d %b"},
    {"dtickrange": [1_000, 60_000], "value": "%H:%M:%S\n%a %-d %b"},
    {"dtickrange": [60_000, 86_400_000], "value": "%H:%M\n%a %-d %b"},
    {"dtickrange": [86_400_000, None], "value": "%a %-d %b"},
)


def plain(text: str) -> str:
    """A text that a chart shows as it is: charts take some marks for formatting."""
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def palette(theme: str | None) -> Palette:
    """The palette of a theme; light where it is not known yet."""
    return PALETTES["dark" if theme == "dark" else "light"]


def time_axis(colours: Palette, window: tuple[float, float], clock: str, **more: Any) -> dict[str, Any]:
    """The time axis of a figure: twenty-four hours, weekday and day, the zone in its title."""
    return {
        "type": "date",
        "range": list(window),
        "tickformatstops": list(_TICKS),
        "title": {"text": f"time ({clock})", "standoff": 8, "font": {"size": 12}},
        "gridcolor": colours.rule,
        "linecolor": colours.rule,
        "zeroline": False,
        "ticks": "outside",
        "tickcolor": colours.rule,
        "tickangle": 0,
        "ticklabeloverflow": "hide past div",
        **more,
    }


def look(colours: Palette, height: int, margin: dict[str, int]) -> dict[str, Any]:
    """The common look, as properties of a layout."""
    return {
        "template": None,
        "height": height,
        "margin": margin,
        "font": {"family": FONT, "size": 12, "color": colours.ink},
        "paper_bgcolor": CLEAR,
        "plot_bgcolor": CLEAR,
        "hoverlabel": {"bgcolor": colours.ground, "bordercolor": colours.quiet, "font": {"color": colours.ink}},
        "hovermode": "closest",
        "showlegend": False,
    }


def dressed(figure: go.Figure, colours: Palette, height: int, margin: dict[str, int]) -> go.Figure:
    """The figure with the common look."""
    figure.update_layout(**look(colours, height, margin))
    return figure


def hatch(colours: Palette) -> dict[str, Any]:
    """How unknown time is drawn: hatched, never filled."""
    return {
        "color": CLEAR,
        "line": {"width": 0},
        "pattern": {"shape": "/", "size": 6, "solidity": 0.25, "fgcolor": colours.quiet, "bgcolor": CLEAR},
    }
