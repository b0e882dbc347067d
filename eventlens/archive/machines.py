"""The machines of an archive, and what the ledger and the entries say of them."""

from __future__ import annotations

from pathlib import Path

import polars as pl

from eventlens.archive import entries, views
from eventlens.archive.lake import Lake
from eventlens.archive.tables import RECORD
from eventlens.errors import ArchiveError, nearest


class Machines:
    """What is known without reading a dump."""

    def __init__(self, path: str | Path) -> None:
        self.lake = Lake(path)

    def __repr__(self) -> str:
        return f"Archive({self.lake.root!r})"

    @property
    def address(self) -> str:
        """Where it lies: an absolute folder, or the address of an object store."""
        return self.lake.root

    def version(self) -> tuple[object, ...]:
        """What changes whenever the archive does, whoever changes it; told without reading or opening it."""
        return self.lake.versions()

    def machines(self) -> list[str]:
        """The machines that have dumps or entries."""
        known = {*self.imports()["machine"], *self.entries()["machine"]}
        if not known:
            self.lake.opened(RECORD.name)
        return sorted(known)

    def contents(self) -> pl.DataFrame:
        """machine, month, dumps, events, set_aside, first and last record of the dumps: a row for each month."""
        return (
            self.imports()
            .group_by("machine", "month")
            .agg(
                dumps=pl.len(),
                events=pl.col("events").sum(),
                set_aside=pl.col("set_aside").sum(),
                first=pl.col("first").min(),
                last=pl.col("last").max(),
            )
            .sort("machine", "month")
        )

    def imports(self, machine: str | None = None) -> pl.DataFrame:
        """The ledger: a row for each dump and month (tables.RECORD, kind import)."""
        return views.imports(self.lake, machine)

    def entries(self, machine: str | None = None) -> pl.DataFrame:
        """Hand entries and machine files (tables.ENTRIES), the oldest first."""
        return entries.entries(self.lake, machine)

    def known(self, machine: str) -> str:
        """The name itself; ArchiveError where the archive does not know it."""
        if machine not in (known := self.machines()):
            raise ArchiveError("a machine of the archive", f"'{machine}'", nearest(machine, known), file=self.lake.root)
        return machine

    def only(self) -> str:
        """The machine of an archive that holds one."""
        known = self.machines()
        if len(known) > 1:
            raise ArchiveError(
                "one machine", f"an archive of {', '.join(known)}", "choose with --machine", file=self.lake.root
            )
        return known[0]
