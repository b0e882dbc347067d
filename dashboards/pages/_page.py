"""What a page is, and how addresses are written and read."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
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
    density: float = 1.0
    """Points of the screen for each pixel of the page where these are fewer; else 1."""


def screen_of(query: Query) -> Screen | None:
    """The reader's screen, as the browser told it ('1372 light 1'); None where it did not."""
    told = re.fullmatch(r"(\d{1,6}) (light|dark) (\d(?:\.\d+)?)", query.get(SCREEN, ""), re.ASCII)
    return screen([int(told[1]), float(told[3])], told[2]) if told else None


def screen(told: Sequence[float] | None, theme: str | None) -> Screen | None:
    """The screen of a width and a density that the browser has measured; None before it has."""
    if not told or not told[0]:
        return None
    return Screen(int(told[0]), theme or "light", min(max(float(told[1]), 0.1), 1.0))


def visitor() -> str:
    """Who asks: the guard has found out before the request came here."""
    from flask import g

    return str(g.visit.visitor)
