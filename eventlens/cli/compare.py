"""`eventlens compare`: before a repair against after it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from eventlens.cli import options
from eventlens.cli.console import check_target, emit_bytes, progress, show, width, writing

if TYPE_CHECKING:
    from eventlens.comparison import Comparison

STDOUT = "-"

At = Annotated[
    str | None,
    typer.Option(metavar="TIME", help="When the repair began, as 2026-04-15T10:00, in the zone of the log."),
]
Until = Annotated[
    str | None, typer.Option(metavar="TIME", help="When the repair ended: what lies between is left out.")
]
After = Annotated[
    list[Path] | None,
    typer.Option(metavar="LOG", help="Instead of --at: a log after the repair; again for each of its parts."),
]
Moved = Annotated[
    list[str] | None,
    typer.Option(metavar="A:B", help="Parts exchanged between two places, as hoist.raise:trolley.left."),
]
Confidence = Annotated[float, typer.Option(help="Confidence of verdicts and limits.")]
Json = Annotated[
    str | None, typer.Option(metavar="FILE", help="Write the comparison as JSON; - is stdout, without the report.")
]


def compare(
    logs: options.Logs,
    at: At = None,
    until: Until = None,
    after: After = None,
    moved: Moved = None,
    profile: options.Profile = None,
    machine: options.Machine = None,
    json: Json = None,
    confidence: Confidence = 0.95,
    quiet: options.Quiet = False,
) -> None:
    """Say what a repair has changed, and how long to watch.

    \b
    Example:
      eventlens compare april.csv --at 2026-04-15T10:00 --machine saw-3.toml
      eventlens compare before.csv --after after.csv --json comparison.json
      eventlens compare april.csv --at 2026-04-15 --moved hoist.raise:hoist.lower
    """
    import eventlens

    target = Path(json) if json and json != STDOUT else None
    if target:
        check_target("--json", target, [*logs, *(after or ()), *(path for path in (profile, machine) if path)])
    with progress(quiet=quiet) as tell:
        found = eventlens.compare(
            logs,
            profile,
            machine,
            at=at,
            until=until,
            after=after or None,
            moved=moved or (),
            confidence=confidence,
            progress=tell,
        )
    _give(found, json, target, quiet=quiet)


def _give(found: Comparison, json: str | None, target: Path | None, *, quiet: bool) -> None:
    """The comparison as a file, as JSON on stdout, or as a report."""
    from eventlens.report import comparison

    data = found.to_json().encode() if json else b""
    if target:
        with writing("--json", target):
            target.write_bytes(data)
    if json == STDOUT:
        emit_bytes(data)
    elif not quiet:
        show(comparison.styled(found, width=width()))
