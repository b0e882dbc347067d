"""Dumps into the archive: all of them in one commit, or none.

1. Each file is copied, hashed and read alone. A file that cannot be read is an error before anything is written.
2. The bytes go into `dumps`. Bytes without a ledger entry count for nothing, so a writer that dies here leaves nothing
   but waste.
3. From the state of `record` the months that the new dumps touch are worked out from all dumps of these months, and put
   in the place of the old ones together with the ledger, in one commit.
4. Where another writer has committed to the machine since that state, the commit is refused and step 3 begins again.

So the archive is at every moment what its ledger says, whoever died when; a dump that is there already changes nothing.
Months are replaced and not merged row by row because which rows two dumps share is a matter of whole stretches
(reading/overlap.py): a key of stamp, name, value and number of the repeat would swallow real repeats where the one
export ends and the next begins at the same stamp.
"""

from __future__ import annotations

import json
import random
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from eventlens.archive.derive import Months
from eventlens.archive.dumps import Dump, dumps_in, ledger
from eventlens.archive.faults import ConflictError
from eventlens.archive.forms import streamed
from eventlens.archive.lake import Lake, one_of, quoted
from eventlens.archive.parts import keep, lay_out
from eventlens.archive.tables import RECORD
from eventlens.errors import ArchiveError

Progress = Callable[[str], None]

TRIES: Final = 200
"""Commits that may be lost to other writers before it is given up (common practice, no source)."""
LONGEST_WAIT_S: Final = 1.0


@dataclass(frozen=True)
class Added:
    """What adding came to."""

    machine: str
    new: tuple[Dump, ...]
    known: tuple[Dump, ...]
    """Dumps that were there already, read in the same way."""
    events: int
    """Event rows of the months that were touched, after."""
    months: tuple[str, ...]
    """The months that were touched."""


def add_dumps(lake: Lake, machine: str, taken: Sequence[Dump], folder: Path, tell: Progress) -> Added:
    """Adds dumps of one machine that were taken into a folder (dumps.take)."""
    taken = list({dump.file: dump for dump in taken}.values())
    at = lake.made(RECORD.name)
    there = {dump.key for dump in dumps_in(ledger(lake, at, machine))}
    fresh, months = [], Months(folder)
    for dump in taken:
        if dump.key not in there:
            tell(f"reading {dump.name}")
            fresh.append(months.looked_at(dump))
    for attempt in range(TRIES):
        try:
            if fresh:
                tell("keeping the dumps")
                keep(lake, fresh, folder)  # what is there is not kept again
            return _commit(lake, machine, taken, fresh, months, tell)
        except ConflictError:
            time.sleep(random.uniform(0, min(LONGEST_WAIT_S, 0.02 * 2**attempt)))  # so that two do not meet again
    raise ArchiveError(
        "a moment in which no other writer adds to this machine", f"{TRIES} lost races", "try again", file=lake.root
    )


def _commit(
    lake: Lake, machine: str, taken: Sequence[Dump], fresh: Sequence[Dump], months: Months, tell: Progress
) -> Added:
    at = lake.opened(RECORD.name)
    before = dumps_in(ledger(lake, at, machine))
    there = {dump.key for dump in before}
    new = [dump for dump in fresh if dump.key not in there]
    known = tuple(dump for dump in taken if dump.key in there)
    if not new:
        return Added(machine, (), known, 0, ())
    again = {dump.file for dump in new}
    after = [*(dump for dump in before if dump.file not in again), *new]
    # a dump that is read anew with another profile leaves the months in which it was
    moved = [dump for dump in before if dump.file in again]
    touched = sorted({month for dump in (*new, *moved) for month in dump.months})
    lay_out(lake, [dump for dump in after if set(dump.months) & set(touched)], months.folder)
    tell(f"working out {', '.join(touched)}")
    found = [months.month(machine, month, after) for month in touched]
    tell("writing")
    where = f"machine = {quoted(machine)} AND {one_of('month', touched)}"
    rows = streamed((piece for month in found for piece in month.pieces()), RECORD)
    lake.replace(at, where, rows, token(machine), said={"eventlens.import": _said(new)})
    return Added(machine, tuple(new), known, sum(month.events for month in found), tuple(touched))


def token(machine: str) -> str:
    """Two writers to one machine never both succeed from one state."""
    return f"eventlens {machine}"


def _said(dumps: Sequence[Dump]) -> str:
    """The ledger of one import as it stands in the metadata of its commit."""
    rows: list[dict[str, Any]] = [
        {
            "machine": dump.machine,
            "file": dump.file,
            "name": dump.name,
            "profile_sha256": dump.stated.sha256,
            "who": dump.who,
            "added": dump.added.isoformat(),
        }
        for dump in dumps
    ]
    return json.dumps(rows)
