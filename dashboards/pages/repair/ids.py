"""The ids of the page's parts."""

from __future__ import annotations

from typing import Final

KEY: Final = "repair-key"
"""Store: what the page compares, as the address says it."""
AT: Final = "repair-at"
UNTIL: Final = "repair-until"
ASK: Final = "repair-ask"
STOP: Final = "repair-stop"
AGAIN: Final = "repair-again"
RESULT: Final = "repair-result"
TICK: Final = "repair-tick"
SHOWN: Final = "repair-shown"
"""Store: set when the result is there, so that its charts are drawn."""
RATIOS: Final = "repair-ratios"
TIMES: Final = "repair-times"
FIRST: Final = "repair-first"
SECOND: Final = "repair-second"
MOVED: Final = "repair-moved"
EXCHANGE: Final = "repair-exchange"
"""The choice of two places, which is there once the result is."""
