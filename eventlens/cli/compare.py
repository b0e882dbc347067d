"""`eventlens compare`: before a repair against after it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from eventlens.cli import options
from eventlens.cli.console import give, progress, show, target_of, width

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
    from eventlens.report import comparison

    target_of(json, [*logs, *(after or ()), *(path for path in (profile, machine) if path)])
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
    data = found.to_json() if json else ""
    give(data, lambda: show(comparison.styled(found, width=width())), json, quiet=quiet)
