"""Delta tables in a folder or on an object store: opened, created, read with SQL, written; faults as one sentence.

Readers see a commit as a whole or not at all. A commit that two writers make from the same state succeeds for one of
them; the other gets `ConflictError` and begins again from the new state. What a writer left behind that died before its
commit belongs to no state, is never read, and is swept later (`Lake.sweep`).
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from contextlib import AbstractContextManager
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import unquote

import polars as pl
import pyarrow as pa

from eventlens.archive.faults import ConflictError, said
from eventlens.archive.forms import arrow, described, properties, statistics
from eventlens.archive.place import address, folder_of, last_commit, must_be_free
from eventlens.archive.tables import PARTITIONS, TABLES, VERSION, fitted
from eventlens.errors import ArchiveError
from eventlens.schema import Table

if TYPE_CHECKING:
    from deltalake import DeltaTable

SMALL_FILES: Final = 8
"""Files of a table and machine that are left side by side: some for what is still being written, and few to open."""
_VERSION: Final = re.compile(r"form (\d+)")


def quoted(text: str) -> str:
    """A text as it stands in SQL."""
    return "'" + text.replace("'", "''") + "'"


def one_of(column: str, values: Sequence[str]) -> str:
    """SQL: the column is one of these texts."""
    return f"{column} IN ({', '.join(quoted(value) for value in values)})"


def _name(at: DeltaTable) -> str:
    """Which of our tables it is."""
    return at.table_uri.rstrip("/").rpartition("/")[2]


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
        folder = folder_of(self.root)
        with self._following:
            return tuple(self._followed_to(name) if folder is None else last_commit(folder / name) for name in TABLES)

    def _followed_to(self, name: str) -> int | None:
        """The version of a table, which stays opened to be followed."""
        if (known := self._followed.get(name)) is None:
            if (found := self.table(name)) is None:
                return None
            known = self._followed[name] = found
        with self.said("an archive that can be read"):
            known.update_incremental()
        return known.version()

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
        must_be_free(self.root)
        table = TABLES[name]
        fields = [pa.field(n, arrow(c.dtype), nullable=True) for n, c in table.columns.items()]
        with self.said("an archive that can be written"):
            try:
                return DeltaTable.create(
                    f"{self.root}/{name}",
                    schema=pa.schema(fields),
                    mode="error",
                    partition_by=list(PARTITIONS[name]),
                    name=f"eventlens {name}",
                    description=described(),
                    configuration=statistics(name),
                )
            except DeltaError:
                if (found := self.table(name)) is not None:  # another writer was quicker
                    return found
                raise

    def _renewed(self, at: DeltaTable) -> DeltaTable:
        """The table, brought to the present form if it is of an older one: with the columns that came since."""
        from deltalake import Field, Schema

        name = _name(at)
        known = {field.name for field in at.schema().fields}
        fields = [pa.field(n, arrow(c.dtype)) for n, c in TABLES[name].columns.items() if n not in known]
        if not fields:
            return at
        with self.said("an archive that can be written"):
            new: list[Field] = Schema.from_arrow(pa.schema(fields)).fields
            at.alter.add_columns(new)
            at.alter.set_table_description(described())
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
        """Adds rows in one commit. Appends stand in each other's way only where a table is just being made: then a
        ConflictError, and whoever adds begins again.
        """
        from deltalake import write_deltalake

        with self.said("an archive that can be written"):
            write_deltalake(at, rows, mode="append", schema_mode="merge", writer_properties=properties(_name(at)))

    def replace(
        self,
        at: DeltaTable,
        where: str,
        rows: pl.DataFrame | pa.RecordBatchReader,
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
                writer_properties=properties(_name(at)),
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
                    at.optimize.compact(partition_filters=mine, writer_properties=properties(name))
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
        if (folder := folder_of(self.root)) is None:
            return
        name = _name(at)
        actions = pa.table(at.get_add_actions(flatten=True))
        for path, size in zip(actions["path"].to_pylist(), actions["size_bytes"].to_pylist(), strict=True):
            file = folder / name / unquote(path)
            yield f"{name}/{unquote(path)}", size, file.stat().st_size if file.is_file() else None

    def said(self, wanted: str) -> AbstractContextManager[None]:
        """Turns what the store refuses into one sentence, and a lost race into ConflictError."""
        return said(self.root, wanted)
