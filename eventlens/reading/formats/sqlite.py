"""SQLite database: one table or view of it, a column for each column, a row for each row.

    CREATE TABLE events (time TEXT, tag TEXT, state INTEGER)

The file is opened read-only and immutable: nothing is written, no journal is played back, and an authorizer lets
through nothing but reading and plain functions, so that nothing in the file is executed (triggers do not fire on
reading, extensions cannot be loaded). Rows come in the order of their rowid: the order in which they were inserted.
A view is read only if the profile names it, because its text is a program of the file; its columns count as texts.
`row` is the number of the row in that order, from 1.
"""

from __future__ import annotations

import contextlib
import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final
from urllib.parse import quote

import polars as pl

from eventlens.errors import ReadingError, nearest
from eventlens.reading.clock import read_clock
from eventlens.reading.formats._bounds import LONGEST_CELL, LONGEST_QUERY_S, MOST_COLUMNS
from eventlens.reading.formats._table import unique_names, whole_table
from eventlens.reading.profile import Profile
from eventlens.reading.raw import RawTable

NAME = "SQLite"
MAGIC: Final = b"SQLite format 3\0"
_BATCH: Final = 50_000
_SAMPLE: Final = 400
_STEPS: Final = 100_000
"""Steps of the database engine between two looks at the clock."""
_ALLOWED: Final = frozenset(
    {sqlite3.SQLITE_SELECT, sqlite3.SQLITE_READ, sqlite3.SQLITE_FUNCTION, sqlite3.SQLITE_RECURSIVE}
)


def sniff(path: Path, head: bytes) -> bool:
    """The sixteen bytes that every such database begins with."""
    return head.startswith(MAGIC)


def read(path: Path, profile: Profile, like: RawTable | None = None) -> RawTable:
    """The rows of the table that the profile names, else of the one that looks most like a log (said in the notes)."""
    try:
        with _opened(path) as database:
            table, is_view, notes = _choose(database, profile.log.table, path)
            frame = _rows(database, table, is_view)
    except (sqlite3.Error, sqlite3.Warning, OverflowError, UnicodeDecodeError, MemoryError) as fault:
        if str(fault) == "interrupted":
            got = f"a table or view that takes longer than {LONGEST_QUERY_S:g} s"
            raise ReadingError("the rows of a database", got, "export it as a table", file=path) from None
        got = f"one that cannot be read ({str(fault)[:100]})"
        raise ReadingError("a whole SQLite database", got, "copy or export it again", file=path) from None
    return whole_table(path, NAME, frame, notes=(*notes, *_journals(path)))


@contextmanager
def _opened(path: Path) -> Iterator[sqlite3.Connection]:
    uri = f"file:{quote(str(path.absolute()))}?mode=ro&immutable=1"
    database = sqlite3.connect(uri, uri=True, cached_statements=0)
    with contextlib.closing(database):
        database.execute("PRAGMA trusted_schema=OFF")
        database.execute("PRAGMA cell_size_check=ON")
        database.execute("PRAGMA mmap_size=0")
        database.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, 16 * LONGEST_CELL)
        database.setlimit(sqlite3.SQLITE_LIMIT_COLUMN, min(MOST_COLUMNS, 2000))
        database.text_factory = lambda data: data.decode("utf-8", "replace")
        end = time.monotonic() + LONGEST_QUERY_S
        database.set_progress_handler(lambda: time.monotonic() > end, _STEPS)
        _check_whole(database, path)
        database.set_authorizer(_authorize)
        yield database


def _check_whole(database: sqlite3.Connection, path: Path) -> None:
    """ReadingError for a file that is shorter than it says, or whose pages are damaged: its rows would be invented."""
    with path.open("rb") as file:
        head = file.read(100)
    page = int.from_bytes(head[16:18], "big")
    pages = int.from_bytes(head[28:32], "big")
    wanted, size = (65536 if page == 1 else page) * pages, path.stat().st_size
    if head[24:28] == head[92:96] and size < wanted:
        got = f"one that breaks off after {size} of {wanted} bytes"
        raise ReadingError("a whole SQLite database", got, "copy it again", file=path)
    database.execute("PRAGMA ignore_check_constraints=ON")
    found = str(database.execute("PRAGMA quick_check(1)").fetchone()[0])
    if found != "ok":
        got = f"a damaged one ({' '.join(found.split())[:100]})"
        raise ReadingError("a whole SQLite database", got, "copy or export it again", file=path)


def _authorize(action: int, first: str | None, second: str | None, *_: str | None) -> int:
    """Reading only. `load_extension` is a function too."""
    if action == sqlite3.SQLITE_FUNCTION and second in ("load_extension", "readfile", "writefile", "edit"):
        return sqlite3.SQLITE_DENY
    return sqlite3.SQLITE_OK if action in _ALLOWED else sqlite3.SQLITE_DENY


def _choose(database: sqlite3.Connection, stated: str | None, path: Path) -> tuple[str, bool, tuple[str, ...]]:
    """The table's name, whether it is a view, and notes."""
    found = database.execute(
        "SELECT name, type FROM sqlite_master WHERE type IN ('table', 'view') AND substr(name, 1, 7) <> 'sqlite_'"
    ).fetchall()
    kinds = {str(name): str(kind) for name, kind in found}
    if stated is not None:
        if stated not in kinds:
            got = f"no '{stated}'" if kinds else "no table at all"
            remedy = nearest(stated, kinds) if kinds else "export the dump again"
            raise ReadingError("the table of [log] table of the profile", got, remedy, file=path)
        return stated, kinds[stated] == "view", ()
    tables = [name for name, kind in kinds.items() if kind == "table"]
    if not tables:
        got = "views only: " + ", ".join(f"'{name}'" for name in list(kinds)[:20]) if kinds else "none"
        raise ReadingError("a table in the database", got, "name a view in [log] table of a profile", file=path)
    if len(kinds) == 1:
        return tables[0], False, ()
    looks = {name: _looks_like_a_log(database, name) for name in tables}
    best = max(tables, key=lambda name: looks[name])
    others = ", ".join(f"'{name}'" for name in kinds if name != best)
    return best, False, (f"Table '{best}' was read, not {others[:300]} ([log] table chooses).",)


def _looks_like_a_log(database: sqlite3.Connection, table: str) -> tuple[bool, int]:
    """Whether a column holds stamps, then the number of rows; a table that cannot be read looks least like one."""
    try:
        sample = _table(database.execute(f"SELECT * FROM {_quoted(table)} LIMIT {_SAMPLE}"), False)
        rows = int(database.execute(f"SELECT count(*) FROM {_quoted(table)}").fetchone()[0])
    except (sqlite3.Error, OverflowError, UnicodeDecodeError):
        return False, -1
    for column in sample.iter_columns():
        stamps = read_clock([column])
        if stamps is not None and 2 * stamps.time.null_count() < sample.height:
            return True, rows
    return False, rows


def _rows(database: sqlite3.Connection, table: str, is_view: bool) -> pl.DataFrame:
    query = f"SELECT * FROM {_quoted(table)}"
    if not is_view:
        with contextlib.suppress(sqlite3.Error):  # a table WITHOUT ROWID
            return _table(database.execute(query + " ORDER BY rowid"), False)
    return _table(database.execute(query), is_view)


def _table(cursor: sqlite3.Cursor, as_text: bool) -> pl.DataFrame:
    """All rows of a query. A column whose cells are of several kinds becomes a column of texts."""
    names = unique_names([str(entry[0]) for entry in cursor.description])
    parts: list[list[pl.Series]] = [[] for _ in names]
    while rows := cursor.fetchmany(_BATCH):
        for part, name, cells in zip(parts, names, zip(*rows, strict=True), strict=True):
            part.append(_column(name, cells, as_text))
    columns = [_joined(name, part) for name, part in zip(names, parts, strict=True)]
    return pl.DataFrame(columns)


def _column(name: str, cells: tuple[Any, ...], as_text: bool) -> pl.Series:
    kinds = set(map(type, cells)) - {type(None)}
    if not as_text and kinds == {int}:
        return pl.Series(name, cells, dtype=pl.Int64)
    if not as_text and kinds == {float}:
        return pl.Series(name, cells, dtype=pl.Float64)
    if kinds <= {str}:
        return pl.Series(name, cells, dtype=pl.String)
    return pl.Series(name, [_text(cell) for cell in cells], dtype=pl.String)


def _text(cell: Any) -> str | None:
    if cell is None or isinstance(cell, str):
        return cell
    return cell.hex() if isinstance(cell, bytes) else repr(cell)


def _joined(name: str, parts: list[pl.Series]) -> pl.Series:
    if not parts:
        return pl.Series(name, [], dtype=pl.String)
    known = [part for part in parts if part.null_count() < len(part)]
    kinds = {part.dtype for part in known}
    dtype = kinds.pop() if len(kinds) == 1 else pl.String
    return pl.concat([_cast(part, dtype) for part in parts])


def _cast(part: pl.Series, dtype: Any) -> pl.Series:
    if part.dtype == dtype:
        return part
    if dtype == pl.String and part.dtype != pl.String:  # written as in a column of several kinds
        return pl.Series(part.name, [None if cell is None else repr(cell) for cell in part.to_list()], pl.String)
    return part.cast(dtype)


def _quoted(name: str) -> str:
    return '"' + name.replace('"', '""') + '"'


def _journals(path: Path) -> tuple[str, ...]:
    """What may be missing: changes that stand beside the database in a journal."""
    beside = [path.with_name(path.name + ending) for ending in ("-wal", "-journal")]
    found = [journal.name for journal in beside if journal.exists() and journal.stat().st_size]
    if found:
        return (f"'{found[0]}' beside the database holds changes that were not read: close the writer, copy again.",)
    with path.open("rb") as file:
        head = file.read(20)
    if head[18:20] == b"\x02\x02":
        return ("The database keeps newest rows in a file '-wal' beside it, which is not here: rows may be missing.",)
    return ()
