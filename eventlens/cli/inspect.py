"""`eventlens inspect`: what is in a dump, before anything is made of it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from eventlens.cli import options
from eventlens.cli.console import check_target, emit, progress, writing
from eventlens.errors import EventlensError

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

    if rejects:
        check_target("--rejects", rejects, [log, *([table] if table else [])])
    if table:
        _check_table(table, log)
    if write_profile:
        check_target("--write-profile", write_profile, [log, *([table] if table else [])])
    with progress() as tell:
        tell("reading")
        found = eventlens.inspect(log)
        text = found.to_text()
        from eventlens.reading.rejects import none_allowed, to_csv

        if rejects:
            with writing("--rejects", rejects):
                rejects.write_text(to_csv(found.set_aside), "utf-8")
        if strict:
            none_allowed(found.set_aside)
        if table:
            _write_table(table, log)
        if write_profile:
            with writing("--write-profile", write_profile):
                write_profile.write_text(found.to_profile(), "utf-8")
    emit(text if text.endswith("\n") else text + "\n")


def _check_table(table: Path, log: Path) -> None:
    if table.suffix.lower() not in TABLES:
        got = f"'{table.suffix}'" if table.suffix else "no ending"
        raise EventlensError("a name that ends in .csv or .parquet for --table", got, "change the ending", file=table)
    check_target("--table", table, [log])


def _write_table(table: Path, log: Path) -> None:
    import eventlens

    frame = eventlens.read_table(log)
    with writing("--table", table):
        if table.suffix.lower() == ".csv":
            frame.write_csv(table)
        else:
            frame.write_parquet(table)
