"""Files -> one record: joined in order, stamped in UTC, rows in the order in which they were written."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import accumulate, pairwise
from pathlib import Path
from typing import Final

import polars as pl

from eventlens import schema
from eventlens.errors import ReadingError
from eventlens.reading import clock, order
from eventlens.reading.formats import read_raw
from eventlens.reading.profile import Profile
from eventlens.reading.raw import BAD_STAMP, NO_SUCH_HOUR, RawTable, row_text, set_aside
from eventlens.reading.rows import LINE, Rows, arrange, take_out_headers
from eventlens.reading.stamps import Stamps

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
    headers_again: tuple[int, ...]
    """Lines of the log at which the header stands again."""
    reordered: int
    notation: str
    resolution_us: int
    notes: tuple[str, ...]


def read_raws(paths: Sequence[Path], profile: Profile) -> list[RawTable]:
    """The files by natural name; one without a header takes the names of the first that has one."""
    named = sorted(paths, key=_natural)
    raws = [read_raw(path, profile) for path in named]
    model = next((raw for raw in raws if raw.dialect and raw.dialect.header_line), raws[0])
    for at, raw in enumerate(raws):
        if raw is not model and raw.dialect and set(raw.frame.columns) != set(model.frame.columns):
            raws[at] = read_raw(raw.path, profile, model)
        if raw is not model and (missing := set(model.frame.columns) - set(raws[at].frame.columns)):
            raise ReadingError(
                f"the columns of '{model.path.name}'",
                f"no column '{sorted(missing)[0]}'",
                "read files of one kind together",
                file=raw.path,
            )
    return raws


def make_record(raws: Sequence[RawTable], profile: Profile, time_columns: Sequence[str]) -> Record:
    """The record of one machine from its files' raw tables."""
    late_us = round(profile.log.late_s * 1e6)
    zone = profile.log.timezone or "UTC"
    raws = _in_order(list(raws), profile, time_columns, late_us)
    firsts = _first_rows(raws)
    frame, rejected = _join(raws, firsts)
    frame, stamps, again = _stamp(frame, raws, profile, time_columns)
    rows = Rows(frame, stamps, stamps.time)
    rows, refused = _set_aside(rows, stamps.time.is_null(), BAD_STAMP, raws[0])
    utc, missing, zone_notes = clock.to_utc(rows.stamps, zone, late_us)
    rows, out_of_zone = _set_aside(replace(rows, utc=utc), missing, NO_SUCH_HOUR, raws[0])
    notes = [note for raw in raws for note in raw.notes]
    notes += [f"The header stands again in line {line}." for line in again[:HEADERS_SAID]]
    if profile.log.timezone is None and (stamps.absolute is None or not stamps.absolute.all()):
        notes.append("The stamps carry no zone: read as UTC; state [log] timezone in the profile.")
    rows = arrange(rows, zone, late_us, time_columns)
    settled = order.settle(rows.utc, late_us)
    frame = rows.frame if settled.move is None else rows.frame[settled.move]
    return Record(
        frame.drop(LINE),
        frame[LINE],
        settled.time.cast(pl.Datetime("us")).dt.replace_time_zone("UTC"),
        settled.steps,
        pl.concat([rejected, refused, out_of_zone]),
        tuple(raws),
        tuple(firsts),
        again,
        settled.reordered,
        stamps.notation,
        stamps.resolution_us,
        tuple(dict.fromkeys((*notes, *stamps.notes, *zone_notes, *rows.notes))),
    )


def _join(raws: Sequence[RawTable], firsts: Sequence[int]) -> tuple[pl.DataFrame, pl.DataFrame]:
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
    return pl.concat(frames), pl.concat(rejected)


def _stamp(
    frame: pl.DataFrame, raws: Sequence[RawTable], profile: Profile, time_columns: Sequence[str]
) -> tuple[pl.DataFrame, Stamps, tuple[int, ...]]:
    """The rows without inner headers, their stamps, and the lines of these headers."""
    if not time_columns:
        sample = " ".join("" if cell is None else str(cell) for cell in frame.drop(LINE).row(0))[:60]
        raise ReadingError(
            "a column of time stamps",
            f"columns {', '.join(repr(name) for name in raws[0].frame.columns[:20])} with '{sample}'",
            "name it in [log] time of a profile",
            file=raws[0].path,
            line=int(frame[LINE][0]),
        )

    def read(rows: pl.DataFrame) -> Stamps:
        columns = [rows[name] for name in time_columns]
        return clock.require_clock(columns, profile.log.time_format, raws[0].path, rows[LINE])

    stamps = read(frame)
    if not stamps.time.null_count():
        return frame, stamps, ()
    starts = [0, *accumulate(raw.frame.height for raw in raws[:-1])]
    frame, again = take_out_headers(frame, stamps.time.is_null(), time_columns[0], starts)
    return frame, read(frame) if again else stamps, again


def _set_aside(rows: Rows, bad: pl.Series, reason: str, raw: RawTable) -> tuple[Rows, pl.DataFrame]:
    """The rows without the bad ones, and these as schema.REJECTED."""
    if not bad.any():
        return rows, schema.REJECTED.empty()
    gone = rows.frame.filter(bad)
    delimiter = raw.dialect.delimiter if raw.dialect else None
    return rows.keep(~bad), set_aside(gone[LINE], reason, row_text(gone.drop(LINE), delimiter))


def _natural(path: Path) -> tuple[object, ...]:
    """log2 before log10."""
    parts = re.split(r"(\d+)", path.name)
    return (*((0, int(part), "") if part.isdecimal() else (1, 0, part) for part in parts), str(path))


def _in_order(raws: list[RawTable], profile: Profile, columns: Sequence[str], late_us: int) -> list[RawTable]:
    if len(raws) == 1:
        return raws
    pieces: list[order.Piece] = []
    whole = pl.concat([raw.frame.select(columns) for raw in raws])
    stamps = clock.read_clock([whole[name] for name in columns], profile.log.time_format)
    times = stamps.time if stamps else pl.Series([None] * whole.height, dtype=pl.Int64)
    at = 0
    for raw in raws:
        time = times.slice(at, raw.frame.height).drop_nulls()
        pieces.append(order.Piece(_natural(raw.path), time))
        at += raw.frame.height
    return [raws[at] for at in order.order_of_files(pieces, late_us)]


def _first_rows(raws: Sequence[RawTable]) -> list[int]:
    """Line of the log of each file's first data line: later files run on, without their header and preamble."""
    firsts = [raws[0].first_line]
    for before, _ in pairwise(raws):
        firsts.append(firsts[-1] + max(before.last_line - before.first_line + 1, 0))
    return firsts
