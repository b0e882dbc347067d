"""`eventlens review`: the main job."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from eventlens.cli import options
from eventlens.cli.console import check_target, emit, give, progress, say, show, target_of, width, writing

if TYPE_CHECKING:
    from eventlens.result import Review

FOUND = 3
"""Exit status when `--fail-on` has found something."""


Logs = Annotated[list[str], typer.Argument(metavar="LOG", help="A dump, the parts of one in any order, or an archive.")]
Machine = Annotated[
    str | None,
    typer.Option(metavar="FILE or ID", help="What the machine is and may do (TOML); in an archive its name will do."),
]
From = Annotated[
    str | None, typer.Option("--from", metavar="TIME", help="Only from here on, as 2026-04-13, in the zone of the log.")
]
To = Annotated[str | None, typer.Option("--to", metavar="TIME", help="Only up to here, as 2026-04-20.")]


def review(
    logs: Logs,
    profile: options.Profile = None,
    machine: Machine = None,
    start: From = None,
    end: To = None,
    json: options.Json = None,
    rejects: options.Rejects = None,
    strict: options.Strict = False,
    fail_on: options.FailOn = None,
    show_one: options.Show = None,
    checked: options.Checked = None,
    knowledge: options.Knowledge = None,
    report: options.Report = None,
    paper: options.PaperSize = options.Paper.a4,
    language: options.ReportLanguage = options.Language.en,
    sections: options.ReportSections = None,
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
      eventlens review monday.csv --report monday.pdf --paper letter --language de
      eventlens review monday.csv --report monday.pdf --sections evidence,causes
      eventlens review history --machine SAW-3 --from 2026-04-13 --to 2026-04-20
    """
    inputs = [Path(path) for path in (*logs, profile, machine) if path]
    target = target_of(json, inputs)
    if rejects:
        check_target("--rejects", rejects, [*inputs, *([target] if target else [])])
    wanted_sections = None if sections is None else [name.strip() for name in sections.split(",") if name.strip()]
    if report:
        _check_report(report, wanted_sections, [*inputs, *(path for path in (target, rejects) if path)])
    for wanted in show_one or ():
        _known(wanted)
    with progress(quiet=quiet) as tell:
        found = _made(logs, profile, machine, (start, end), checked or (), knowledge, tell)
        tell("writing")
        if rejects or strict:
            _set_aside(found, rejects, strict=strict)
        data = found.to_json() if json else ""
        if report:
            with writing("--report", report):
                found.to_report(report, paper=paper, language=language, sections=wanted_sections)
    give(data, lambda: _report(found, show_one or ()), json, quiet=quiet)
    if fail_on and (count := _at_least(found, fail_on)):
        if not quiet:
            say(f"eventlens: {count} finding{'s' if count > 1 else ''} of severity {fail_on} or worse")
        raise typer.Exit(FOUND)


def _check_report(target: Path, sections: Sequence[str] | None, inputs: Sequence[Path]) -> None:
    """EventlensError for a report that could not be written, or of no known form or section; said before the work."""
    from eventlens.report import document

    document.form_of(target)
    document.chosen(sections)
    check_target("--report", target, inputs)


def _made(
    logs: Sequence[str],
    profile: Path | None,
    machine: str | None,
    period: tuple[str | None, str | None],
    checked: Sequence[str],
    knowledge: Path | None,
    tell: Callable[[str], None],
) -> Review:
    """The review of dumps, or of a machine of an archive."""
    import eventlens

    given: dict[str, Any] = {"checked": checked, "knowledge": knowledge, "progress": tell}
    if len(logs) == 1 and might_be_archive(logs[0]):
        return eventlens.Archive(logs[0]).review(machine, *period, profile, **given)
    if period == (None, None):
        return eventlens.review(logs, profile, machine, **given)
    from eventlens.archive import review_period
    from eventlens.wiring import machine_of

    plate = machine_of(machine)
    tell("reading")
    return review_period(eventlens.read(logs, profile), plate, *period, **given)


def might_be_archive(given: str) -> bool:
    """An address, or a folder with a record in it."""
    return "://" in given or (Path(given) / "record").is_dir()


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
