"""`eventlens review`: the main job."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from eventlens.cli import options
from eventlens.cli.console import check_target, emit_bytes, progress, say, show, width, writing

if TYPE_CHECKING:
    from eventlens.result import Review

STDOUT = "-"
FOUND = 3
"""Exit status when `--fail-on` has found something."""


class Severity(StrEnum):
    """schema.SEVERITIES, the most serious first; written again because a help text must not load the tables."""

    out_of_service = "out_of_service"
    repair = "repair"
    watch = "watch"
    note = "note"


def review(
    logs: options.Logs,
    profile: options.Profile = None,
    machine: options.Machine = None,
    json: Annotated[
        str | None, typer.Option(metavar="FILE", help="Write the review as JSON; - is stdout, without the report.")
    ] = None,
    rejects: options.Rejects = None,
    strict: options.Strict = False,
    fail_on: Annotated[
        Severity | None, typer.Option(help="Exit with status 3 on a finding of this severity or a worse one.")
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", help="No report and no progress.")] = False,
) -> None:
    """Say what the machine did, what is wrong and how often.

    \b
    Example:
      eventlens review monday.csv --machine saw-3.toml
      eventlens review part1.csv part2.csv --json review.json --fail-on repair
      eventlens review monday.csv --rejects rejected.csv
    """
    import eventlens

    target = Path(json) if json and json != STDOUT else None
    if target:
        check_target("--json", target, [*logs, *(path for path in (profile, machine) if path)])
    if rejects:
        check_target("--rejects", rejects, [*logs, *(path for path in (profile, machine, target) if path)])
    with progress(quiet=quiet) as tell:
        found = eventlens.review(logs, profile, machine, progress=tell)
        tell("writing")
        if rejects or strict:
            _set_aside(found, rejects, strict=strict)
        data = found.to_json().encode() if json else b""
    if target:
        with writing("--json", target):
            target.write_bytes(data)
    if json == STDOUT:
        emit_bytes(data)
    elif not quiet:
        from eventlens.report import text

        show(text.styled(found, width=width()))
    if fail_on and (count := _at_least(found, fail_on)):
        if not quiet:
            say(f"eventlens: {count} finding{'s' if count > 1 else ''} of severity {fail_on} or worse")
        raise typer.Exit(FOUND)


def _set_aside(found: Review, target: Path | None, *, strict: bool) -> None:
    """Writes the rows that were set aside, each with its file and line; strict: the first of them is an error."""
    from eventlens.reading.rejects import none_allowed, rejects, to_csv

    files = found.log.files
    names, firsts, lines = zip(*((file.name, file.first_row, file.first_line) for file in files), strict=True)
    rows = rejects(found.log.rejected, names, firsts, lines)
    if target:
        with writing("--rejects", target):
            target.write_text(to_csv(rows), "utf-8")
    if strict:
        none_allowed(rows)


def _at_least(found: Review, severity: Severity) -> int:
    """How many findings are of this severity or a worse one."""
    counted = [member.value for member in list(Severity)[: list(Severity).index(severity) + 1]]
    return sum(name in counted for name in found.findings["severity"])
