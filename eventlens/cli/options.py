"""Options that several commands share."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

Logs = Annotated[list[Path], typer.Argument(metavar="LOG", help="A dump, or the parts of one in any order.")]
Profile = Annotated[Path | None, typer.Option(metavar="FILE", help="How the dump is read (TOML).")]
Machine = Annotated[Path | None, typer.Option(metavar="FILE", help="What the machine is and may do (TOML).")]
Rejects = Annotated[
    Path | None,
    typer.Option(metavar="FILE", help="Also write the rows that were set aside as CSV: file, line, reason, text."),
]
Strict = Annotated[bool, typer.Option("--strict", help="Stop at the first row that is set aside (status 1).")]
