"""Options that several commands share."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

Logs = Annotated[list[Path], typer.Argument(metavar="LOG", help="A dump, or the parts of one in any order.")]
Profile = Annotated[Path | None, typer.Option(metavar="FILE", help="How the dump is read (TOML).")]
Machine = Annotated[Path | None, typer.Option(metavar="FILE", help="What the machine is and may do (TOML).")]
