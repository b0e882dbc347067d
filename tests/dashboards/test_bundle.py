"""Guards the chart library that pages load: the small one, of the release whose figures Python writes."""

from __future__ import annotations

import re
from pathlib import Path

import plotly.graph_objects as go
from plotly.basedatatypes import BaseTraceType as Trace
from plotly.offline import get_plotlyjs_version

import dashboards

HERE = Path(dashboards.__file__).parent
BUNDLE = (HERE / "assets" / "plotly-cartesian.min.js").read_text("utf-8")
KINDS = {name.lower() for name in go.__all__ if isinstance(kind := getattr(go, name), type) and issubclass(kind, Trace)}
"""Kinds of traces."""


def test_it_is_the_release_of_the_library_in_python() -> None:
    """Another one may not know what the figures say: renew the file (DEVELOPERS.md)."""
    assert f"v{get_plotlyjs_version()}\n" in BUNDLE[:200]
    assert "MIT license" in BUNDLE[:300]


def test_every_kind_of_trace_that_a_figure_draws_is_in_it() -> None:
    sources = "".join(path.read_text("utf-8") for path in (HERE / "figures").glob("*.py"))
    drawn = set(re.findall(r"\.add_(\w+)\(", sources)) & KINDS
    assert {"scatter", "bar", "heatmap"} <= drawn
    for kind in drawn:
        assert f'moduleType:"trace",name:"{kind}"' in BUNDLE
    assert 'moduleType:"trace",name:"scattergl"' not in BUNDLE, "nearest neighbour: a kind that is left out"
