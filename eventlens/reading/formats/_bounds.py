"""Bounds that keep a broken or hostile container from filling memory, disk or time.

All numbers: common practice, no source. They lie far above what a controller's dump reaches.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

from eventlens.errors import ReadingError

MOST_UNPACKED_GB: Final = 4.0
"""Bytes [1e9] that the files of one dump may unpack to; `[log] unpacked_gb` of a profile changes it."""
MOST_RATIO: Final = 200
"""Bytes out for each byte in; a log packs to a twentieth, a bomb to a thousandth and less."""
ALWAYS_FREE: Final = 32 << 20
"""Bytes out up to which the ratio is not looked at: a short dump of one repeated line packs very well."""
DEEPEST: Final = 3
"""Packed files inside packed files."""
MOST_MEMBERS: Final = 1000
"""Files in one archive."""
MOST_COLUMNS: Final = 10_000
"""Columns, or names, of one table."""
MOST_CELLS: Final = 100_000_000
"""Cells of the rectangle that a sheet's filled cells span: its reader keeps every one of them in memory."""
MOST_SHEET_GB: Final = 6.0
"""Memory [1e9 bytes] of the process that reads a workbook whose sizes cannot be looked at beforehand."""
LONGEST_LINE: Final = 1 << 24
"""Bytes of one record of a text container."""
LONGEST_CELL: Final = 1 << 20
"""Bytes of one cell."""
LONGEST_QUERY_S: Final = 60.0
"""Time [s] that one question to a database may take: a view in it may run for ever."""


def check_width(columns: int, path: Path) -> None:
    """ReadingError for a table that is too wide to be a log."""
    if columns > MOST_COLUMNS:
        raise ReadingError(f"at most {MOST_COLUMNS} columns", f"{columns}", "export fewer columns", file=path)
