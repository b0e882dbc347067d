"""Delta tables in a folder or on an object store: opened, created, read with SQL, written; faults as one sentence.

Readers see a commit as a whole or not at all. A commit that two writers make from the same state succeeds for one of
them; the other gets `ConflictError` and begins again from the new state. What a writer left behind that died before its
commit belongs to no state, is never read, and is swept later (`Lake.sweep`).
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import unquote

import polars as pl
import pyarrow as pa

from eventlens.archive.tables import PARTITIONS, STATISTICS, TABLES, VERSION, fitted
from eventlens.errors import ArchiveError
from eventlens.schema import Table

if TYPE_CHECKING:
    from deltalake import DeltaTable

ROW_GROUP: Final = 1 << 16
"""Rows that are read together at least: so that two hours of a month are found without reading it whole."""
SMALL_FILES: Final = 8
"""Files of a table and machine that are left side by side: some for what is still being written, and few to open."""
_SCHEME: Final = re.compile(r"([a-z][a-z0-9+.-]+):/+(.*)", re.DOTALL)
_LOCAL: Final = ("file", "memory")
"""Schemes of addresses without a host."""
_COLOUR: Final = re.compile("\x1b\\[[0-9;]*m")
MESSAGE: Final = 400
"""Characters of what the store says that are shown."""
_COMMIT: Final = re.compile(r"\d{20}\.json")
_VERSION: Final = re.compile(r"form (\d+)")


class ConflictError(Exception):
    """Another writer has committed to the same part of the archive since its state was read."""


def address(given: str | Path) -> str:
    """Where an archive lies: an absolute folder, or an address such as s3://bucket/folder as it is.

    A path object folds the slashes of an address; they are put back.
    """
    text = str(given)
    if found := _SCHEME.fullmatch(text):
        scheme, rest = found.groups()
        return f"{scheme}:///{rest}" if scheme in _LOCAL else f"{scheme}://{rest}"
    return str(Path(text).expanduser().absolute())


def quoted(text: str) -> str:
    """A text as it stands in SQL."""
    return "'" + text.replace("'", "''") + "'"


def one_of(column: str, values: Sequence[str]) -> str:
    """SQL: the column is one of these texts."""
    return f"{column} IN ({', '.join(quoted(value) for value in values)})"


class Lake:
    """The tables of one archive."""

    def __init__(self, given: str | Path) -> None:
        self.root = address(given)
        self._followed: dict[str, DeltaTable] = {}
        self._following = Lock()

    def versions(self) -> tuple[object, ...]:
        """Something for each of TABLES that is another one after every commit, by whomever; None where there is none.

        In a folder the name and the time of its last commit, which costs next to nothing; at an address only the
        commits since the last look are asked for.
        """
        folder = self._folder()
        with self._following:
            return tuple(self._followed_to(name) if folder is None else _last_commit(folder / name) for name in TABLES)

    def _followed_to(self, name: str) -> int | None:
        """The version of a table, which stays opened to be followed."""
        if (known := self._followed.get(name)) is None:
            if (found := self.table(name)) is None:
                return None
            known = self._followed[name] = found
        with self.said("an archive that can be read"):
            known.update_incremental()
        return known.version()

    def _folder(self) -> Path | None:
        """Where the tables lie on this computer; None on an object store."""
        scheme, _, rest = self.root.rpartition("://")
        return Path(rest) if scheme in ("", "file") else None

    def table(self, name: str) -> DeltaTable | None:
        """A table in its present state; None where there is none. ArchiveError where its form is newer than known."""
        from deltalake import DeltaTable
        from deltalake.exceptions import TableNotFoundError

        with self.said("an archive that can be read"):
            try:
                table = DeltaTable(f"{self.root}/{name}")
            except TableNotFoundError:
                return None
            found = _VERSION.search(table.metadata().description or "")
        if found is None:
            raise ArchiveError(
                "an archive of eventlens", f"a table '{name}' of something else", "name another folder", file=self.root
            )
        if int(found.group(1)) > VERSION:
            raise ArchiveError(
                f"an archive of form {VERSION} or older",
                f"form {found.group(1)}",
                "open it with the newer eventlens that wrote it",
                file=self.root,
            )
        return table

    def opened(self, name: str) -> DeltaTable:
        """A table in its present state; ArchiveError where there is no archive."""
        table = self.table(name)
        if table is None:
            raise ArchiveError(
                "an archive", "nothing there", "check the path, or begin one with eventlens archive add", file=self.root
            )
        return table

    def made(self, name: str) -> DeltaTable:
        """A table in its present state, made if it is not there yet."""
        from deltalake import DeltaTable
        from deltalake.exceptions import DeltaError

        if (found := self.table(name)) is not None:
            return self._renewed(found)
        self._must_be_free()
        table = TABLES[name]
        fields = [pa.field(n, _arrow(c.dtype), nullable=True) for n, c in table.columns.items()]
        with self.said("an archive that can be written"):
            try:
                return DeltaTable.create(
                    f"{self.root}/{name}",
                    schema=pa.schema(fields),
                    mode="error",
                    partition_by=list(PARTITIONS[name]),
                    name=f"eventlens {name}",
                    description=_described(),
                    configuration=_statistics(name),
                )
            except DeltaError:
                if (found := self.table(name)) is not None:  # another writer was quicker
                    return found
                raise

    def _renewed(self, at: DeltaTable) -> DeltaTable:
        """The table, brought to the present form if it is of an older one: with the columns that came since."""
        from deltalake import Field, Schema

        name = at.table_uri.rstrip("/").rpartition("/")[2]
        known = {field.name for field in at.schema().fields}
        fields = [pa.field(n, _arrow(c.dtype)) for n, c in TABLES[name].columns.items() if n not in known]
        if not fields:
            return at
        with self.said("an archive that can be written"):
            new: list[Field] = Schema.from_arrow(pa.schema(fields)).fields
            at.alter.add_columns(new)
            at.alter.set_table_description(_described())
        return self.opened(name)

    def read(
        self, at: DeltaTable | None, table: Table, where: str = "true", columns: Sequence[str] = ()
    ) -> pl.DataFrame:
        """Rows of a table for which the SQL condition holds, in the state that `at` is; columns and types as in tables.

        columns: only these are read. What an older archive lacks is empty, as is all of one that is not there.
        """
        if at is None:
            return table.empty()
        there = {field.name for field in at.schema().fields}
        wanted = ", ".join(f'"{name}"' for name in columns or table.columns if name in there)
        with self.said("an archive that can be read"):
            parts = [pl.DataFrame(pa.table(batch)) for batch in self.stream(at, where, wanted)]
        frame = fitted(pl.concat(parts) if parts else table.empty(), table)
        return frame.select(columns) if columns else frame

    def stream(self, at: DeltaTable, where: str, columns: str) -> Iterator[Any]:
        """As read, batch by batch (Arrow); columns in SQL."""
        from deltalake import QueryBuilder

        try:
            yield from QueryBuilder().register("t", at).execute(f"SELECT {columns} FROM t WHERE {where}")
        except Exception as fault:
            if type(fault) is not Exception:
                raise
            raise OSError(str(fault)) from fault  # the query engine knows no kind of its own

    def append(self, at: DeltaTable, rows: pl.DataFrame | pa.RecordBatchReader) -> None:
        """Adds rows in one commit; appends never stand in each other's way."""
        from deltalake import write_deltalake

        with self.said("an archive that can be written"):
            write_deltalake(at, rows, mode="append", schema_mode="merge", writer_properties=_properties())

    def replace(
        self,
        at: DeltaTable,
        where: str,
        rows: pl.DataFrame,
        *tokens: str,
        said: dict[str, str] | None = None,
    ) -> None:
        """Puts rows in the place of those for which the SQL condition holds, in one commit from the state `at`.

        tokens: writers with the same one never both succeed from one state. said: goes into the commit's metadata.
        """
        from deltalake import CommitProperties, Transaction, write_deltalake

        taken = [Transaction(token, (at.transaction_version(token) or 0) + 1) for token in tokens]
        with self.said("an archive that can be written"):
            write_deltalake(
                at,
                rows,
                mode="overwrite",
                predicate=where,
                writer_properties=_properties(),
                commit_properties=CommitProperties(custom_metadata=said or {}, app_transactions=taken),
            )

    def gather(self, name: str, machine: str) -> None:
        """Puts the small files of a machine into one where there are more than SMALL_FILES: each costs as much to open.

        Nothing that is read changes; a writer that is quicker leaves it for the next time.
        """
        at = self.opened(name)
        mine = [("machine", "=", machine)]
        try:
            with self.said("an archive that can be written"):
                if len(at.file_uris(file_pruning_predicate=mine)) > SMALL_FILES:
                    at.optimize.compact(partition_filters=mine, writer_properties=_properties())
                    at.create_checkpoint()  # so that opening need not read every commit again
        except ConflictError:
            return

    def crowded(self, name: str) -> list[str]:
        """The machines that have more than SMALL_FILES files in a table; see gather."""
        if (at := self.table(name)) is None:
            return []
        with self.said("an archive that can be read"):
            files = pl.DataFrame(pa.table(at.get_add_actions(flatten=True)))
        counts = files.group_by(machine="partition.machine").len().filter(pl.col("len") > SMALL_FILES)
        return sorted(counts["machine"])

    def sweep(self) -> int:
        """Deletes files that no state of the last week needs: replaced ones, and those of writers that died."""
        gone = 0
        for name in TABLES:
            if (table := self.table(name)) is not None:
                with self.said("an archive that can be written"):
                    gone += len(table.vacuum(dry_run=False, full=True))
        return gone

    def files(self, at: DeltaTable) -> Iterator[tuple[str, int, int | None]]:
        """Of each file that a state needs: its path, bytes that were written, bytes that are there (None: no file).

        Nothing for an archive on an object store: there, reading shows it.
        """
        if (folder := self._folder()) is None:
            return
        name = at.table_uri.rstrip("/").rpartition("/")[2]
        actions = pa.table(at.get_add_actions(flatten=True))
        for path, size in zip(actions["path"].to_pylist(), actions["size_bytes"].to_pylist(), strict=True):
            file = folder / name / unquote(path)
            yield f"{name}/{unquote(path)}", size, file.stat().st_size if file.is_file() else None

    def _must_be_free(self) -> None:
        """ArchiveError where the folder holds something that is no archive."""
        folder = Path(self.root)
        if "://" in self.root or not folder.exists():
            return
        if not folder.is_dir():
            raise ArchiveError("a folder for the archive", "a file", "name another place", file=self.root)
        if other := sorted(path.name for path in folder.iterdir() if path.name not in TABLES):
            raise ArchiveError(
                "an archive or an empty folder", f"a folder with '{other[0]}'", "name another folder", file=self.root
            )

    @contextmanager
    def said(self, wanted: str) -> Iterator[None]:
        """Turns what the store refuses into one sentence, and a lost race into ConflictError."""
        from deltalake.exceptions import CommitFailedError, DeltaError

        try:
            yield
        except CommitFailedError as fault:
            raise ConflictError(str(fault)) from fault
        except (DeltaError, OSError, pa.ArrowException, pl.exceptions.PolarsError) as fault:
            got = " ".join(_COLOUR.sub("", str(fault)).split())[:MESSAGE] or type(fault).__name__
            remedy = "check path, rights and free space; eventlens archive verify says what is wrong"
            raise ArchiveError(wanted, f"'{got}'", remedy, file=self.root) from fault


def _last_commit(table: Path) -> tuple[str, int] | None:
    """Name and time [ns] of the last commit of a table in a folder."""
    try:
        commits = [entry for entry in os.scandir(table / "_delta_log") if _COMMIT.fullmatch(entry.name)]
        last = max(commits, key=lambda entry: entry.name, default=None)
        return None if last is None else (last.name, last.stat().st_mtime_ns)
    except OSError:
        return None


def _described() -> str:
    return f"eventlens archive, form {VERSION}"


def _statistics(name: str) -> dict[str, str | None]:
    """Columns whose least and greatest value each commit notes, where not that of the first columns.

    A review among them would make the record of commits as large as the reviews, and that is read to open a table.
    """
    return {"delta.dataSkippingStatsColumns": columns} if (columns := STATISTICS.get(name)) else {}


def _properties() -> Any:
    from deltalake import WriterProperties

    return WriterProperties(compression="ZSTD", max_row_group_size=ROW_GROUP)


def _arrow(dtype: Any) -> pa.DataType:
    if isinstance(dtype, pl.List):
        return pa.list_(_arrow(dtype.inner))
    if isinstance(dtype, pl.Struct):
        return pa.struct([pa.field(field.name, _arrow(field.dtype)) for field in dtype.fields])
    return {
        pl.String: pa.string(),
        pl.Int64: pa.int64(),
        pl.Float64: pa.float64(),
        pl.Binary: pa.binary(),
        pl.Datetime: pa.timestamp("us", "UTC"),
    }[type(dtype)]
