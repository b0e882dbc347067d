"""Rows into the archive: every few seconds those of all machines, in one commit."""

from __future__ import annotations

import random
import time
from typing import Final

import polars as pl

from eventlens.archive.faults import ConflictError
from eventlens.archive.weeks import put
from eventlens.errors import ArchiveError
from eventlens.fleet.tasks import Plan

EVERY_S: Final = 5.0
"""So much work is lost at most when this program is killed [s]; a commit takes some hundredths of a second."""
AT_ONCE: Final = 100
"""Rows that are held back at most: a review of a week is a megabyte or less."""
TRIES: Final = 30
"""Lost races before giving up: others commit to the same machines now and then, not all the time."""


class Keeper:
    """Collects rows and writes them when it is time."""

    def __init__(self, plan: Plan) -> None:
        self._lake, self.table, self._stale = plan.lake, plan.table, plan.stale
        self._rows: list[pl.DataFrame] = []
        self._since = time.monotonic()

    def add(self, rows: pl.DataFrame) -> None:
        """Takes rows of the table."""
        self._rows.append(rows)
        if time.monotonic() - self._since > EVERY_S or sum(part.height for part in self._rows) >= AT_ONCE:
            self.write()

    def write(self) -> None:
        """Writes what there is."""
        if self._rows:
            self._put(pl.concat(self._rows), {})
        self._rows, self._since = [], time.monotonic()

    def close(self) -> None:
        """The last rows; what has no log any more goes, and many small files of a machine become one."""
        self.write()
        if any(self._stale.values()):
            self._put(self.table.empty(), self._stale)
        for machine in self._lake.crowded(self.table.name):
            self._lake.gather(self.table.name, machine)

    def _put(self, rows: pl.DataFrame, stale: dict[str, set[str]]) -> None:
        for attempt in range(TRIES):
            at = self._lake.made(self.table.name)
            try:
                # another writer's row of the same period may be the newer one: its key then says that ours is old
                put(self._lake, at, rows, stale, self.table)
            except ConflictError:
                time.sleep(random.uniform(0, min(1.0, 0.05 * 2**attempt)))  # so that two do not meet again
            else:
                return
        raise ArchiveError(
            "a moment in which nobody else writes reviews", f"{TRIES} lost races", "try again", file=self._lake.root
        )
