"""The ids of the page's parts."""

from __future__ import annotations

from typing import Final

FLEET: Final = "fleet"
FILTER: Final = "fleet-filter"
SAVE: Final = "fleet-save"
CHOICES: Final = "funnel-choices"
FUNNEL, FUNNEL_READING = "funnel", "funnel-reading"
NUMBERS: Final = "funnel-numbers"
