"""What the page answers; plain functions of the intake, the visitor and what the page holds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from dash import no_update

from dashboards.data import dump as dumps
from dashboards.figures import lanes as drawing
from dashboards.figures.theme import NARROW, palette
from dashboards.intake import Intake
from dashboards.jobs import Job, StoppedError
from dashboards.pages.bring import layout
from dashboards.shelf import MACHINE, PROFILE, ShelfError
from dashboards.tables import Mark


@dataclass(frozen=True)
class Desk:
    """One visitor's dump."""

    intake: Intake
    visitor: str
    dump: str

    def looked(self) -> dumps.Dump | None:
        """The dump, once it has been looked at."""
        job = self.intake.look(self.visitor, self.dump)
        return job.result if job.done and job.fault is None else None


def entrance(intake: Intake, visitor: str) -> list[Any]:
    """Where files come in."""
    return layout.entrance([(key, intake.files(visitor, key)) for key in intake.shelf.dumps(visitor)])


def opened(intake: Intake, visitor: str, dump: str) -> list[Any]:
    """The page of a dump, or of none where the visitor has none of that name."""
    try:
        return layout.waiting(dump, intake.files(visitor, dump))
    except ShelfError as fault:
        return [layout.fault(str(fault)), *entrance(intake, visitor)]


def look(desk: Desk) -> tuple[Any, bool]:
    """What is known of the dump, and whether to ask no more."""
    job = desk.intake.look(desk.visitor, desk.dump)
    if not job.done:
        return no_update, False
    if job.fault is not None:
        return layout.fault(told(job.fault)), True
    profile, machine = desk.intake.stated(desk.visitor, desk.dump)
    known, its_machine = (None, None) if profile else desk.intake.remembered(desk.visitor, job.result)
    if known is not None:
        profile = desk.intake.state(desk.visitor, desk.dump, PROFILE, known.read_text("utf-8"))
        if machine is None and its_machine is not None:
            machine = desk.intake.state(desk.visitor, desk.dump, MACHINE, its_machine.read_text("utf-8"))
    return layout.looked(desk.dump, job.result, profile, machine, known is not None), True


def told(fault: Exception) -> str:
    """One sentence for whatever went wrong."""
    if isinstance(fault, StoppedError):
        return "Stopped."
    if isinstance(fault, dumps.EventlensError) and fault.file is not None:
        return str(fault).replace(str(fault.file), Path(fault.file).name)  # where it lies is the server's affair
    if isinstance(fault, dumps.EventlensError | ShelfError):
        return str(fault)
    return f"The program failed with {type(fault).__name__}: {fault}. Please report it with the dump that led to it."


def anew(desk: Desk) -> Any:
    """The page without a profile, so that the signals are stated in the table."""
    desk.intake.forget(desk.visitor, desk.dump, PROFILE)
    one = desk.looked()
    if one is None:
        return no_update
    _, machine = desk.intake.stated(desk.visitor, desk.dump)
    return layout.looked(desk.dump, one, None, machine, remembered=False)


def given(desk: Desk, what: str, content: str | None) -> tuple[str | None, Any]:
    """Takes a profile or machine file that was chosen; what went wrong, or None and the page anew."""
    if content is None:
        return "A settings file of at most 1 MiB was wanted, a larger one came: choose the TOML file.", no_update
    try:
        desk.intake.state(desk.visitor, desk.dump, what, content.removeprefix("\ufeff"))
    except (dumps.EventlensError, ShelfError) as fault:
        return told(fault), no_update
    one = desk.looked()
    profile, machine = desk.intake.stated(desk.visitor, desk.dump)
    return None, no_update if one is None else layout.looked(desk.dump, one, profile, machine, remembered=False)


def show(chosen: Sequence[Any] | None, step: int, before: Any) -> Any:
    """Which name and which change of it is shown: {name, number}; None where no row is chosen."""
    if not chosen:
        return None
    name = chosen[0]["name"]
    number = before["number"] + step if before and before["name"] == name else 1
    return {"name": name, "number": number}


def draw(desk: Desk, shown: Any, rows: Sequence[Any], theme: Any, wide: Any) -> tuple[Any, str, bool]:
    """The lanes around the change, their reading, and whether they are hidden."""
    one = desk.looked()
    if one is None or not shown:
        return no_update, "", True
    width = int(wide)
    found = one.around(shown["name"], int(shown["number"]), rows, drawing.bins_for(width), brief=width < NARROW)
    if found is None:
        return no_update, f"'{shown['name']}' never changes in this dump.", True
    said = f"'{shown['name']}' at {found.at} ({one.clock.zone}), change {found.number:,} of {found.of:,}."
    figure = drawing.figure(found.view, _mark(shown["name"], found), palette(theme), width)
    return figure.update_layout(width=width), said, False  # it is drawn before its box is shown


def _mark(name: str, found: dumps.Shown) -> Mark:
    return Mark((found.place, found.place), name)


def begin(desk: Desk, rows: Sequence[Any] | None, how: tuple[str, str] | None, fields: Sequence[Any]) -> str | None:
    """Keeps what the page states and begins the review; what went wrong, or None.

    how: zone of the stamps and where commands are read; None: a profile says that, and what the names stand for.
    """
    one = desk.looked()
    if one is None:
        return "The dump is still being looked at: wait for it."
    try:
        if how is not None:
            desk.intake.state(desk.visitor, desk.dump, PROFILE, one.profile_text(rows or (), *how))
        plate = dumps.Plate(*(value if value is not None else _EMPTY.get(at, "") for at, value in enumerate(fields)))
        if plate != dumps.Plate() or desk.intake.stated(desk.visitor, desk.dump)[1] is None:
            desk.intake.state(desk.visitor, desk.dump, MACHINE, plate.to_toml())
        desk.intake.begin(desk.visitor, desk.dump)
    except (dumps.EventlensError, ShelfError) as fault:
        return told(fault)
    return None


_EMPTY: dict[int, Any] = {1: None, 5: None}
"""Fields of dump.Plate that are numbers: empty means not stated."""


def stop(desk: Desk) -> None:
    """Ends the review at its next stage."""
    desk.intake.stop(desk.visitor, desk.dump)


def place(dump: str, page: str) -> tuple[str, str]:
    """Path and query of a dump's page, or of its review."""
    pathname, _, search = layout.address(dump, page).partition("?")
    return pathname, f"?{search}"


def progress(desk: Desk) -> tuple[Any, bool, bool]:
    """How far the review is, whether to ask no more, and whether it is done."""
    job: Job | None = desk.intake.reviewing(desk.visitor, desk.dump)
    if job is None:
        return "", True, False
    if not job.done:
        return f"{job.stage} …", False, False
    if job.fault is not None:
        return layout.fault(told(job.fault)), True, False
    return "Done.", True, True
