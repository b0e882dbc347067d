"""Parts of a page that never change once the review is known: texts and small tables. No callbacks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from dash import html

from dashboards import words
from dashboards.data import INTRODUCTION, Complaint, NextCheck, Told
from dashboards.pages._page import address
from dashboards.pages._parts import Part, aria, drawn, heading, table
from dashboards.pages.week import ids
from dashboards.tables import Kind, Kinds, LifeFacts, LogFacts, MotionFacts, SpreadView, Used


def masthead(facts: LogFacts, week: str | None = None, around: tuple[str | None, str | None] = (None, None)) -> Part:
    """Which machine and which log; of an archive the week, with links to the one before and the one after it."""
    items = [
        ("Group", facts.group),
        ("Log", facts.span),
        ("Times", facts.zone),
        ("Observed", facts.observed + (f" ({facts.gaps})" if facts.gaps else "")),
        ("Log step", f"{facts.step}; times derived from two stamps are good to ± {facts.uncertainty}"),
    ]
    title = ["Review of ", html.Strong(facts.machine), *([f", {week}"] if week else [])]
    return html.Div([heading(*title, facts=items), _neighbours(facts.machine, around) if week else None])


def _neighbours(machine: str, around: tuple[str | None, str | None]) -> Part:
    links = [
        html.A(text, href=address("/review", machine=machine, week=week))
        for text, week in ((f"◀ {around[0]}", around[0]), (f"{around[1]} ▶", around[1]))
        if week
    ]
    return html.Nav(
        [html.A("All its weeks", href=address("/weeks", machine=machine)), *links],
        className="choices",
        **aria(label="Other weeks"),
    )


def further(key: Mapping[str, str | None], machine: str) -> Part:
    """Links to what else can be made of this review."""
    if key.get("record"):  # what is not finished is no report, and nothing to compare
        links = [html.A("As it runs", href=address("/live", machine=machine, record=key["record"]))]
        return html.Nav(links, className="choices", **aria(label="More of this review"))
    dump = key.get("dump")
    own = {"dump": dump} if dump else {"machine": machine} if key["week"] else {}
    return html.Nav(
        [
            html.A("Report of this review", href=address("/report", **own, week=key["week"])),
            html.A("After a repair", href=address("/repair", **own)),
            html.A("Add it to the archive", href=address("/bring", dump=dump)) if key.get("addable") else None,
        ],
        className="choices",
        **aria(label="More of this review"),
    )


def glance(severities: Mapping[str, Sequence[str]], motions: Sequence[MotionFacts]) -> Part:
    """What happened, the serious first."""
    return html.Section(
        [
            html.H2("At a glance"),
            html.Ul([_severity(name, found) for name, found in severities.items()], className="severities"),
            html.Ul([html.Li(_motion(facts)) for facts in motions], className="motions")
            if motions
            else html.P("The log carries no command or contactor of any motion."),
        ],
        className="panel",
    )


def _severity(name: str, found: Sequence[str]) -> Part:
    asks = {
        "out_of_service": ("finding asks to take the hoist out of use", "findings ask to take the hoist out of use"),
        "repair": ("finding asks for repair", "findings ask for repair"),
        "watch": ("finding to watch", "findings to watch"),
        "note": ("note on the log", "notes on the log"),
    }[name]
    sign = html.Span(words.SEVERITY_SIGN[name], className="sign", **aria(hidden="true"))
    if not found:
        return html.Li([sign, f"No {asks[0]}"], className="severity none")
    head = html.Span(f"{words.counted(len(found), *asks)}: ", className=name)
    return html.Li([html.Span(sign, className=name), head, ", ".join(found)], className="severity")


def _motion(facts: MotionFacts) -> list[Part]:
    limit = f" of {facts.limit:,} allowed" if facts.limit is not None else ""
    peak = f"; at most {words.number(facts.peak)} in an hour{limit}" if facts.peak is not None else ""
    fast = f", {facts.fast} of it fast" if facts.fast is not None else ""
    more = f"; {words.counted(facts.jogs, 'jog')}, {words.counted(facts.reversals, 'reversal')}"
    return [
        html.Strong(words.GROUPS[facts.motion]),
        f": {words.counted(facts.starts, 'start')}, running {facts.running}{fast}{peak}{more}.",
    ]


def evidence(finding: Mapping[str, Any], row: Mapping[str, Any]) -> list[Part]:
    """One occurrence: what was measured against which limit, when, how sure, and the lines that prove it."""
    against = f"against a limit of {row['limit']}" if row["limit"] != "–" else "no limit to hold it against"
    measured = f"Measured {row['measured']}, {against}. " if row["measured"] != "–" else ""
    way = f", {row['direction']}" if row["direction"] != "–" else ""
    return [
        html.P(finding["summary"]),
        html.P(finding["meaning"], className="reading"),
        html.P(
            [
                html.Strong(measured),
                f"From {row['start']} to {row['end']} ({row['lasts']}){way}; {row['certainty']}. ",
                f"Proof: source lines {row['lines']}.",
            ]
        ),
    ]


def causes(complaints: Sequence[Complaint], dangers: Sequence[str]) -> Part:
    """Each complaint with its likely causes and what speaks for and against them."""
    warned = [html.P([html.Strong("Out of use: "), text], className="out_of_service") for text in dangers]
    return html.Div(
        [html.P(INTRODUCTION, className="reading"), *warned, *(part for one in complaints for part in _complaint(one))]
    )


def _complaint(complaint: Complaint) -> list[Part]:
    rest = [html.P(text, className="reading") for text in (complaint.also, complaint.undecided) if text]
    return [html.H3(complaint.asks), html.Ul([html.Li(_cause(told)) for told in complaint.causes]), *rest]


def _cause(told: Told) -> list[Part]:
    reasons = html.Ul([html.Li([html.Strong(f"{side}: "), text]) for side, text in told.reasons])
    head = [html.Strong(told.share), f" {told.title}"]
    return [*head, html.Details([html.Summary("why"), reasons])] if told.reasons else head


def next_check(check: NextCheck) -> Part:
    """What to do next, in which state of the machine, and the cautions that belong to it."""
    lines = [html.Div([html.Dt(label.capitalize()), html.Dd(text)], className="fact") for label, text in check.facts]
    return html.Div(
        [
            html.P(html.Strong(check.what)),
            html.Dl(lines, className="facts lines"),
            html.Ul([html.Li(text) for text in check.cautions], className="cautions"),
            html.P("What came of it? The causes are weighed again, and the address keeps it.", className="reading"),
            html.Div(
                [
                    html.Button("Positive", type="button", **_outcome(f"{check.name}=positive")),
                    html.Button("Negative", type="button", **_outcome(f"{check.name}=negative")),
                ],
                className="buttons",
            ),
            html.P(["On the command line: ", html.Code(check.then)], className="reading"),
        ]
    )


def made(outcomes: Sequence[str]) -> Part:
    """The outcomes that were stated, each with a way to take it back."""
    if not outcomes:
        return None
    rows = [
        html.Li([html.Code(one), " ", html.Button("Take back", type="button", **_outcome(one, back=True))])
        for one in outcomes
    ]
    return html.Div([html.H3("Checks that were made"), html.Ul(rows, className="made")])


def _outcome(said: str, *, back: bool = False) -> dict[str, Any]:
    """What the browser's part puts into the address when the button is pressed, or takes out of it."""
    return {"data-back" if back else "data-outcome": said}


def legend() -> Part:
    """How the lanes show a state."""
    shown = [
        ("on", "on"),
        ("partly", "on for part of the time"),
        ("off", "off"),
        ("unknown", "not known"),
        ("alert", "on and needs a person"),
        ("chosen", "chosen occurrence"),
    ]
    return html.Ul(
        [html.Li([html.Span(className=f"swatch {kind}"), text]) for kind, text in shown],
        className="legend",
        **aria(label="How a state is drawn"),
    )


def endings(motions: Sequence[MotionFacts]) -> Part:
    """How the runs of each motion ended."""
    if not motions:
        return html.P("No motion is logged, so there are no runs.")
    rows = [
        (words.ENDING[name], [f"{facts.endings.get(name, 0):,}" for facts in motions], name)
        for name in words.ENDING
        if any(facts.endings.get(name) for facts in motions)
    ]
    body = [
        html.Tr(
            [html.Th(text, scope="row"), *(html.Td(count, className="number") for count in counts)],
            className="ordinary" if name in words.ORDINARY_ENDINGS else "unusual",
        )
        for text, counts, name in rows
    ]
    heads = [f"{words.GROUPS[facts.motion]} (of {facts.runs:,} runs)" for facts in motions]
    note = html.P("◆ cut by a device or a fault, not by the operator or a limit.", className="reading")
    return html.Div([table(["How it ended", *heads], body), note])


def times(views: Sequence[SpreadView], uncertainty: str) -> Part:
    """Measured times of the runs: a place for their charts, and the numbers of these."""
    if not views:
        said = "The log carries no contactor after a command, no brake confirmation and no fast output: these times are"
        return html.Div([html.P(f"{said} not known."), html.Div(id=ids.TIMES)])
    said = "How the runs are spread; the dashed line is the limit."
    note = f"{said} Each single time is good to ± {uncertainty} (two log steps)."
    body = [
        html.Tr(
            [
                html.Th(view.title, scope="row"),
                html.Td(f"{view.count:,}", className="number"),
                html.Td(f"{view.median:.3f}", className="number"),
                html.Td(f"{view.high:.3f}", className="number"),
                html.Td(f"{'at least' if view.least else 'at most'} {view.limit:.3g} ({view.limit_name})"),
                html.Td(f"{view.beyond:,}", className="number"),
            ]
        )
        for view in views
    ]
    heads = ["Time", "Runs", "Median [s]", "95 of 100 within [s]", "Limit [s]", "Beyond it"]
    return html.Div(
        [
            html.P(note, className="reading"),
            html.Div(html.P("Counting …", className="reading"), id=ids.TIMES, className="multiples"),
            html.Details([html.Summary("The numbers of these charts"), table(heads, body)]),
        ]
    )


def time(view: SpreadView, figure: Any) -> Part:
    """One measured time with its chart and sentence."""
    return html.Div([html.H3(view.title), drawn(figure, view.reading, f"{view.title}, against its limit")])


def kinds(found: Kinds) -> Part:
    """The usual kinds of runs and work cycles, each with its share."""
    body = [
        html.Tr(
            [
                html.Th(kind.subject, scope="row", className="whole"),
                html.Td([_share(kind), kind.said]),
                html.Td(f"{kind.count:,}", className="number"),
                html.Td(f"{100 * kind.share:.0f} %", className="number"),
            ]
        )
        for kind in found.kinds
    ]
    heads = ["Of", "Usual kind", "Number", "Share"]
    notes = [html.Li(f"{note}.") for note in found.notes]
    return html.Div(
        [
            html.P(found.reading),
            table(heads, body) if body else None,
            html.Ul(notes, className="reading") if notes else None,
            html.P("A kind is what is typical of many; it does not say that the work is right.", className="reading"),
        ]
    )


def _share(kind: Kind) -> Part:
    """The share as a bar; its number stands beside it."""
    filled = html.Div(className="filled", style={"width": f"{kind.share:.1%}"})
    return html.Div(
        filled, className="bar", role="img", **aria(label=f"{100 * kind.share:.0f} % of the {kind.subject}")
    )


def life(motions: Sequence[LifeFacts]) -> Part:
    """How much is used of what the mechanisms were built for."""
    if not motions:
        return html.P("No motion is logged, so nothing can be said of its life.")
    return html.Div([part for facts in motions for part in _life(facts)])


def _life(facts: LifeFacts) -> list[Part]:
    bars = [_bar(used) for used in facts.used]
    lines = [html.Div([html.Dt(label.capitalize()), html.Dd(text)], className="fact") for label, text in facts.facts]
    return [
        html.P([html.Strong(words.GROUPS[facts.motion]), f": {facts.work}."]),
        *bars,
        html.Dl(lines, className="facts lines"),
    ]


def _bar(used: Used) -> Part:
    """A share as a bar, its number beside it: the bar alone is no information."""
    percent = f"{100 * used.share:.1f} %"
    marks = [html.Div(className="over" if used.share >= 1 else "filled", style={"width": f"{min(used.share, 1):.1%}"})]
    said = f"{used.name}: {percent} used"
    text = f" {percent} used; used up {used.until}"
    if used.year:
        low, high = (min(share, 1.0) for share in used.year)
        within = f"{100 * used.year[0]:.1f} to {100 * used.year[1]:.1f} %"
        marks.append(html.Div(className="interval", style={"left": f"{low:.2%}", "width": f"{high - low:.2%}"}))
        said += f", {within} a year after the log"
        text += f"; a year after the log {within}, the mark on the bar"
    return html.Div(
        [
            html.Div([html.Strong(used.name), text]),
            html.Div(marks, className="bar", role="img", **aria(label=said)),
        ],
        className="used",
    )


def windings(motions: Sequence[MotionFacts]) -> Part | None:
    """Each winding of a two-speed motor against its limits; None where no motor has two."""
    lines = [
        html.Div([html.Dt(label.capitalize()), html.Dd(text)], className="fact")
        for facts in motions
        for label, text in facts.windings
    ]
    return html.Div([html.H3("Slow and fast winding"), html.Dl(lines, className="facts lines")]) if lines else None


def written(told: Sequence[Sequence[str]], *, archived: bool) -> Part | None:
    """What people wrote down that concerns this log, and how it counts; None for a log that is in no archive."""
    title = "What was written down and how it counts here"
    if not told:
        none = "Nothing that is written down of this machine concerns this week: the review is that of the log alone."
        return html.Section([html.H2(title), html.P(none)], className="panel") if archived else None
    body = [
        html.Tr([html.Th(when, scope="row"), html.Td(kind), html.Td(text), html.Td(counts)])
        for when, kind, text, counts in told
    ]
    said = html.P("Repairs, exchanged parts, outcomes of checks, earlier hours, shifts and notes of the archive.",
                  className="reading")  # fmt: skip
    return html.Section(
        [html.H2(title), said, table(["When", "Kind", "What", "How it counts"], body)], className="panel"
    )


def not_assessed(rows: Sequence[Mapping[str, str]]) -> Part:
    """What this log cannot show."""
    if not rows:
        return html.P("Every pattern of the catalogue could be assessed.")
    body = [
        html.Tr([html.Th(row["pattern"], scope="row"), *(html.Td(row[name]) for name in ("motion", "why", "needs"))])
        for row in rows
    ]
    said = html.P("This log cannot show the following. That is not the same as none found.")
    heads = ["Pattern", "Motion", "Why", "What would make it assessable"]
    return html.Div([said, table(heads, body)], className="worded")


def about(facts: LogFacts) -> Part:
    """Where the numbers come from."""
    items = [*facts.files, *facts.proves, *facts.notes]
    if facts.set_aside:
        items.append(f"Rows set aside: {facts.set_aside}.")
    return html.Ul([html.Li(text) for text in items])
