"""`eventlens inspect`: what is in a dump, before anything is made of it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from eventlens.cli.console import check_target, emit, progress, writing
from eventlens.errors import EventlensError

TABLES = (".csv", ".parquet")


def inspect(
    log: Annotated[Path, typer.Argument(metavar="LOG", help="A dump.")],
    table: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Also write the raw table: .csv or .parquet.")
    ] = None,
) -> None:
    """Say what is in a dump and what it can prove, with reasons.

    \b
    Example:
      eventlens inspect monday.csv
      eventlens inspect monday.csv --table monday.parquet
    """
    import eventlens

    if table:
        _check_table(table, log)
    with progress() as tell:
        tell("reading")
        text = eventlens.inspect(log).to_text()
        if table:
            _write_table(table, log)
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
