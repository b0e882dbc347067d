"""`eventlens compare`: before a repair against after it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from eventlens.cli import options
from eventlens.cli.console import give, progress, show, target_of, width
from eventlens.cli.review import might_be_archive

Logs = Annotated[list[str], typer.Argument(metavar="LOG", help="A dump, the parts of one in any order, or an archive.")]
Machine = Annotated[
    str | None,
    typer.Option(metavar="FILE or ID", help="What the machine is and may do (TOML); of an archive its name."),
]
Repair = Annotated[
    str | None,
    typer.Option(metavar="N or DAY", help="Of an archive: which repair that is written down, 1 the latest (default)."),
]
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
    logs: Logs,
    at: At = None,
    repair: Repair = None,
    until: Until = None,
    after: After = None,
    moved: Moved = None,
    profile: options.Profile = None,
    machine: Machine = None,
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
      eventlens compare history --machine SAW-3
    """
    import eventlens
    from eventlens.report import comparison

    target_of(json, [Path(path) for path in (*logs, *(after or ()), profile, machine) if path])
    given: dict[str, Any] = {"at": at, "until": until, "moved": moved or (), "confidence": confidence}
    with progress(quiet=quiet) as tell:
        if len(logs) == 1 and might_be_archive(logs[0]):
            _of_archive(after, profile)
            found = eventlens.Archive(logs[0]).compare(machine, repair=repair, progress=tell, **given)
        else:
            if repair is not None:
                raise eventlens.EventlensError("an archive for --repair", "dumps", "give the time with --at")
            found = eventlens.compare(logs, profile, machine, after=after or None, progress=tell, **given)
    data = found.to_json() if json else ""
    give(data, lambda: show(comparison.styled(found, width=width())), json, quiet=quiet)


def _of_archive(after: list[Path] | None, profile: Path | None) -> None:
    """EventlensError for what an archive knows itself."""
    import eventlens

    for flag, given in (("--after", after), ("--profile", profile)):
        if given:
            raise eventlens.EventlensError(f"no {flag} for an archive", "one", "leave it out: the archive holds it")
