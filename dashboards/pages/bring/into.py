"""From a dump that was reviewed into the archive: the offer, its progress, and what came of it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from dash import dcc, html

from dashboards.data.adding import Plan, Taken
from dashboards.data.dump import EventlensError
from dashboards.pages._page import address
from dashboards.pages._parts import panel
from dashboards.pages.bring import ids, layout
from dashboards.pages.bring.callbacks import Desk, told
from dashboards.shelf import ShelfError

TITLE: Final = "Into the archive"
WITH: Final = "plate"


def shown(desk: Desk) -> tuple[Any, bool]:
    """What is shown of it, and whether to ask no more: nothing before the dump was reviewed."""
    plan = desk.intake.plan(desk.visitor, desk.dump)
    if plan is None:
        return None, True
    job = desk.intake.adding_now(desk.visitor, desk.dump)
    if job is not None and not job.done:
        return panel(TITLE, html.P(f"{job.stage} …", role="status")), False
    if job is not None and job.fault is not None:
        return panel(TITLE, layout.fault(told(job.fault)), *_offer(plan)), True
    if job is not None or plan.held:
        said = job.result if job is not None else (f"{plan.machine}: the archive holds this dump already",)
        return taken(desk.intake.taken(desk.visitor, desk.dump, said)), True
    reviewed = desk.intake.reviewing(desk.visitor, desk.dump)
    if reviewed is None or not reviewed.done or reviewed.fault is not None:
        return None, True
    return panel(TITLE, *_offer(plan)), True


def add(desk: Desk, chosen: Sequence[str] | None) -> tuple[Any, bool]:
    """Begins to add the dump. chosen: holds WITH where its machine file is to go in too."""
    try:
        desk.intake.add(desk.visitor, desk.dump, with_plate=WITH in (chosen or ()))
    except (EventlensError, ShelfError) as fault:
        return panel(TITLE, layout.fault(told(fault))), True
    return panel(TITLE, html.P("Beginning …", role="status")), False


def _offer(plan: Plan) -> list[Any]:
    if not plan.machine:
        return [
            html.P("It can be added to the archive once the machine has a name: fill it in below and review it again.")
        ]
    who = "which the archive knows" if plan.known else "which is new to the archive"
    other = plan.plate == "other"
    plate = dcc.Checklist(
        [{"label": "Its machine file goes in too and holds from now on", "value": WITH}],
        [WITH] if plan.plate == "new" else [],
        id=ids.ADD_PLATE,
    )
    return [
        html.P(
            [
                "The dump can be added, with the profile that read it, to the history of ",
                html.Strong(plan.machine),
                f", {who}. What is added stays there.",
            ]
        ),
        html.P(
            "The archive holds another machine file of this machine. If this one takes its place, every week of the "
            "machine is reviewed anew.",
            className="reading",
            hidden=not other,
        ),
        html.Div(plate, role="group", hidden=not other, **{"aria-label": "Machine file"}),  # type: ignore[arg-type]
        html.Div(html.Button("Add it to the archive", id=ids.ADD, type="button"), className="buttons"),
    ]


def taken(found: Taken) -> Any:
    """What was added, what the archive held already, and where it can be seen."""
    weeks = [
        html.Li(html.A(f"Review of {week}", href=address("/review", machine=found.machine, week=week)))
        for week in found.weeks
    ]
    every = html.Li(html.A(f"Weeks of {found.machine}", href=address("/weeks", machine=found.machine)))
    return panel(
        TITLE,
        html.P(html.Strong(f"{found.said[0]}.")),
        html.Ul([html.Li(text) for text in (*(f"{more}." for more in found.said[1:]), *found.accounts)]),
        html.Ul([every, *weeks], className="choices"),
    )
