"""What the page consists of, from top to bottom."""

from __future__ import annotations

from typing import Any, Final

from dash import dcc, html

from dashboards.data.live import Live
from dashboards.figures import arrivals
from dashboards.figures.theme import palette
from dashboards.following import FOLLOWS, Follower, LiveView
from dashboards.pages import _parts
from dashboards.pages._fixed import Fixed
from dashboards.pages._page import address
from dashboards.pages.live import callbacks, ids, parts

EVERY_MS: Final = 2000
"""So often an open page asks while somebody follows."""
SELDOM_MS: Final = 10_000
"""And where nobody does: somebody may begin again."""


def one(live: Live, view: LiveView, theme: str | None) -> Any:
    """The page of one record."""
    follower = view.follower
    others = [other for other in live.followers(follower.machine) if other.key != follower.key]
    shown = callbacks.state(view, theme)
    return html.Div(
        [
            dcc.Store(id=ids.KEY, data={"machine": follower.machine, "record": follower.key}),
            dcc.Store(id=ids.ASKED),
            dcc.Store(id=ids.SHOWN, data=shown),
            dcc.Interval(id=ids.TICK, interval=EVERY_MS, disabled=callbacks.ends(view)),
            html.Div(
                [_parts.heading(html.Strong(follower.machine), ", as it runs"), _links(live, follower, others, view)]
            ),
            html.P(
                "The server of these pages does not answer: what stands here may be old.",
                id=ids.LOST,
                className="fault",
                role="alert",
                hidden=True,
            ),
            html.Div("", id=ids.HEARD, role="status", className="heard", **_parts.aria(live="polite")),
            html.Div([_now(view), _parts.cautions(live.cautions)], className="pair uneven"),
            _parts.panel(
                "When lines came, and findings became certain",
                _parts.chart(
                    ids.CHART,
                    ids.READING,
                    "Lines that came in each minute of the last two hours, with findings",
                    arrivals.figure(view.arrivals, palette(theme)),
                    view.arrivals.reading,
                ),
            ),
            _parts.panel(
                "Findings as they became certain, the latest first",
                Fixed(*parts.told(view), part_id=ids.TOLD),
            ),
            _parts.panel("What happened to the source", html.Div(parts.notes(view), id=ids.NOTES)),
        ]
    )


def _now(view: LiveView) -> Any:
    again = html.Button("Look again", id=ids.AGAIN, type="button", hidden=not callbacks.ends(view))
    return _parts.panel("How it is now", html.Div(parts.now(view), id=ids.NOW), again)


def _links(live: Live, follower: Follower, others: list[Follower], view: LiveView) -> Any:
    """The review of the record so far, and who else is or was followed."""
    links = [html.A("Review of the record so far", href=view.review)] if view.review else []
    links += [
        html.A(
            f"{other.source}, {'followed' if other.how == FOLLOWS else 'not followed any more'}",
            href=address(parts.PATH, machine=other.machine, record=other.key),
        )
        for other in others
    ]
    if len({one.machine for one in live.followers()}) > 1:
        links.append(html.A("Everybody who follows", href=parts.PATH))
    return html.Nav(links, className="choices", **_parts.aria(label="More of this machine")) if links else None


def everybody(live: Live) -> Any:
    """The page without a machine: who follows which."""
    return html.Div(
        [
            dcc.Store(id=ids.EVERYBODY_ASKED),
            dcc.Store(id=ids.EVERYBODY_SHOWN),
            dcc.Interval(id=ids.EVERYBODY_TICK, interval=SELDOM_MS),
            _parts.heading("Machines as they run"),
            html.Div(parts.everybody(live.followers(), live.where), id=ids.EVERYBODY),
            _parts.cautions(live.cautions),
        ]
    )
