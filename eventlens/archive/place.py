"""Where an archive lies: a folder of this computer, or an address of an object store; and what else may lie there."""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import Final

from eventlens.archive.tables import TABLES
from eventlens.errors import ArchiveError

FOLLOWING: Final = "following"
"""Folder beside the tables in which those who follow machines into the archive say how far they are (live.word)."""
_SCHEME: Final = re.compile(r"([a-z][a-z0-9+.-]+):/+(.*)", re.DOTALL)
_LOCAL: Final = ("file", "memory")
"""Schemes of addresses without a host."""
_COMMIT: Final = re.compile(r"\d{20}\.json")


def address(given: str | Path) -> str:
    """Where an archive lies: an absolute folder, or an address such as s3://bucket/folder as it is.

    A path object folds the slashes of an address; they are put back.
    """
    text = str(given)
    if found := _SCHEME.fullmatch(text):
        scheme, rest = found.groups()
        return f"{scheme}:///{rest}" if scheme in _LOCAL else f"{scheme}://{rest}"
    return str(Path(text).expanduser().absolute())


def folder_of(root: str) -> Path | None:
    """The folder of an `address` on this computer; None on an object store."""
    scheme, _, rest = root.rpartition("://")
    return Path(rest) if scheme in ("", "file") else None


def last_commit(table: Path) -> tuple[str, int] | None:
    """Name and time [ns] of the last commit of a table in a folder."""
    try:
        commits = [entry for entry in os.scandir(table / "_delta_log") if _COMMIT.fullmatch(entry.name)]
        last = max(commits, key=lambda entry: entry.name, default=None)
        return None if last is None else (last.name, last.stat().st_mtime_ns)
    except OSError:
        return None


def must_be_free(root: str) -> None:
    """ArchiveError where the folder holds something that is no archive."""
    folder = Path(root)
    if "://" in root or not folder.exists():
        return
    if not folder.is_dir():
        raise ArchiveError("a folder for the archive", "a file", "name another place", file=root)
    if other := sorted(path.name for path in folder.iterdir() if path.name not in (*TABLES, FOLLOWING)):
        raise ArchiveError(
            "an archive or an empty folder", f"a folder with '{other[0]}'", "name another folder", file=root
        )
