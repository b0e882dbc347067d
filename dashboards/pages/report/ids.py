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
LINKS: Final = "report-links"
