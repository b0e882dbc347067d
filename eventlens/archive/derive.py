"""What a month of a machine holds: a pure function of the dumps that have events in it.

The dumps are read together, as `eventlens review` would read them: overlaps are taken once, real repeats stay, their
order does not matter. So the order of adding cannot matter either, and verify can work the month out again.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import polars as pl

from eventlens.archive.dumps import Dump, by_user_names, with_span
from eventlens.archive.forms import ROW_GROUP
from eventlens.archive.tables import EVENT, IMPORT, RECORD, SET_ASIDE, fitted
from eventlens.errors import ArchiveError, ProfileError, ReadingError
from eventlens.reading import Log, read
from eventlens.reading.log import SourceFile


def read_dumps(dumps: Sequence[Dump], folder: Path) -> Log:
    """The log in dumps that are laid out in a folder and share a profile."""
    stated = dumps[0].stated
    try:
        return read([dump.place(folder) for dump in dumps], stated.profile(folder))
    except (ReadingError, ProfileError) as fault:
        raise by_user_names(fault, dumps) from None


@dataclass(frozen=True)
class _Together:
    """Dumps that were read together."""

    events: pl.DataFrame
    """schema.EVENTS."""
    counts: pl.DataFrame
    """file, month, events: how many there are."""
    set_aside: pl.DataFrame
    files: tuple[SourceFile, ...]


@dataclass(frozen=True)
class _Part:
    """What dumps that were read together hold of a month."""

    events: pl.DataFrame
    """schema.EVENTS: a tenth of what they take as rows of the archive, which are made as they are written."""
    files: tuple[SourceFile, ...]
    set_aside: pl.DataFrame
    ledger: pl.DataFrame

    def pieces(self) -> Iterator[pl.DataFrame]:
        """Rows of tables.RECORD without machine and month."""
        for begin in range(0, self.events.height, ROW_GROUP):
            rows = _placed(self.events.slice(begin, ROW_GROUP), self.files)
            yield rows.with_columns(kind=pl.lit(EVENT), place=pl.int_range(begin, begin + pl.len()))
        yield from (self.set_aside, self.ledger)


@dataclass(frozen=True)
class Month:
    """A month of a machine, worked out."""

    machine: str
    month: str
    parts: tuple[_Part, ...]

    @property
    def events(self) -> int:
        """How many there are."""
        return sum(part.events.height for part in self.parts)

    def pieces(self) -> Iterator[pl.DataFrame]:
        """tables.RECORD, some rows at a time: events, rows set aside, ledger."""
        labels = {"machine": pl.lit(self.machine), "month": pl.lit(self.month)}
        for part in self.parts:
            for rows in part.pieces():
                yield fitted(rows.with_columns(**labels), RECORD)


class Months:
    """Works out months; what was read together for one of them is kept for the next."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._kept: dict[frozenset[tuple[str, str | None]], _Together] = {}

    def looked_at(self, dump: Dump) -> Dump:
        """The dump with its months and its first and last record, from reading it alone."""
        self._kept = {}
        log = read_dumps([dump], self.folder)
        found = _together(log)
        first, last = log.segments["start"].min(), log.segments["end"].max()
        known = with_span(dump, found.counts["month"].to_list(), first, last)  # type: ignore[arg-type]
        self._kept = {frozenset([known.key]): found}
        return known

    def month(self, machine: str, month: str, dumps: Iterable[Dump]) -> Month:
        """A month; dumps: all of the machine. Dumps with different profiles are read apart."""
        here = sorted((dump for dump in dumps if month in dump.months), key=lambda dump: (dump.name, dump.file))
        parts = []
        for stated in sorted({dump.stated for dump in here}, key=lambda stated: stated.sha256 or ""):
            group = [dump for dump in here if dump.stated == stated]
            parts.append(_of_month(self._together(group), month, group))
        return Month(machine, month, tuple(parts))

    def _together(self, dumps: Sequence[Dump]) -> _Together:
        key = frozenset(dump.key for dump in dumps)
        if key not in self._kept:
            self._kept = {}  # what is kept goes before more is read
            found = _together(read_dumps(dumps, self.folder))
            _check(found.counts, dumps)
            self._kept = {key: found}
        return self._kept[key]


def _together(log: Log) -> _Together:
    days = log.events.lazy().select("row", day=pl.col("time").dt.date())
    if len(log.files) == 1:
        counts = days.group_by("day").len("events").collect().with_columns(file=pl.lit(log.files[0].sha256))
    else:
        counts = _placed(days.collect(), log.files).group_by("file", "day").len("events")
    months = counts.group_by("file", month=pl.col("day").dt.strftime("%Y-%m")).agg(pl.col("events").sum())
    return _Together(log.events, months.sort("file", "month"), _placed(log.rejected, log.files), log.files)


def _placed(rows: pl.DataFrame, files: Sequence[SourceFile]) -> pl.DataFrame:
    """The rows with file, name and line in it, in the place of the line of the log."""
    firsts = pl.DataFrame(
        {
            "first": [file.first_row for file in files],
            "shift": [file.first_line - file.first_row for file in files],
            "file": [file.sha256 for file in files],
            "name": [file.name for file in files],
        },
        schema={"first": pl.Int64, "shift": pl.Int64, "file": pl.String, "name": pl.String},
    ).sort("first", maintain_order=True)
    row = rows["row"].cast(pl.Int64)
    at = (firsts["first"].search_sorted(row, side="right").cast(pl.Int64) - 1).clip(0)
    return rows.drop("row").with_columns(
        file=firsts["file"].gather(at), name=firsts["name"].gather(at), line=row + firsts["shift"].gather(at)
    )


def _check(counts: pl.DataFrame, dumps: Sequence[Dump]) -> None:
    """ArchiveError where dumps read together show other months than each alone: their stamps are ambiguous."""
    months = {dump.file: set(dump.months) for dump in dumps}
    for file, month in counts.select("file", "month").iter_rows():
        if month not in months[file]:
            dump = next(dump for dump in dumps if dump.file == file)
            raise ArchiveError(
                f"stamps that mean the same alone and beside the other dumps, in '{dump.name}'",
                f"records in {month} that read alone lie in {' '.join(sorted(months[file]))}",
                "state time_format, year or date in [log] of a profile",
            )


def _of_month(found: _Together, month: str, dumps: Sequence[Dump]) -> _Part:
    """Events, rows set aside and ledger of a month."""
    homed = pl.Series([dump.file for dump in dumps if dump.home == month], dtype=pl.String)
    aside = found.set_aside.filter(pl.col("file").is_in(homed.implode())).with_columns(kind=pl.lit(SET_ASIDE))
    events = dict(found.counts.filter(pl.col("month") == month).select("file", "events").iter_rows())
    counts = {dump.file: _accounts(dump, found.files, events.get(dump.file, 0), aside) for dump in dumps}
    ledger = pl.DataFrame([_row(dump) | counts[dump.file] for dump in dumps], schema_overrides=dict(RECORD.schema))
    begin = pl.lit(f"{month}-01").str.to_datetime("%Y-%m-%d", time_unit="us", time_zone="UTC")
    within = pl.col("time").is_between(begin, begin.dt.offset_by("1mo"), closed="left")
    return _Part(found.events.filter(within), found.files, aside, ledger)


def _accounts(dump: Dump, files: Sequence[SourceFile], events: int, aside: pl.DataFrame) -> dict[str, int]:
    mine = [file for file in files if file.sha256 == dump.file]
    return {
        "rows": sum(file.rows for file in mine),
        "taken": sum(file.taken for file in mine),
        "rejected": sum(file.rejected for file in mine),
        "blank": sum(file.blank for file in mine),
        "repeated": sum(file.repeated for file in mine),
        "events": events,
        "set_aside": int((aside["file"] == dump.file).sum()),
    }


def _row(dump: Dump) -> dict[str, object]:
    return {
        "kind": IMPORT,
        "file": dump.file,
        "name": dump.name,
        "size": dump.size,
        "modified_ns": dump.modified_ns,
        "months": " ".join(dump.months),
        "home": dump.home,
        "first": dump.first,
        "last": dump.last,
        "profile": dump.stated.name,
        "profile_sha256": dump.stated.sha256,
        "profile_text": dump.stated.text,
        "who": dump.who,
        "added": dump.added,
    }
