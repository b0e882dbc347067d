"""`eventlens archive`: the history of machines on disk."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from eventlens.cli import options
from eventlens.cli.console import check_target, emit, progress, say

if TYPE_CHECKING:
    import polars as pl

FAULTY = 1
"""Exit status where verify finds faults."""
WIDEST_CELL = 60

app = typer.Typer(no_args_is_help=True, rich_markup_mode=None, add_completion=False)

Place = Annotated[
    str, typer.Argument(metavar="ARCHIVE", help="A folder, or an address of an object store as s3://bucket/folder.")
]
Name = Annotated[str | None, typer.Option(metavar="ID", help="Only this machine.")]
Whose = Annotated[
    str | None,
    typer.Option(metavar="ID or FILE", help="Whose dumps they are: its name, or its machine file, which is kept too."),
]
From = Annotated[str | None, typer.Option("--from", metavar="TIME", help="First instant, as 2026-04-13.")]
To = Annotated[str | None, typer.Option("--to", metavar="TIME", help="The first instant after the period.")]


def _said(flag: str, example: str) -> object:
    return typer.Option(flag, metavar="'TIME TEXT'", help=f"As '2026-04-14T10:00 {example}'; again for each.")


@app.callback()
def top() -> None:
    """Keep the history: no record lost, none counted twice.

    \b
    Example:
      eventlens archive add history monday.csv --machine saw-3.toml
      eventlens archive list history
      eventlens review history --machine SAW-3 --from 2026-04-13 --to 2026-04-20
    """


@app.command()
def add(
    archive: Place,
    logs: Annotated[list[Path] | None, typer.Argument(metavar="LOG", help="Dumps, in any order.")] = None,
    machine: Whose = None,
    profile: options.Profile = None,
    repair: Annotated[list[str] | None, _said("--repair", "brake adjusted")] = None,
    exchanged: Annotated[list[str] | None, _said("--exchanged", "relay of raise")] = None,
    earlier_hours: Annotated[list[str] | None, _said("--earlier-hours", "310.5")] = None,
    shifts: Annotated[list[str] | None, _said("--shifts", "06:00-14:00 14:00-22:00")] = None,
    check: Annotated[list[str] | None, _said("--check", "relay_seat=negative")] = None,
    note: Annotated[list[str] | None, _said("--note", "two crews this week")] = None,
    who: Annotated[str | None, typer.Option(metavar="NAME", help="Who adds it; else the user of the computer.")] = None,
    quiet: options.Quiet = False,
) -> None:
    """Add dumps of one machine, and entries by hand.

    All dumps are added or none. What is there already changes nothing.

    \b
    Example:
      eventlens archive add history monday.csv tuesday.csv --machine saw-3.toml
      eventlens archive add history --machine SAW-3 --repair '2026-04-14 new relay'
    """
    import eventlens

    notes = {
        "repair": repair or (),
        "exchanged": exchanged or (),
        "earlier_hours": earlier_hours or (),
        "shifts": shifts or (),
        "check": check or (),
        "note": note or (),
    }
    with progress(quiet=quiet) as tell:
        done = eventlens.Archive(archive).add(logs or (), machine, profile, notes=notes, who=who, progress=tell)
    if not quiet:
        say(f"eventlens: {done.said}")


@app.command(name="list")
def contents(archive: Place, machine: Name = None) -> None:
    """List months with dumps, events and rows, and entries.

    \b
    Example:
      eventlens archive list history --machine SAW-3
    """
    import polars as pl

    import eventlens

    found = eventlens.Archive(archive)
    known = found.machines() if machine is None else [found.known(machine)]
    chosen = pl.col("machine").is_in(known)
    _table(found.contents().filter(chosen))
    entries = found.entries().filter(chosen).select("machine", "at", "kind", "text", "name", "who")
    if not entries.is_empty():
        emit("\n")
        _table(entries.with_columns(text=pl.coalesce("name", "text")).drop("name"))


@app.command()
def verify(
    archive: Place,
    sweep: Annotated[
        bool, typer.Option("--sweep", help="Then delete files that nothing has needed for a week.")
    ] = False,
    quiet: options.Quiet = False,
) -> None:
    """Hold everything against the ledger.

    Prints a sentence for each fault; the status is 1 if there is one.

    \b
    Example:
      eventlens archive verify history
    """
    import eventlens

    found = eventlens.Archive(archive)
    with progress(quiet=quiet) as tell:
        done = found.verify(tell)
    emit("".join(f"{fault}\n" for fault in done.faults))
    if not quiet:
        for note in done.notes:
            say(f"eventlens: {note}")
        say(
            f"eventlens: {_count(len(done.faults), 'fault')} in {done.machines} machines, {done.dumps} dumps, "
            f"{done.months} months, {done.events} events and {done.set_aside} rows set aside"
        )
    if done.faults:
        raise typer.Exit(FAULTY)
    if sweep:
        from eventlens.live.sweep import sweep as following

        gone = found.sweep() + following(archive)
        if not quiet:
            say(f"eventlens: {_count(gone, 'file')} deleted")


@app.command()
def export(
    archive: Place,
    target: Annotated[Path, typer.Argument(metavar="FILE", help="Ends in .parquet, .csv or .xes.")],
    table: Annotated[
        str,
        typer.Option(
            metavar="TABLE",
            help="events, set_aside, imports, entries, reviews, periods, weeks, week_times, week_life, week_work.",
        ),
    ] = "events",
    machine: Name = None,
    start: From = None,
    end: To = None,
    quiet: options.Quiet = False,
) -> None:
    """Write a table for other programs.

    In CSV no cell is left that a spreadsheet would run as a formula.

    \b
    Example:
      eventlens archive export history april.csv --machine SAW-3 --from 2026-04-01 --to 2026-05-01
      eventlens archive export history entries.csv --table entries
    """
    import eventlens

    check_target("FILE", target, [])
    rows = eventlens.Archive(archive).export(target, table, machine, start, end)
    if not quiet:
        say(f"eventlens: {_count(rows, 'row')}")


@app.command()
def weeks(archive: Place, machine: Name = None, quiet: options.Quiet = False) -> None:
    """Bring the stored review of each ISO week up to date.

    Only reviews that rest on something new are made again.

    \b
    Example:
      eventlens archive weeks history
    """
    import polars as pl

    import eventlens

    with progress(quiet=quiet) as tell:
        kept = eventlens.Archive(archive)
        kept.bring_up_to_date(machine, tell)
        found = kept.stored_weeks(machine)
    reviewed = pl.col("why").fill_null("reviewed").alias("review")
    _table(found.select("machine", "week", "made", reviewed))


def _count(number: int, one: str, several: str | None = None) -> str:
    return f"{number} {one if number == 1 else several or one + 's'}"


def _table(rows: pl.DataFrame) -> None:
    """Writes a table as text, a line for each row; instants are in UTC."""
    import polars as pl

    from eventlens.errors import printable

    texts = rows.with_columns(
        pl.col(pl.Datetime).dt.strftime("%Y-%m-%d %H:%M:%SZ")  # instants of several machines stand below each other
    ).select(pl.all().cast(pl.String).fill_null("-"))
    cells = [rows.columns, *([printable(cell)[:WIDEST_CELL] for cell in row] for row in texts.iter_rows())]
    widths = [max(map(len, column)) for column in zip(*cells, strict=True)]
    for line in cells:
        emit("  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip() + "\n")
