"""What changes on the page while it is open: how it is with the follower, findings, notes, everybody who follows."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from dash import html

from dashboards import words
from dashboards.following import FOLLOWS, Follower, LiveView, Told
from dashboards.pages import _parts
from dashboards.pages._page import address

PATH: Final = "/live"
_STATUS: Final = {"changed": "changed", "withdrawn": "withdrawn"}


def now(view: LiveView) -> list[Any]:
    """How it is: one sentence, what the findings ask for, and the facts."""
    facts = [html.Div([html.Dt(name), html.Dd(text)], className="fact") for name, text in view.facts]
    return [html.P(answer(view.follower), className="answer"), asks(view), html.Dl(facts, className="facts lines")]


def answer(follower: Follower) -> list[Any]:
    """The sentence, with a sign where a person should look."""
    looks = follower.level == "watch"
    head = html.Span(f"{follower.head}.", className=follower.level)
    return [_parts.sign("watch"), head, f" {follower.more}"] if looks else [head, f" {follower.more}"]


def asks(view: LiveView) -> Any:
    """How many findings that hold ask for what."""
    if not view.told:
        return html.P("No finding has become certain yet.", className="reading")
    items = [
        html.Li([_parts.sign(level), html.Span(f"{count:,} {words.SEVERITY[level]}", className=level)])
        for level, count in view.asks
    ]
    return html.Ul(items, className="asks", **_parts.aria(label="How many findings ask for what"))


def told(view: LiveView) -> list[Any]:
    """The findings, the latest first; rows know each other again by their key."""
    if not view.told:
        return [html.P("None yet.", className="reading", key="none")]
    rows = [_row(one) for one in view.told]
    earlier = f"{words.counted(view.earlier, 'finding')} before these; the review of the record has all."
    rest = [html.P(earlier, className="reading", key="earlier")] if view.earlier else []
    return [html.Ol(rows, className="told", key="told"), *rest]


def _row(one: Told) -> Any:
    """A finding: what it asks for, what it is, how soon it was told, what became of it, and where its signals are."""
    asked = html.Span([_parts.sign(one.level), html.Span(words.SEVERITY[one.level], className=one.level)])
    status: list[Any] = []
    if one.status in _STATUS:
        said = f"{_STATUS[one.status]} {one.told_at}" + (f": {one.why}" if one.why else "")
        status = [html.Span(f"↻ {said}" if one.holds else f"✕ {said}", className="became")]
    title: Any = html.Strong(one.title) if one.holds else html.S(one.title)
    where: Any = html.Span("not in the archive yet" if one.holds else "", className="how")
    if one.href:
        where = html.A("its signals", href=one.href, **_parts.aria(label=f"Signals of {one.title}, {one.start}"))
    when = [html.Span(["began ", html.Span(one.start, className="number")]), html.Span(one.delay, className="how")]
    return html.Li(
        [
            html.Div(asked, className="asked"),
            html.Div([title, html.Span(one.facts, className="reading"), *status], className="what"),
            html.Div(when, className="when"),
            html.Div(where, className="where"),
        ],
        className="" if one.holds else "gone",
        key=one.key,
    )


def notes(view: LiveView) -> Any:
    """What happened to the source, the latest first."""
    if not view.notes:
        return html.P("Nothing: no break, no late records, nothing that was not understood.", className="reading")
    rows = [html.Li([html.Span(at, className="number"), html.Span(text)]) for at, text in view.notes]
    more = f"{words.counted(view.earlier_notes, 'note')} before these."
    rest = [html.P(more, className="reading")] if view.earlier_notes else []
    return html.Div([html.Ul(rows, className="noted"), *rest])


def heard(view: LiveView, number: int) -> str:
    """What is new after a message, for those who hear the page; empty where nothing is."""
    new = [one for one in view.told if one.latest > number]
    if not new:
        return ""
    if len(new) == 1:
        one = new[0]
        word = {"found": "New finding", "changed": "Changed", "withdrawn": "Withdrawn"}.get(one.status, "Changed")
        asked = f", asks for: {words.SEVERITY[one.level]}" if one.holds else ""
        return f"{word}: {one.title}{asked}."
    order = list(words.SEVERITY)
    worst = min(new, key=lambda one: (not one.holds, order.index(one.level)))
    return f"{len(new)} findings are new or changed; first of all {worst.title}: {words.SEVERITY[worst.level]}."


def everybody(followers: Sequence[Follower], where: str) -> Any:
    """All who follow or did; or how to begin."""
    if not followers:
        return nobody(where)
    rows = [
        html.Li(
            [
                html.A(one.machine, href=address(PATH, machine=one.machine, record=one.key)),
                html.Span(f" {one.source}: ", className="reading"),
                html.Span(answer(one)),
            ]
        )
        for one in followers
    ]
    follow = sum(one.how == FOLLOWS for one in followers)
    return _parts.panel(
        "Who follows which machine",
        html.P(f"{words.counted(follow, 'record is', 'records are')} followed now.", className="reading"),
        html.Ul(rows, className="followers"),
    )


def nobody(where: str) -> Any:
    """Nobody ever followed into here."""
    return _parts.panel(
        "Nobody follows a machine into this archive yet",
        html.P(
            "Whoever follows a log as it grows, a broker or a server into this archive is seen here a few seconds "
            "later; this page need not be loaded again."
        ),
        html.Pre(f"eventlens follow LOG --machine saw-3.toml --archive {where}", className="command", tabIndex="0"),
    )
