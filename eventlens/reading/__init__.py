"""Dump -> events, and what the log can prove.

The way of a dump: `formats/` (container -> raw table), `record` (files -> one record: `clock`, `order`),
`shape` (which column holds what), `quality` (step, rhythm, holes), `layouts/` (raw table -> events), `assemble`.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from eventlens.reading.assemble import build_log
from eventlens.reading.inspection import Inspection, inspect_paths
from eventlens.reading.log import Log, SourceFile
from eventlens.reading.profile import Profile, as_profile, load_profile
from eventlens.reading.tables import line_accounts, read_table, table_rows, write_table

Paths = str | Path | Sequence[str | Path]

__all__ = [
    "Inspection",
    "Log",
    "Profile",
    "SourceFile",
    "inspect",
    "line_accounts",
    "load_profile",
    "read",
    "read_table",
    "table_rows",
    "write_table",
]


def read(paths: Paths, profile: Profile | str | Path | None = None) -> Log:
    """The log in one file or in several files of one dump (their order does not matter).

    Raises ReadingError or ProfileError, each naming file, line and remedy. Rows that are not understood are no error:
    they are in `Log.rejected`.
    """
    return build_log(_paths(paths), as_profile(profile))


def inspect(paths: Paths, profile: Profile | str | Path | None = None) -> Inspection:
    """What is in a dump: dialect, layout, clock, names. Nothing needs to be stated or mapped."""
    return inspect_paths(_paths(paths), as_profile(profile))


def _paths(given: Paths) -> list[Path]:
    return [Path(given)] if isinstance(given, str | Path) else [Path(path) for path in given]
