"""The command line: thin commands over the Python interface, one module for each.

Data goes to stdout, everything else to stderr. Exit status: 0 done; 1 the input or a setting is wrong, said in one
sentence; 2 usage; 3 a finding that `--fail-on` asked about; 130 interrupted; 141 the reader of stdout went away.
Whatever else is raised is a fault of the program and is not hidden. Nothing heavy is imported before a command runs.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import Annotated

import typer

from eventlens.allocator import keep_freed_memory
from eventlens.cli import (
    archive,
    compare,
    dashboard,
    fleet,
    follow,
    inspect,
    password,
    patterns,
    review,
    sample,
    trends,
)
from eventlens.cli.console import flush, tolerate_any_character
from eventlens.errors import EventlensError

app = typer.Typer(
    name="eventlens",
    add_completion=False,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)
for command in (
    review.review,
    follow.follow,
    inspect.inspect,
    compare.compare,
    trends.trends,
    fleet.fleet,
    patterns.patterns,
    dashboard.dashboard,
    password.password,
    sample.sample,
):
    app.command()(command)
app.add_typer(archive.app, name="archive")


def _version(asked: bool) -> None:
    if asked:
        from importlib.metadata import PackageNotFoundError, version

        try:
            typer.echo(f"eventlens {version('eventlens')}")
        except PackageNotFoundError:
            typer.echo("eventlens, version unknown: it runs from a folder and is not installed")
        raise typer.Exit


@app.callback()
def top(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version and exit.")
    ] = False,
) -> None:
    """Read the event log of an electric hoist's controller: what it did, what is wrong, how often.

    \b
    Example:
      eventlens sample logs --weeks 2
      eventlens review logs/SAW-3/2026-W10.csv --profile logs/SAW-3/profile.toml
    """


def main(args: Sequence[str] | None = None) -> None:
    """Runs one command (that of the process, unless args are given) and ends the process with its exit status."""
    tolerate_any_character()
    keep_freed_memory(sys.argv[1:] if args is None else args)
    try:
        app(args=args, prog_name="eventlens")
    except EventlensError as fault:
        typer.echo(f"eventlens: {fault}", err=True)
        sys.exit(1)
    except KeyboardInterrupt:
        sys.exit(130)
    finally:
        flush()
