"""What has changed, as a list of sentences."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from dash import html

from dashboards import words
from dashboards.pages import _parts
from dashboards.pages._page import address
from dashboards.series import Change

SHOWN: Final = 8
"""Sentences that are shown at once; the others are one click away."""


def changes(found: Sequence[Change], compared: str, *, named: bool) -> Any:
    """The changes, what needs a person first; with the machine's name where there are several.

    compared: how many comparisons were made, which says how far the changes can be trusted.
    """
    title = "What has changed in the last weeks"
    if not found:
        return _parts.panel(
            title,
            html.P("Nothing that chance alone does not explain."),
            html.P(
                "That is not the same as machines in order: what was there from the first week on shows no change.",
                className="reading",
            ),
            html.P(compared, className="reading"),
        )
    items = [_item(one, named=named) for one in found]
    rest = items[SHOWN:]
    more = html.Details([html.Summary(f"{len(rest)} more"), html.Ul(rest, className="changes")]) if rest else None
    return _parts.panel(title, html.Ul(items[:SHOWN], className="changes"), more, html.P(compared, className="reading"))


def _item(change: Change, *, named: bool) -> Any:
    href = address("/weeks", machine=change.machine, pattern=change.series)
    what = html.Span(words.SEVERITY.get(change.level, ""), className=change.level)
    lead: list[Any] = [html.Strong(change.machine), ", "] if named else []
    return html.Li(
        [
            _parts.sign(change.level),
            html.Span(
                [
                    what,
                    ": " if change.level in words.SEVERITY else "",
                    *lead,
                    f"{change.text} ",
                    html.A(
                        "its weeks",
                        href=href,
                        className="whole",
                        **_parts.aria(label=f"Weeks of {change.machine}: {change.text}"),
                    ),
                ]
            ),
        ],
        className="change",
    )
