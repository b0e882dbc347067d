"""The ids of the page's parts."""

from __future__ import annotations

from typing import Final

THEME: Final = "theme"
SWITCH: Final = "theme-switch"
WIDTH: Final = "lanes-width"
WINDOW: Final = "lanes-window"
DRAGGED: Final = "lanes-dragged"
PICKED: Final = "picked"
CHOSEN: Final = "chosen"
FINDINGS: Final = "findings"
OCCURRENCES: Final = "occurrences"
LIST: Final = "occurrence-list"
CHOSEN_PANEL: Final = "chosen-panel"
CHOSEN_TITLE: Final = "chosen-title"
EVIDENCE: Final = "evidence"
PREVIOUS: Final = "previous-occurrence"
NEXT: Final = "next-occurrence"
NUMBER: Final = "occurrence-number"
SHOW: Final = "show-occurrence"
LANES: Final = "lanes"
LANES_READING: Final = "lanes-reading"
ZOOM_IN, ZOOM_OUT, EARLIER, LATER, WHOLE = "zoom-in", "zoom-out", "earlier", "later", "whole-log"
MOVES: Final = (ZOOM_IN, ZOOM_OUT, EARLIER, LATER, WHOLE)
MOTION: Final = "motion"
MOTION_BUTTON: Final = "motion-"
"""Followed by the motion's name."""
STARTS, STARTS_READING = "starts", "starts-reading"
CYCLIC, CYCLIC_READING = "cyclic", "cyclic-reading"
