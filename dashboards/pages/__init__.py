"""The pages, one folder for each task: layout and thin callbacks. A new page is a folder and a line in PAGES."""

from __future__ import annotations

from typing import Final

from dashboards.pages import bring, live, machines, repair, report, trends, week
from dashboards.pages._page import Page

PAGES: Final[tuple[Page, ...]] = (
    machines.PAGE,
    live.PAGE,
    trends.PAGE,
    week.PAGE,
    repair.PAGE,
    report.PAGE,
    bring.PAGE,
)
"""In the order of the navigation."""

__all__ = ["PAGES", "Page"]
