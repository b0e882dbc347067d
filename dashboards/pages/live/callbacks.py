"""What an open page is answered: only what is new since it was shown."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from dash import no_update

from dashboards.data.live import Live
from dashboards.figures import arrivals
from dashboards.figures.theme import palette
from dashboards.following import ENDED, LiveView
from dashboards.pages.live import parts


def state(view: LiveView, theme: str | None) -> dict[str, Any]:
    """What is shown, in a few words: what is the same in two answers need not be sent twice."""
    return {
        "how": view.follower.how,
        "level": view.follower.level,
        "number": max((one.latest for one in view.told), default=0),
        "links": sum(bool(one.href) for one in view.told),
        "notes": len(view.notes) + view.earlier_notes,
        "moment": view.moment,
        "theme": theme or "light",
        "ends": ends(view),
    }


def ends(view: LiveView) -> bool:
    """Whether the page asks no more by itself: somebody has ended it."""
    return view.follower.how == ENDED


def answer(live: Live, key: Mapping[str, str], before: Mapping[str, Any], theme: str | None) -> tuple[Any, ...]:
    """How it is now; what is heard; the findings; chart and its sentence; notes; what is
    shown; whether to ask no more, and whether the button that asks again is hidden.
    """
    view = live.view(key["machine"], key["record"])
    now = state(view, theme)

    def same(*names: str) -> bool:
        return all(now[name] == before.get(name) for name in names)

    news = "" if same("number") else parts.heard(view, int(before.get("number", 0)))
    if not same("how"):
        news = f"{news} {view.follower.head}. {view.follower.more}".strip()
    found = no_update if same("number", "links") else parts.told(view)
    drawn: tuple[Any, Any] = (no_update, no_update)
    if not same("moment", "number", "theme"):
        drawn = arrivals.figure(view.arrivals, palette(theme)), view.arrivals.reading
    return (
        parts.now(view),
        news or no_update,
        found,
        *drawn,
        no_update if same("notes") else parts.notes(view),
        now,
        now["ends"],
        not now["ends"],
    )


def everybody(live: Live, before: Any) -> tuple[Any, Any]:
    """The list of all who follow, where it says something else than before."""
    known = live.followers()
    now = [[one.key, one.head, one.more] for one in known]
    return (no_update, no_update) if now == before else (parts.everybody(known, live.where), now)
