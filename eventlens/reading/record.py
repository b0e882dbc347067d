"""Files -> one record: joined in order, stamped in UTC, rows in the order in which they were written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import polars as pl

from eventlens import schema
from eventlens.errors import ReadingError
from eventlens.reading import clock, order
from eventlens.reading.clocks.stamps import Stamps
from eventlens.reading.pieces import in_pieces
from eventlens.reading.profile import Profile
from eventlens.reading.raw import BAD_STAMP, NO_SUCH_HOUR, RawTable, row_text, set_aside
from eventlens.reading.rows import LINE, Rows, arrange, in_time
from eventlens.reading.shape import Shape
from eventlens.spill import give_back

HEADERS_SAID: Final = 5


@dataclass(frozen=True)
class Record:
    """All rows whose stamp was understood, in the order of the record."""

    frame: pl.DataFrame
    """The raw columns."""
    lines: pl.Series
    """UInt32, line of the log."""
    time: pl.Series
    """schema.TIME."""
    steps: pl.Series
    """Positions of rows before which the clock stepped."""
    rejected: pl.DataFrame
    """schema.REJECTED so far."""
    raws: tuple[RawTable, ...]
    """The files in the order of the log."""
    first_rows: tuple[int, ...]
    """Line of the log of each file's first data line."""
    own_rows: tuple[int, ...]
    """Line of the log from which on lines are each file's alone: above first_rows where its head is repeated."""
    repeated: tuple[int, ...]
    """Rows of each file that another file holds already."""
    headers_again: tuple[int, ...]
    """Lines of the log at which the header stands again."""
    turned: bool
    """Whether the rows stood in another order in their files: as a ring buffer, or newest first."""
    reordered: int
    notation: str
    readings: tuple[tuple[str, int], ...]
    """Each reading of the stamps that was possible with the rows that it explains, the taken one first."""
    undated: pl.Series
    """UInt32, lines of rows whose stamp shows no instant; they stand at the time of the row before."""
    resolution_us: int
    notes: tuple[str, ...]

    @property
    def begins(self) -> pl.Series:
        """Positions of the rows at which another file goes on."""
        if len(self.own_rows) == 1:
            return pl.Series(dtype=pl.UInt32)
        file = pl.Series(self.own_rows, dtype=pl.UInt32).search_sorted(self.lines, side="right")
        return (file != file.shift()).fill_null(True).arg_true()


def make_record(raws: Sequence[RawTable], profile: Profile, shape: Shape) -> Record:
    """The record of one machine from its files' raw tables."""
    time_columns = shape.time
    late_us = round(profile.log.late_s * 1e6)
    zone = profile.log.timezone or "UTC"
    pieces = in_pieces(raws, profile, time_columns, shape.name, shape.told_apart_by(raws[0].frame))
    raws, firsts = pieces.raws, pieces.first_rows
    frame, rejected = _join(raws, firsts, pieces.places)
    again = tuple(
        line + first - raw.first_line for raw, first in zip(raws, firsts, strict=True) for line in raw.headers_again
    )
    stamps = _stamps(frame, raws, firsts, profile, time_columns).placed()
    give_back()  # the texts of the stamps are not looked at again
    rows = Rows(frame, stamps, stamps.time)
    rows, refused = _set_aside(rows, stamps.time.is_null(), BAD_STAMP, raws[0])
    if profile.log.timezone is None:
        rows = replace(rows, stamps=clock.without_zone(rows.stamps, late_us, rows.frame[LINE]))
    undated = _lines_of(rows.frame, rows.stamps.undated)
    utc, missing, zone_notes = clock.to_utc(rows.stamps, zone, late_us)
    rows, out_of_zone = _set_aside(replace(rows, utc=utc), missing, NO_SUCH_HOUR, raws[0])
    notes = [note for raw in raws for note in raw.notes]
    notes += [f"The header stands again in line {line}." for line in again[:HEADERS_SAID]]
    stamps = rows.stamps
    if profile.log.timezone is None and not stamps.floating and (stamps.absolute is None or not stamps.absolute.all()):
        notes.append("The stamps carry no zone: read as UTC; state [log] timezone in the profile.")
    rows = in_time(rows) if pieces.parallel else arrange(rows, zone, late_us, time_columns)
    settled = order.settle(rows.utc, late_us, rows.stamps.breaks)
    frame = rows.frame if settled.move is None else rows.frame[settled.move]
    return Record(
        frame.drop(LINE),
        frame[LINE],
        settled.time.cast(pl.Datetime("us")).dt.replace_time_zone("UTC"),
        settled.steps,
        pl.concat([rejected, refused, out_of_zone]),
        tuple(raws),
        tuple(firsts),
        tuple(pieces.own_rows),
        tuple(pieces.repeated),
        again,
        not frame[LINE].is_sorted() and settled.move is None,
        settled.reordered,
        stamps.notation,
        stamps.readings,
        undated,
        stamps.resolution_us,
        tuple(dict.fromkeys((*notes, *stamps.notes, *zone_notes, *pieces.notes, *rows.notes))),
    )


def _join(
    raws: Sequence[RawTable], firsts: Sequence[int], places: pl.Series | None
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """The rows of all files with their line of the log, and what their formats set aside."""
    columns = raws[0].frame.columns
    frames: list[pl.DataFrame] = []
    rejected: list[pl.DataFrame] = []
    for raw, first in zip(raws, firsts, strict=True):
        shift = first - raw.first_line
        lines = (raw.lines.cast(pl.Int64) + shift).cast(schema.ROW) if shift else raw.lines
        frames.append(raw.frame.select(columns).with_columns(lines.alias(LINE)))
        moved = (pl.col("row").cast(pl.Int64) + shift).cast(schema.ROW)
        rejected.append(raw.rejected.with_columns(moved))
    frame = pl.concat(frames)
    return frame if places is None else frame[places.arg_sort()], pl.concat(rejected)


def _stamps(
    frame: pl.DataFrame,
    raws: Sequence[RawTable],
    firsts: Sequence[int],
    profile: Profile,
    time_columns: Sequence[str],
) -> Stamps:
    """The stamps of the rows."""
    if not time_columns:
        sample = " ".join("" if cell is None else str(cell) for cell in frame.drop(LINE).row(0))[:60]
        raise ReadingError(
            "a column of time stamps",
            f"columns {', '.join(repr(name) for name in raws[0].frame.columns[:20])} with '{sample}'",
            "name it in [log] time of a profile",
            file=raws[0].path,
            line=int(frame[LINE][0]),
        )
    columns = [frame[name] for name in time_columns]
    file = pl.Series(firsts[1:], dtype=pl.UInt32).search_sorted(frame[LINE], side="right")
    counts = [int((file == at).sum()) for at in range(len(raws))] if len(raws) > 1 else [frame.height]
    origin = clock.Origin.of(profile.log, [(raw.path, count) for raw, count in zip(raws, counts, strict=True)])
    return clock.require_clock(columns, profile.log.time_format, raws[0].path, frame[LINE], origin)


def _lines_of(frame: pl.DataFrame, mask: pl.Series | None) -> pl.Series:
    """Lines of the rows for which a mask holds."""
    return frame[LINE].clear() if mask is None else frame[LINE].filter(mask)


def _set_aside(rows: Rows, bad: pl.Series, reason: str, raw: RawTable) -> tuple[Rows, pl.DataFrame]:
    """The rows without the bad ones, and these as schema.REJECTED."""
    if not bad.any():
        return rows, schema.REJECTED.empty()
    gone = rows.frame.filter(bad)
    delimiter = raw.dialect.delimiter if raw.dialect else None
    return rows.keep(~bad), set_aside(gone[LINE], reason, row_text(gone.drop(LINE), delimiter))
