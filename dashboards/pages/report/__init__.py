"""The report that is handed over: which period, sections, language and paper; shown as HTML or taken along as PDF.

Every choice stands in the address. The file itself comes from a plain address too (FILE_ADDRESS), so that it can be
opened beside the page; it is made on the server, one report at a time.
"""

from __future__ import annotations

from typing import Any, Final

from dash import ClientsideFunction, Dash, Input, Output, State

from dashboards.data import Fault, Source
from dashboards.data.report import NONE, Ordered, made
from dashboards.jobs import Jobs
from dashboards.pages._page import ADDRESS, BY_WEEK, Built, Page, Query, read_query, visitor
from dashboards.pages.report import ids
from dashboards.pages.report.layout import FILE_ADDRESS, PATH, choose_machine, layout, links, others, values
from dashboards.shelf import ShelfError

WAIT_S: Final = 120.0
"""How long a browser waits for a report: several weeks are read and reviewed first."""


def ordered(query: Query) -> Ordered:
    """What an address asks for."""
    sections = query.get("sections")
    names = None if not sections else () if sections == NONE else tuple(filter(None, sections.split(",")))
    return Ordered(
        machine=query.get("machine"),
        dump=query.get("dump"),
        week=query.get("week"),
        to=query.get("to"),
        language=query.get("language", "en"),
        paper=query.get("paper", "a4"),
        sections=names,
    )


def build(source: Source, query: Query) -> Built:
    """The page of the machine, the log or the dump that the address names, or the choice of a machine."""
    asked = ordered(query)
    if source.archived and asked.dump is None and asked.machine is None and len(source.machines()) != 1:
        return Built("Report", choose_machine(source.machines()))
    made(source, asked, visitor())  # a period that is not there is said before anything is chosen for it
    machine, weeks = _what(source, asked)
    return Built(f"{machine}: report", layout(machine, weeks, query), BY_WEEK)


def _what(source: Source, asked: Ordered) -> tuple[str, list[str]]:
    """Name of the machine, and the weeks that can be chosen: none of a log alone."""
    if asked.dump is not None:
        return "the dump", []
    machines = source.machines()
    machine = asked.machine or machines[0]
    return machine, source.weeks_of(machine)


def register(app: Dash, source: Source) -> None:
    """Ties the callbacks to the page, and hands reports out."""
    jobs = Jobs()
    app.server.add_url_rule(FILE_ADDRESS, "report_file", lambda: _hand_out(source, jobs), methods=["GET"])

    @app.callback(
        Output(ids.LINKS, "children"),
        *(Output(one, "value") for one in ids.CHOICES),
        Input(ADDRESS, "search"),
        State(ids.KEY, "data"),
        *(State(one, "value") for one in ids.CHOICES),
    )
    def _chosen(search: Any, key: Any, *shown: Any) -> Any:
        query = read_query(search)
        return links(query), *others(values(query, key["weeks"]), shown)

    app.clientside_callback(  # type: ignore[no-untyped-call]
        ClientsideFunction("repair", "order"),
        *(Input(one, "value") for one in ids.CHOICES),
        State(ids.KEY, "data"),
        prevent_initial_call=True,
    )


def _hand_out(source: Source, jobs: Jobs) -> Any:
    """The report as a file, or one sentence that says why there is none."""
    from flask import make_response, request

    asked, form = ordered(request.args), request.args.get("form", "html")
    try:
        asked.check(form)
        what = made(source, asked, visitor())
        job = jobs.start((*what.key, form), lambda tell: what.render(form))
        if not job.ended.wait(WAIT_S):
            raise ShelfError("The report is still being made: open this address again in a minute.", 503)
        if job.fault is not None:
            raise job.fault
    except ShelfError as fault:
        return _said(fault, fault.status)
    except Fault as fault:
        return _said(fault, 400)
    kind = "application/pdf" if form == "pdf" else "text/html; charset=utf-8"
    how = "attachment" if form == "pdf" or request.args.get("save") else "inline"
    headers = {"Content-Type": kind, "Content-Disposition": f'{how}; filename="{what.name}.{form}"'}
    return make_response(job.result, 200, {**headers, "Cache-Control": "no-store"})


def _said(fault: Exception, status: int) -> Any:
    from flask import make_response

    sentence = str(fault)
    text = f"{sentence[0].upper()}{sentence[1:]}".rstrip(".")
    return make_response(f"{text}.\n", status, {"Content-Type": "text/plain; charset=utf-8"})


PAGE: Final = Page(
    path=PATH,
    name="Report",
    identity=("machine", "dump"),
    carries=("machine", "dump", "week"),
    fits=lambda source: True,
    build=build,
    register=register,
)
