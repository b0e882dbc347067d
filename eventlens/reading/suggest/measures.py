"""Numbers: the load is the one that rises in one direction of the hoist and falls in the other."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from eventlens.reading.suggest.bits import Bit, Track
from eventlens.reading.suggest.parts import Group, Part

SETTLE_US: Final = 1_000_000
"""A number may follow the run by so much."""
FEWEST: Final = 20
LIGHTEST_KG: Final = 160.0
"""Below this highest value a number may be per cent or tonnes."""
_NONE: Final = np.array([], np.int64)


def find_load(groups: Sequence[Group], tracks: Sequence[Track]) -> list[Part]:
    """The load among the numbers; adds what it says on the directions to its group."""
    parts = []
    for track in tracks:
        known = ~np.isnan(track.value)
        time, value = track.time[known], track.value[known]
        if len(np.unique(value)) < 5 or len(value) < FEWEST:
            continue
        best = None
        for group in (group for group in groups if group.paired):
            fit = _fit(group, time, value)
            if fit is not None and (best is None or abs(fit[0]) > abs(best[0])):
                best = (*fit, group)
        if best is None:
            continue
        tilt, rises, falls, group = best
        up, down = ("x", "y") if tilt > 0 else ("y", "x")
        higher, lower = group.run(up), group.run(down)
        assert higher is not None
        assert lower is not None
        group.first_odds *= 100.0 if tilt > 0 else 1 / 100.0
        group.why_first = (
            f"'{track.name}' rises in runs of '{higher.name}' ({rises} x) and falls in those of '{lower.name}'"
            f" ({falls} x), as the load does"
        )
        group.motion = {"hoist": 50.0}
        group.why_motion = f"the load '{track.name}' changes with it"
        if float(value.max()) > LIGHTEST_KG:
            empty = Bit(track.name, _NONE, _NONE, _NONE.astype(bool), _NONE.astype(bool), 0)
            reason = f"a number to {value.max():g} that rises in runs of '{higher.name}' and falls in '{lower.name}'"
            parts.append(Part(empty, "load.kg", 0.9, reason))
    return parts if len(parts) == 1 else []


def _fit(group: Group, time: np.ndarray, value: np.ndarray) -> tuple[float, int, int] | None:
    """Tilt (-1 to 1; above 0: the number rises in x and falls in y) with counts, or None: no load of this motion."""
    step = np.diff(value)
    when = time[1:]
    near = {way: _on(group, way, when) for way in ("x", "y")}
    only = {"x": near["x"] & ~near["y"], "y": near["y"] & ~near["x"]}
    if only["x"].sum() < 5 or only["y"].sum() < 5 or (near["x"] | near["y"]).mean() < 0.8:
        return None
    net = {way: float(step[only[way]].sum() / np.abs(step[only[way]]).sum()) for way in only}
    if net["x"] * net["y"] >= 0 or min(abs(net["x"]), abs(net["y"])) < 0.25:
        return None
    up, down = ("x", "y") if net["x"] > 0 else ("y", "x")
    tilt = (abs(net["x"]) + abs(net["y"])) / 2
    return (tilt if up == "x" else -tilt), int((step[only[up]] > 0).sum()), int((step[only[down]] < 0).sum())


def _on(group: Group, way: str, when: np.ndarray) -> np.ndarray:
    run = group.run(way)
    assert run is not None
    index = np.searchsorted(run.start, when, side="right") - 1
    on = index >= 0
    on[on] = run.end[index[on]] + SETTLE_US >= when[on]
    return on
