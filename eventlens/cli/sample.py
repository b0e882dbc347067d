"""`eventlens sample`: the demonstration logs."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from eventlens.cli.console import progress, say, writing


def sample(
    directory: Annotated[Path, typer.Argument(metavar="DIR", help="Where to write; made if it is not there.")],
    weeks: Annotated[int, typer.Option(min=1, help="Weeks of history.")] = 12,
    seed: Annotated[int, typer.Option(min=0, help="The same seed gives the same logs.")] = 1907,
) -> None:
    """Write the demonstration: logs of six invented hoists.

    \b
    Example:
      eventlens sample logs --weeks 2
    """
    from eventlens.simulation import demonstration

    with progress() as tell, writing("DIR", directory):
        demonstration.write(directory, weeks=weeks, seed=seed, progress=tell)
    say(f"eventlens: the demonstration is in {directory}")
