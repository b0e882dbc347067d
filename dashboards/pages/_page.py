"""What a page is, and how addresses are written and read."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final
from urllib.parse import parse_qsl, urlencode

from dash import Dash

from dashboards.data import Source

Query = Mapping[str, str]
"""What an address says after its question mark."""

SCREEN: Final = "screen"
"""Key that the frame adds to a query: what the reader's screen is like (see `screen_of`)."""
ADDRESS: Final = "address"
"""Id of the address in the shell; pages listen to its `search`."""
THEME: Final = "theme"
"""Id of the store of the shell that holds 'light' or 'dark'."""


BY_WEEK: Final = "Weeks begin on Monday at 00:00 in the zone of each machine's log."
"""What a page that goes by weeks says of its times."""


@dataclass(frozen=True)
class Built:
    """A page as it is shown."""

    title: str
    body: Any
    times: str = ""
    """In which zone its times are; stands at the foot of a printed page."""


@dataclass(frozen=True)
class Page:
    """One page."""

    path: str
    name: str
    """In the navigation."""
    identity: tuple[str, ...]
    """Keys of the address that make it another page; the others are state within it, which its callbacks follow."""
    carries: tuple[str, ...]
    """Keys that its link in the navigation takes along."""
    fits: Callable[[Source], bool]
    """Whether there is such a page for what is shown."""
    build: Callable[[Source, Query], Built]
    """The page for an address; Fault where there is none."""
    register: Callable[[Dash, Source], None]
    """Ties its callbacks to the application, once, whether it is shown or not."""


def address(path: str, **query: str | None) -> str:
    """An address within the pages; what is None or empty is left out."""
    known = {key: value for key, value in query.items() if value}
    return f"{path}?{urlencode(known)}" if known else path


def read_query(search: str | None) -> dict[str, str]:
    """What the part of an address after its question mark says."""
    return dict(parse_qsl((search or "").removeprefix("?")))


@dataclass(frozen=True)
class Screen:
    """What the first charts of a page are drawn for."""

    width: int
    """Room for a chart that takes the whole page [px]."""
    theme: str


def screen_of(query: Query) -> Screen | None:
    """The reader's screen, as the browser told it ('1372 light'); None where it did not."""
    width, _, theme = query.get(SCREEN, "").partition(" ")
    return Screen(int(width), theme) if width.isdecimal() and int(width) else None


def visitor() -> str:
    """Who asks: the guard has found out before the request came here."""
    from flask import g

    return str(g.visit.visitor)
