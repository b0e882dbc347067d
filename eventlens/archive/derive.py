"""What a month of a machine holds: a pure function of the dumps that have events in it.

The dumps are read together, as `eventlens review` would read them: overlaps are taken once, real repeats stay, their
order does not matter. So the order of adding cannot matter either, and verify can work the month out again.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import polars as pl

from eventlens.archive.dumps import Dump, by_user_names, with_span
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
    set_aside: pl.DataFrame
    files: tuple[SourceFile, ...]


class Months:
    """Works out months; what was read together for one of them is kept for the next."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._kept: dict[frozenset[tuple[str, str | None]], _Together] = {}

    def looked_at(self, dump: Dump) -> Dump:
        """The dump with its months and its first and last record, from reading it alone."""
        log = read_dumps([dump], self.folder)
        months = log.events["time"].dt.strftime("%Y-%m").unique().to_list()
        first, last = log.segments["start"].min(), log.segments["end"].max()
        known = with_span(dump, months, first, last)  # type: ignore[arg-type]
        self._kept = {frozenset([known.key]): _together(log, [known])}
        return known

    def rows(self, machine: str, month: str, dumps: Iterable[Dump]) -> pl.DataFrame:
        """tables.RECORD of a month; dumps: all of the machine. Dumps with different profiles are read apart."""
        here = sorted((dump for dump in dumps if month in dump.months), key=lambda dump: (dump.name, dump.file))
        parts = [fitted(RECORD.empty(), RECORD)]
        for stated in sorted({dump.stated for dump in here}, key=lambda stated: stated.sha256 or ""):
            group = [dump for dump in here if dump.stated == stated]
            parts += _of_month(self._together(group), month, group)
        labels = (pl.lit(machine).alias("machine"), pl.lit(month).alias("month"))
        return fitted(pl.concat(parts).with_columns(*labels), RECORD)

    def _together(self, dumps: Sequence[Dump]) -> _Together:
        key = frozenset(dump.key for dump in dumps)
        if key not in self._kept:
            self._kept = {key: _together(read_dumps(dumps, self.folder), dumps)}
        return self._kept[key]


def _together(log: Log, dumps: Sequence[Dump]) -> _Together:
    events = log.events.select(
        "time",
        "value",
        "row",
        place=pl.int_range(pl.len()),
        month=pl.col("time").dt.strftime("%Y-%m"),
        signal=pl.col("signal").cast(pl.String),
        segment=pl.col("segment").cast(pl.Int64),
    )
    found = _Together(_placed(events, log.files), _placed(log.rejected, log.files), log.files)
    _check(found.events, dumps)
    return found


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


def _check(events: pl.DataFrame, dumps: Sequence[Dump]) -> None:
    """ArchiveError where dumps read together show other months than each alone: their stamps are ambiguous."""
    months = {dump.file: set(dump.months) for dump in dumps}
    for file, month in events.select("file", "month").unique().sort("file", "month").iter_rows():
        if month not in months[file]:
            dump = next(dump for dump in dumps if dump.file == file)
            raise ArchiveError(
                f"stamps that mean the same alone and beside the other dumps, in '{dump.name}'",
                f"records in {month} that read alone lie in {' '.join(sorted(months[file]))}",
                "state time_format, year or date in [log] of a profile",
            )


def _of_month(found: _Together, month: str, dumps: Sequence[Dump]) -> list[pl.DataFrame]:
    """Events, rows set aside and ledger of a month."""
    events = found.events.filter(pl.col("month") == month).with_columns(
        kind=pl.lit(EVENT), place=pl.int_range(pl.len())
    )
    homed = pl.Series([dump.file for dump in dumps if dump.home == month], dtype=pl.String)
    aside = found.set_aside.filter(pl.col("file").is_in(homed.implode())).with_columns(kind=pl.lit(SET_ASIDE))
    counts = {dump.file: _accounts(dump, found.files, events, aside) for dump in dumps}
    ledger = pl.DataFrame([_row(dump) | counts[dump.file] for dump in dumps], schema_overrides=dict(RECORD.schema))
    return [fitted(part, RECORD) for part in (events, aside, ledger)]


def _accounts(dump: Dump, files: Sequence[SourceFile], events: pl.DataFrame, aside: pl.DataFrame) -> dict[str, int]:
    mine = [file for file in files if file.sha256 == dump.file]
    return {
        "rows": sum(file.rows for file in mine),
        "taken": sum(file.taken for file in mine),
        "rejected": sum(file.rejected for file in mine),
        "blank": sum(file.blank for file in mine),
        "repeated": sum(file.repeated for file in mine),
        "events": int((events["file"] == dump.file).sum()),
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
