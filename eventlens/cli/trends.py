"""`eventlens trends`: weeks against the weeks before, and the machines of an archive side by side."""

from __future__ import annotations

from typing import Annotated

import typer

from eventlens.cli import options
from eventlens.cli.console import give, progress, show, target_of, width

Place = Annotated[
    str, typer.Argument(metavar="ARCHIVE", help="A folder, or an address of an object store as s3://bucket/folder.")
]
Only = Annotated[list[str] | None, typer.Option(metavar="ID", help="Only this machine; again for each.")]
Confidence = Annotated[float, typer.Option(help="Confidence of verdicts and limits.")]
Json = Annotated[
    str | None, typer.Option(metavar="FILE", help="Write the trends as JSON; - is stdout, without the report.")
]


def trends(
    archive: Place,
    machine: Only = None,
    json: Json = None,
    confidence: Confidence = 0.95,
    quiet: options.Quiet = False,
) -> None:
    """Say what the weeks have changed, machine by machine.

    \b
    Example:
      eventlens trends history
      eventlens trends history --machine SAW-3 --json trends.json
    """
    import eventlens
    from eventlens.report import trends as report

    target_of(json, ())
    with progress(quiet=quiet) as tell:
        found = eventlens.Archive(archive).trends(machine or None, confidence=confidence, progress=tell)
    data = found.to_json() if json else ""
    give(data, lambda: show(report.styled(found, width=width())), json, quiet=quiet)
