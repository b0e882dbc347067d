"""`eventlens review`: the main job."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from eventlens.cli import options
from eventlens.cli.console import check_target, emit, emit_bytes, progress, say, show, width, writing

if TYPE_CHECKING:
    from eventlens.result import Review

STDOUT = "-"
FOUND = 3
"""Exit status when `--fail-on` has found something."""


def review(
    logs: options.Logs,
    profile: options.Profile = None,
    machine: options.Machine = None,
    json: options.Json = None,
    rejects: options.Rejects = None,
    strict: options.Strict = False,
    fail_on: options.FailOn = None,
    show_one: options.Show = None,
    checked: options.Checked = None,
    knowledge: options.Knowledge = None,
    quiet: options.Quiet = False,
) -> None:
    """Say what the machine did, what is wrong and how often.

    \b
    Example:
      eventlens review monday.csv --machine saw-3.toml
      eventlens review part1.csv part2.csv --json review.json --fail-on repair
      eventlens review monday.csv --rejects rejected.csv
      eventlens review monday.csv --show drop_out:2
      eventlens review monday.csv --checked relay_seat=negative
    """
    import eventlens

    target = Path(json) if json and json != STDOUT else None
    if target:
        check_target("--json", target, [*logs, *(path for path in (profile, machine) if path)])
    if rejects:
        check_target("--rejects", rejects, [*logs, *(path for path in (profile, machine, target) if path)])
    for wanted in show_one or ():
        _known(wanted)
    with progress(quiet=quiet) as tell:
        found = eventlens.review(logs, profile, machine, checked=checked or (), knowledge=knowledge, progress=tell)
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
        _report(found, show_one or ())
    if fail_on and (count := _at_least(found, fail_on)):
        if not quiet:
            say(f"eventlens: {count} finding{'s' if count > 1 else ''} of severity {fail_on} or worse")
        raise typer.Exit(FOUND)


def _known(wanted: str) -> None:
    """EventlensError for an occurrence that cannot be meant; said before the work, not after it."""
    from eventlens.report import occurrence

    occurrence.asked(wanted)


def _report(found: Review, wanted: Sequence[str]) -> None:
    """The report, or only the occurrences that were asked for."""
    from eventlens.report import occurrence, text

    if not wanted:
        show(text.styled(found, width=width()))
    for number, one in enumerate(wanted):
        if number:
            emit("\n")
        show(occurrence.show(found, one, width=width()))


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


def _at_least(found: Review, severity: options.Severity) -> int:
    """How many findings are of this severity or a worse one."""
    counted = [member.value for member in list(options.Severity)[: list(options.Severity).index(severity) + 1]]
    return sum(name in counted for name in found.findings["severity"])
