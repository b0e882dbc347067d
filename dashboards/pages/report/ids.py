"""The ids of the page's parts."""

from __future__ import annotations

from typing import Final

KEY: Final = "report-key"
"""Store: machine or dump of the page."""
FROM: Final = "report-from"
TO: Final = "report-to"
SECTIONS: Final = "report-sections"
LANGUAGE: Final = "report-language"
PAPER: Final = "report-paper"
CHOICES: Final = (FROM, TO, SECTIONS, LANGUAGE, PAPER)
"""What the reader chooses, in the order of layout.values."""
LINKS: Final = "report-links"
