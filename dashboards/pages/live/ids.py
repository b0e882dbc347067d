"""The ids of the page's parts."""

from __future__ import annotations

from typing import Final

KEY: Final = "live-key"
"""Store: machine and record of the address."""
TICK: Final = "live-tick"
ASKED: Final = "live-asked"
"""Store: changes whenever the page asks; the browser's part leaves it alone while nobody looks."""
SHOWN: Final = "live-shown"
"""Store: what is shown, so that an answer holds only what is new."""
NOW: Final = "live-now"
HEARD: Final = "live-heard"
"""What is new, for those who hear the page."""
TOLD: Final = "live-told"
CHART, READING = "live-chart", "live-reading"
NOTES: Final = "live-notes"
AGAIN: Final = "live-again"
"""Button: look again, after the follower has ended."""
LOST: Final = "live-lost"
"""Said where the server of the pages does not answer any more; the browser's part shows it."""

EVERYBODY: Final = "live-everybody"
"""The list of all followers, on the page without a machine."""
EVERYBODY_TICK: Final = "live-everybody-tick"
EVERYBODY_ASKED: Final = "live-everybody-asked"
EVERYBODY_SHOWN: Final = "live-everybody-shown"
