"""The ids of the page's parts."""

from __future__ import annotations

from typing import Final

SERIES: Final = "series"
BASES: Final = "weekly-bases"
TITLE: Final = "weekly-title"
WEEKLY, WEEKLY_READING = "weekly", "weekly-reading"
NUMBERS: Final = "weekly-numbers"
TIMES: Final = "times-over-weeks"
LIFE: Final = "life-over-weeks"
WORK: Final = "work-over-weeks"
WEEKS: Final = "weeks"
SAVE: Final = "weeks-save"
