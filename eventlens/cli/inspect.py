"""`eventlens inspect`: what is in a dump, before anything is made of it."""

from __future__ import annotations

from contextlib import AbstractContextManager, nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from eventlens.cli import options
from eventlens.cli.console import check_target, emit, progress, writing
from eventlens.errors import EventlensError

if TYPE_CHECKING:
    from eventlens.reading import Inspection

TABLES = (".csv", ".parquet")


def inspect(
    log: Annotated[Path, typer.Argument(metavar="LOG", help="A dump.")],
    table: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Also write the raw table: .csv or .parquet.")
    ] = None,
    write_profile: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Also write a profile (TOML) with the proposed signals.")
    ] = None,
    rejects: options.Rejects = None,
    strict: options.Strict = False,
) -> None:
    """Say what is in a dump and what it can prove, with reasons.

    \b
    Example:
      eventlens inspect monday.csv
      eventlens inspect monday.csv --table monday.parquet
      eventlens inspect monday.csv --write-profile saw-3.toml
    """
    import eventlens

    _check(log, table, write_profile, rejects)
    with progress() as tell, _any_number_of_times(log):
        tell("reading")
        found = eventlens.inspect(log)
        _set_aside(found, rejects, strict=strict)
        if table:
            _write_table(table, log)
        if write_profile:
            with writing("--write-profile", write_profile):
                write_profile.write_text(found.to_profile(), "utf-8")
    emit(found.to_text().rstrip("\n") + "\n")


def _check(log: Path, table: Path | None, write_profile: Path | None, rejects: Path | None) -> None:
    """EventlensError where a file that was asked for cannot be written."""
    if table:
        if table.suffix.lower() not in TABLES:
            got = f"'{table.suffix}'" if table.suffix else "no ending"
            raise EventlensError(
                "a name that ends in .csv or .parquet for --table", got, "change the ending", file=table
            )
        check_target("--table", table, [log])
    for option, path in (("--rejects", rejects), ("--write-profile", write_profile)):
        if path:
            check_target(option, path, [log, *([table] if table else [])])


def _any_number_of_times(log: Path) -> AbstractContextManager[None]:
    """Holds standard input, so that the table is of what the inspection is of."""
    from eventlens.reading.files import STDIN, holding_stdin

    return holding_stdin() if log == STDIN else nullcontext()


def _set_aside(found: Inspection, target: Path | None, *, strict: bool) -> None:
    """Writes the rows that were set aside; strict: the first of them is an error."""
    from eventlens.reading.rejects import none_allowed, to_csv

    if target:
        with writing("--rejects", target):
            target.write_text(to_csv(found.set_aside), "utf-8")
    if strict:
        none_allowed(found.set_aside)


def _write_table(table: Path, log: Path) -> None:
    from eventlens.reading import write_table

    with writing("--table", table):
        write_table(log, table)
