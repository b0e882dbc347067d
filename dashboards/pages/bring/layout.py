"""What the page consists of: where files come in; and for one dump what it is, its names, the machine, the review."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

from dash import dcc, html

from dashboards import words
from dashboards.data.dump import GROUPS, SPECTRA, Dump, fits, stated_signals, zones
from dashboards.pages import _page
from dashboards.pages._parts import aria, chart, panel
from dashboards.pages.bring import grid, ids
from dashboards.shelf import KEPT_DAYS, MOST_BYTES, Brought

TICK_MS: Final = 500
"""How often a page asks how far the work is [ms]."""


def entrance(dumps: Sequence[tuple[str, Sequence[Brought]]]) -> list[Any]:
    """Where files come in, and what the visitor brought in before."""
    said = (
        f"Files as the controller wrote them: delimited text, pairs, JSON, syslog, spreadsheets, Parquet, SQLite, XES,"
        f" packed or not, up to {MOST_BYTES >> 30} GiB each. They stay on this server, are shown to nobody else, and"
        f" are deleted when they were not opened for {KEPT_DAYS} days."
    )
    return [
        html.Section(
            [
                html.H2("Bring a dump in"),
                html.P(said, className="reading"),
                html.Div(id=ids.DROP, className="drop"),
                dcc.Store(id=ids.CAME),
                html.Div(id=ids.TOLD),
            ],
            className="panel",
        ),
        html.Section([html.H2("Brought in before"), _before(dumps)], className="panel") if dumps else None,
    ]


def _before(dumps: Sequence[tuple[str, Sequence[Brought]]]) -> Any:
    return html.Ul(
        [
            html.Li(dcc.Link(", ".join(one.name for one in files), href=address(dump)), className="brought")
            for dump, files in dumps
        ]
    )


def address(dump: str, page: str = "bring") -> str:
    """The address of a dump's page, or of its review."""
    return _page.address(f"/{page}", dump=dump)


def waiting(dump: str, files: Sequence[Brought]) -> list[Any]:
    """The page of a dump while it is being looked at."""
    return [
        dcc.Store(id=ids.DUMP, data=dump),
        dcc.Store(id=ids.WIDTH),
        html.Section(
            [
                html.H2(", ".join(one.name for one in files)),
                html.P(
                    f"{words.counted(len(files), 'file')}, {sum(one.size for one in files) / 2**20:,.1f} MiB",
                    className="reading",
                ),
            ],
            className="panel",
        ),
        html.Div(id=ids.INTO, className="stack", **aria(live="polite")),
        dcc.Interval(id=ids.INTO_TICK, interval=TICK_MS),
        html.Div(html.P("Looking at the dump …", role="status"), id=ids.LOOKED),
        dcc.Interval(id=ids.LOOK_TICK, interval=TICK_MS),
    ]


def fault(sentence: str) -> Any:
    """What went wrong, in one sentence."""
    return html.P(sentence, role="alert", className="fault")


def looked(dump: str, one: Dump, profile: Path | None, machine: Path | None, remembered: bool) -> list[Any]:
    """The page of a dump that was looked at."""
    return [
        panel("What it is", _facts(one)),
        panel("What its names stand for", *names(one, profile, remembered=remembered)),
        panel("The machine", *_machine(machine)),
        panel(
            "Review",
            html.Div(
                [
                    html.Button("Review it", id=ids.REVIEW, type="button", className="first-choice"),
                    html.Button("Stop", id=ids.STOP, type="button", hidden=True),
                    html.Button("Delete this dump", id=ids.DELETE, type="button"),
                ],
                className="buttons",
            ),
            html.Div(id=ids.PROGRESS, role="status"),
            dcc.Interval(id=ids.REVIEW_TICK, interval=TICK_MS, disabled=True),
        ),
    ]


def _facts(one: Dump) -> Any:
    aside = one.set_aside()
    rows = [html.Li(f"{row['file']}, line {row['line']}: {row['reason']}") for row in aside]
    return html.Div(
        [
            html.Dl(
                [html.Div([html.Dt(what), html.Dd(how)], className="fact") for what, how in one.facts()],
                className="facts",
            ),
            html.Ul([html.Li(note) for note in one.notes()]) if one.notes() else None,
            html.Div([html.H3("Rows that were set aside, the first of them"), html.Ul(rows)]) if rows else None,
        ]
    )


def names(one: Dump, profile: Path | None, *, remembered: bool) -> list[Any]:
    """What the names stand for: as a profile says, or to be corrected in a table."""
    file = _file(ids.PROFILE_FILE, "Use a profile file (TOML) instead")
    told = html.Div(id=ids.PROFILE_TOLD)
    if profile is not None:
        why = "It read a dump of this kind before." if remembered else "It was given for this dump."
        return [
            html.P(f"They are read as a profile says. {why}", className="reading"),
            None
            if fits(profile, one)
            else fault("Few of the names that it states are in this dump: is it the right one?"),
            _stated(profile),
            html.Div([html.Button("State the signals anew", id=ids.ANEW, type="button"), file], className="buttons"),
            dcc.Store(id=ids.KEPT_PROFILE, data=True),
            html.Div(_how_it_is_read(), hidden=True),
            told,
        ]
    rows = one.rows()
    stated = sum(row["signal"] != grid.NOTHING for row in rows)
    said = (
        f"{stated} of {words.counted(len(rows), 'name')} are taken for a signal, by their names and by what they do."
        " Check each against the circuit diagram; choose a row to see what it did."
    )
    return [
        html.P(said, className="reading"),
        grid.names(ids.NAMES, rows),
        dcc.Store(id=ids.NUMBER),
        html.Div(
            [
                html.Button("◀ Change before", id=ids.EARLIER, type="button"),
                html.Button("Next change ▶", id=ids.LATER, type="button"),
                file,
            ],
            className="buttons",
        ),
        html.Div(
            chart(ids.LANES, ids.LANES_READING, "Lanes of all names around a change of the chosen one"),
            id=ids.LANES_BOX,
            hidden=True,
        ),
        html.Div(_how_it_is_read(), className="form"),
        dcc.Store(id=ids.KEPT_PROFILE, data=False),
        html.Button("", id=ids.ANEW, type="button", hidden=True),
        told,
    ]


def _how_it_is_read() -> list[Any]:
    """What no dump says of itself."""
    tapped = "Commands are read at the controller's input (the pushbutton), or as it orders contactors: input or order"
    return [
        _suggested(ids.ZONE, "Time zone of stamps that carry none; else read as UTC", zones()),
        _suggested(ids.TAPPED, tapped, ("input", "order")),
    ]


def _suggested(key: str, text: str, values: Sequence[str]) -> Any:
    """A text that the browser completes from a list."""
    listed = html.Datalist([html.Option(value=one) for one in values], id=f"{key}-list")
    return _field(key, text, html.Div([dcc.Input(id=key, type="text", value="", list=f"{key}-list"), listed]))


def _file(store: str, text: str) -> Any:
    """A small text file that is chosen; the browser's part puts what it holds into the store."""
    return html.Div([dcc.Store(id=store), html.Div(className="picks", **{"data-store": store, "data-label": text})])  # type: ignore[arg-type]


def _stated(profile: Path) -> Any:
    """What a profile says, as a table."""
    rows = [html.Tr([html.Th(name, scope="row"), html.Td(signal)]) for name, signal in stated_signals(profile)]
    head = html.Thead(html.Tr([html.Th("In the dump", scope="col"), html.Th("Stands for", scope="col")]))
    return html.Div(html.Table([head, html.Tbody(rows)]), className="scrolls")


def _machine(machine: Path | None) -> list[Any]:
    fields = [
        _field(ids.FIELDS[0], "Name of the machine", dcc.Input(id=ids.FIELDS[0], type="text", maxLength=80)),
        _field(ids.FIELDS[1], "Rated load [kg]", dcc.Input(id=ids.FIELDS[1], type="number", min=0, step="any")),
        _suggested(ids.FIELDS[2], "Group of the hoist, as on its plate", GROUPS),
        _suggested(ids.FIELDS[3], "Group of the trolley", GROUPS),
        _suggested(ids.FIELDS[4], "Group of the bridge", GROUPS),
        _field(
            ids.FIELDS[5],
            "Full-load hours used before this log",
            dcc.Input(id=ids.FIELDS[5], type="number", min=0, step="any"),
        ),
        _suggested(ids.FIELDS[6], "Load spectrum (L1 to L4), where no load is logged", SPECTRA),
        _field(ids.FIELDS[7], "Shifts, as 06:00-14:00 14:00-22:00", dcc.Input(id=ids.FIELDS[7], type="text")),
    ]
    stated = (
        html.P("A machine file is used; what is filled in here replaces it.", className="reading")
        if machine is not None
        else html.P(
            "What is left empty is not assessed, or found from the log; the review says so.", className="reading"
        )
    )
    file = _file(ids.MACHINE_FILE, "Use a machine file (TOML)")
    return [stated, html.Div(fields, className="form"), file, html.Div(id=ids.MACHINE_TOLD)]


def _field(key: str, text: str, control: Any) -> Any:
    return html.Div([html.Label(text, htmlFor=key), control], className="field")
