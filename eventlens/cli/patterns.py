"""`eventlens patterns`: the catalogue."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from eventlens.cli.console import emit, width


def patterns(
    name: Annotated[str | None, typer.Argument(metavar="NAME", help="One pattern, in full.")] = None,
) -> None:
    """List the patterns that are looked for, or explain one.

    \b
    Example:
      eventlens patterns
      eventlens patterns drop_out
    """
    from eventlens.report import catalogue

    if name is None:
        # in a pipe each pattern stays one line
        emit(catalogue.overview(width=width() if sys.stdout.isatty() else None))
    else:
        emit(catalogue.entry(name, width=width()))
