"""The supply: its own events near what went wrong, and restarts of the controller."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import polars as pl

from eventlens.causes.complaints import Complaint
from eventlens.causes.signs import ABSENT, Sign, lines, share_factor
from eventlens.causes.subject import inside

NEAR_S: Final = 0.5
"""A supply event so near is the same event [s] (judgement)."""
RESTART_S: Final = 60.0
"""A restart so soon after belongs to it [s] (judgement)."""
CHANCE: Final = 0.02


def signs(complaint: Complaint) -> Iterator[Sign]:
    """What the log says of the supply at the complaint's moments."""
    subject, moments = complaint.subject, complaint.moments
    if moments.is_empty():
        return
    if "supply.control" in subject.carried:
        gone = subject.off("supply.control").filter("start_seen")
        yield _near(complaint, "supply_event", gone, "the control supply goes", ABSENT / 3)
    if "supply.phase_fault" in subject.carried:
        fault = subject.on("supply.phase_fault").filter("start_seen")
        yield _near(complaint, "phase_event", fault, "a phase fault is reported", ABSENT)
    restarts = subject.log.holes.filter(pl.col("why") == "restart").select("start", "end")
    if restarts.height:
        hits = int(inside(moments, restarts, RESTART_S, RESTART_S).sum())
        text = f"the controller restarts within {RESTART_S:g} s of {hits} of {moments.height}"
        yield Sign("controller_restart", share_factor(hits, moments.height, CHANCE, 0.3), text)


def _near(complaint: Complaint, key: str, events: pl.DataFrame, says: str, absent: float) -> Sign:
    moments, step = complaint.moments, 2 * complaint.subject.log.step_s
    hits = int(inside(moments, events.select("start", "end"), NEAR_S + step, NEAR_S + step).sum())
    text = f"{says} with {hits} of {moments.height}"
    factor = share_factor(hits, moments.height, CHANCE, 0.8) if hits else absent
    return Sign(key, factor, text, lines(events["start_row"]))
