"""The files of one dump in the order in which they follow each other, without the rows that a file before holds.

Exports often repeat the tail of the one before: such rows are recognised (overlap.py) and taken once. Their lines of
the log are those of the first file that holds them, so the same log in any pieces has the same lines.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations, pairwise
from typing import Final

import numpy as np
import polars as pl

from eventlens.reading import clock, order
from eventlens.reading.files import natural
from eventlens.reading.joined import Joined, Pieces
from eventlens.reading.overlap import Shared, Tape, chains, shared_rows
from eventlens.reading.profile import Profile
from eventlens.reading.raw import RawTable
from eventlens.reading.rows import has_counter

PARALLEL_NOTE: Final = "Files cover the same time with different names: their rows were merged by time."
RINGS_NOTE: Final = "Ring buffers dumped from their first slot were turned to their oldest row: {}."


@dataclass(frozen=True)
class _File:
    """A file with the stamps of its rows (Int64, null: not understood) and, for a ring buffer, its oldest line."""

    raw: RawTable
    time: pl.Series
    seam: int = 0

    @property
    def stamps(self) -> pl.Series:
        """The stamps that were understood, in the order of the record."""
        time = self.time
        if self.seam:
            at = int(np.searchsorted(self.raw.lines.to_numpy(), self.seam))
            time = time.slice(at).append(time.head(at))
        return time.drop_nulls()


def in_pieces(
    raws: Sequence[RawTable], profile: Profile, time_columns: Sequence[str], names: Sequence[str], data: Sequence[str]
) -> Pieces:
    """The files in order. names: columns of the names, data: the other columns by which rows are told apart."""
    if len(raws) == 1:
        return Pieces(list(raws), [raws[0].first_line], [raws[0].first_line], [0])
    late_us = round(profile.log.late_s * 1e6)
    files = _stamped(raws, profile, time_columns)
    turned = [_turned(file, late_us) for file in files]
    columns = (*names, *data)
    if any(file.seam for file in turned):
        plan = _Plan.of(turned, time_columns, columns, late_us)
        plain = _Plan.of(files, time_columns, columns, late_us)
        if plan.steps_back(late_us) < plain.steps_back(late_us):
            which = ", ".join(file.raw.path.name for file in turned if file.seam)
            return replace(plan.pieces(), notes=(RINGS_NOTE.format(which),))
    plan = _Plan.of(files, time_columns, columns, late_us)
    found = plan.pieces()
    if names and plan.parallel(names, late_us):
        return replace(found, parallel=True, notes=(PARALLEL_NOTE,))
    return found


def _stamped(raws: Sequence[RawTable], profile: Profile, time_columns: Sequence[str]) -> list[_File]:
    whole = pl.concat([raw.frame.select(time_columns) for raw in raws])
    origin = clock.Origin.of(profile.log, [(raw.path, raw.frame.height) for raw in raws])
    stamps = clock.read_clock([whole[name] for name in time_columns], profile.log.time_format, origin)
    times = stamps.time if stamps else pl.repeat(None, whole.height, dtype=pl.Int64, eager=True)
    ends = np.cumsum([raw.frame.height for raw in raws])
    return [
        _File(raw, times.slice(int(end) - raw.frame.height, raw.frame.height))
        for raw, end in zip(raws, ends, strict=True)
    ]


def _turned(file: _File, late_us: int) -> _File:
    """The file as a ring buffer, if its stamps look like one."""
    known = file.time.is_not_null()
    time = file.time.filter(known)
    frame = file.raw.frame
    first = 0 if order.newest_first(time) else order.ring_start(time, late_us, lambda: has_counter(frame))
    return replace(file, seam=int(file.raw.lines.filter(known)[first])) if first else file


@dataclass(frozen=True)
class _Plan:
    """Files, which of their rows are the same, and the chains in their order."""

    files: list[_File]
    tapes: list[Tape]
    shared: dict[tuple[int, int], Shared]
    chains: list[list[int]]
    inside: dict[int, int]

    @classmethod
    def of(cls, files: list[_File], time_columns: Sequence[str], columns: Sequence[str], late_us: int) -> _Plan:
        tapes: list[Tape] = []
        shared: dict[tuple[int, int], Shared] = {}
        stamps = [file.stamps for file in files]
        if _meet(stamps) or any(file.seam for file in files):
            tapes = [Tape.of(file.raw, file.time, time_columns, columns, file.seam) for file in files]
            shared = shared_rows(tapes)
        sizes = [len(tape.keys) for tape in tapes] or [1] * len(files)
        found, inside = chains(shared, sizes)
        plan = cls(files, tapes, shared, found, inside)
        joined = [order.Piece(natural(files[chain[0]].raw.path), plan._own(chain)) for chain in found]
        return replace(plan, chains=[found[at] for at in order.order_of_files(joined, late_us)])

    def steps_back(self, late_us: int) -> int:
        """At how many places the record goes back."""
        whole = pl.concat([self._own(chain) for chain in self.chains])
        return int((whole.diff() < -late_us).sum())

    def _own(self, chain: list[int]) -> pl.Series:
        """The stamps of a chain, each row once."""
        parts = [self.files[chain[0]].stamps]
        for before, at in pairwise(chain):
            stamps = self.files[at].stamps
            parts.append(stamps.tail(max(len(stamps) - len(self.shared[before, at].second), 0)))
        return pl.concat(parts)

    def parallel(self, names: Sequence[str], late_us: int) -> bool:
        """Whether chains cover the same time, each rising, and those that do have no name in common."""
        spans = [self._own(chain) for chain in self.chains]
        if any(len(span) > 1 and int(span.diff().min()) < -late_us for span in spans):  # type: ignore[arg-type]
            return False
        met = False
        for one, other in combinations(range(len(spans)), 2):
            if not len(spans[one]) or not len(spans[other]):
                continue
            low = max(int(spans[one][0]), int(spans[other][0]))
            if min(int(spans[one].max()), int(spans[other].max())) - low <= late_us:  # type: ignore[arg-type]
                continue
            if self._names(self.chains[one], names) & self._names(self.chains[other], names):
                return False
            met = True
        return met

    def _names(self, chain: list[int], names: Sequence[str]) -> set[tuple[object, ...]]:
        parts = [self.files[at].raw.frame.select(pl.col(names).cast(pl.String)).unique() for at in chain]
        return {row for part in parts for row in part.iter_rows()}

    def pieces(self) -> Pieces:
        """The files in the order of the log with their lines; those that lie wholly in another one stand last."""
        joined = Joined(self.tapes)
        for chain in self.chains:
            joined.begin(chain[0], self.files[chain[0]].raw)
            for before, at in pairwise(chain):
                turned = bool(self.files[before].seam or self.files[at].seam)
                joined.go_on(before, at, self.files[at].raw, self.shared[before, at], turned=turned)
        for at in sorted(self.inside, key=lambda at: natural(self.files[at].raw.path)):
            joined.leave_out(at, self.files[at].raw)
        return joined.pieces(moved=any(file.seam for file in self.files))


def _meet(stamps: Sequence[pl.Series]) -> bool:
    """Whether the stamps of two files cover or touch the same time."""
    spans = sorted((int(s.min()), int(s.max())) for s in stamps if len(s))  # type: ignore[arg-type]
    return any(after[0] <= before[1] for before, after in pairwise(spans))
