"""Record -> log: wires shape, quality and layout, and keeps the accounts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import polars as pl

from eventlens.errors import ReadingError
from eventlens.reading import quality
from eventlens.reading.extracted import Extracted, Stretches
from eventlens.reading.layouts import layouts
from eventlens.reading.log import Log, SourceFile
from eventlens.reading.profile import Profile
from eventlens.reading.raw import RawTable
from eventlens.reading.record import Record, make_record, read_raws
from eventlens.reading.shape import Shape, name_codes, shape_of

NAMES_SHOWN = 20


@dataclass(frozen=True)
class Draft:
    """A record with its shape and quality, before its events are looked at."""

    record: Record
    shape: Shape
    quality: quality.Quality
    codes: pl.Series | None
    distinct: tuple[str, ...]
    """Layout changes: see Stretches."""

    @property
    def stretches(self) -> Stretches:
        dialect = self.record.raws[0].dialect
        return Stretches(
            self.record.frame,
            self.record.time,
            self.record.lines,
            self.quality.segment,
            self.shape,
            dialect.delimiter if dialect else None,
            self.codes,
            self.distinct,
        )


def draft(paths: Sequence[Path], profile: Profile) -> Draft:
    """The record of the files and what it can prove."""
    raws = read_raws(paths, profile)
    if not any(raw.frame.height for raw in raws):
        raise ReadingError(
            "at least one row of data", "only a header", "export the dump with its rows", file=raws[0].path
        )
    shape = shape_of(raws, profile)
    record = make_record(raws, profile, shape.time)
    names = name_codes(record.frame, shape.name) if shape.layout == "changes" else None
    codes, distinct = names if names else (None, ())
    return Draft(record, shape, _quality(record, profile, codes, distinct), codes, tuple(distinct))


def build_log(paths: Sequence[Path], profile: Profile) -> Log:
    """The log; ReadingError where nothing in it is mapped to a signal."""
    found = draft(paths, profile)
    record, shape = found.record, found.shape
    if shape.layout is None:
        raise ReadingError(
            "a column of names and one of values, or a column for each signal",
            "columns " + ", ".join(f"'{name}'" for name in record.frame.columns[:NAMES_SHOWN]),
            "state layout, name and value in [log] of a profile",
            file=record.raws[0].path,
        )
    extracted = layouts()[shape.layout].extract(found.stretches, profile)
    if extracted.names["signal"].null_count() == extracted.names.height:
        _nothing_mapped(extracted.names, record.raws[0].path)
    rejected = pl.concat([record.rejected, extracted.rejected]).sort("row", maintain_order=True)
    time, lines = record.time, record.lines
    return Log(
        events=extracted.events,
        segments=quality.segment_table(time, found.quality.segment),
        holes=quality.hole_table(time, lines, found.quality.holes),
        clock_steps=quality.clock_step_table(time, lines, record.steps),
        names=extracted.names,
        rejected=rejected,
        files=_files(record, extracted, rejected),
        layout=shape.layout,
        profile=profile.name,
        timezone=profile.log.timezone or "UTC",
        step_s=found.quality.step_s,
        rhythm_s=found.quality.rhythm_s,
        duplicates=_duplicates(record, shape),
        reordered=record.reordered,
        notes=tuple(dict.fromkeys((*record.notes, *shape.notes, *extracted.notes))),
    ).check()


def _quality(record: Record, profile: Profile, codes: pl.Series | None, distinct: Sequence[str]) -> quality.Quality:
    """Step and rhythm are taken from stretches between clock steps; holes then cut these further."""
    time = record.time.cast(pl.Int64)
    rows = len(time)
    rough = quality.segments_of(rows, [record.steps])
    step_us = quality.find_step_us(time, rough, record.resolution_us)
    keys = profile.log
    if codes is None:
        rhythm_us = _cycle_us(record, profile, time, rough)
    else:
        rhythm_us = _heartbeat_us(record, profile, time, rough, codes, distinct)
    longest = None if rhythm_us is None else quality.longest_silence_us(rhythm_us, step_us)
    if keys.longest_silence_s is not None:
        longest = round(keys.longest_silence_s * 1e6)
        rhythm_us = rhythm_us or longest
    holes = quality.find_holes(time, record.steps, longest)
    segment = quality.segments_of(rows, [record.steps, holes])
    return quality.Quality(step_us / 1e6, None if rhythm_us is None else rhythm_us / 1e6, segment, holes)


def _cycle_us(record: Record, profile: Profile, time: pl.Series, segment: pl.Series) -> int | None:
    """Rhythm of a record with a row for each sample."""
    beat = profile.log.heartbeat
    if beat is None:
        return quality.sample_cycle_us(time, segment)
    if beat not in record.frame.columns:
        raise _no_heartbeat(beat, record.frame.columns, record.raws[0].path)
    value = record.frame[beat]
    beats = value.ne_missing(value.shift())
    return quality.beat_of_us(time.filter(beats), segment.filter(beats))


def _heartbeat_us(
    record: Record,
    profile: Profile,
    time: pl.Series,
    segment: pl.Series,
    codes: pl.Series,
    distinct: Sequence[str],
) -> int | None:
    """Rhythm of a record with a row for each change."""
    beat = profile.log.heartbeat
    if beat is None:
        return quality.heartbeat_us(time, segment, codes)
    if beat not in distinct:
        raise _no_heartbeat(beat, distinct, record.raws[0].path)
    beats = codes == distinct.index(beat)
    return quality.beat_of_us(time.filter(beats), segment.filter(beats))


def _no_heartbeat(beat: str, names: Sequence[str], path: Path) -> ReadingError:
    shown = ", ".join(f"'{name}'" for name in names[:NAMES_SHOWN])
    return ReadingError(f"the heartbeat '{beat}' of the profile", shown, "correct [log] heartbeat", file=path)


def _duplicates(record: Record, shape: Shape) -> int:
    if shape.layout != "changes":
        return quality.count_duplicates(record.time, record.frame)
    columns = [*shape.name, *([shape.value] if shape.value else [])]
    return quality.count_duplicates(record.time, record.frame.select(columns))


def _files(record: Record, extracted: Extracted, rejected: pl.DataFrame) -> tuple[SourceFile, ...]:
    """The accounts of each file."""
    found: list[SourceFile] = []
    ends = [*record.first_rows[1:], (1 << 32) - 1]
    for raw, first, end in zip(record.raws, record.first_rows, ends, strict=True):
        again = sum(first <= line < end for line in record.headers_again)
        refused = _within(rejected["row"], first, end)
        rows = raw.rows - again
        found.append(
            SourceFile(
                name=raw.path.name,
                sha256=raw.sha256,
                rows=rows,
                taken=rows - refused - raw.blank,
                rejected=refused,
                blank=raw.blank,
                events=_within(extracted.events["row"], first, end) if len(ends) > 1 else extracted.events.height,
                first_row=first,
                first_line=raw.first_line,
            )
        )
    return tuple(found)


def _within(rows: pl.Series, first: int, end: int) -> int:
    return int(((rows >= first) & (rows < end)).sum())


def _nothing_mapped(names: pl.DataFrame, path: Path) -> None:
    known = names["name"].to_list()
    shown = ", ".join(f"'{name}'" for name in known[:NAMES_SHOWN])
    more = f" and {len(known) - NAMES_SHOWN} more" if len(known) > NAMES_SHOWN else ""
    raise ReadingError(
        "at least one name that stands for a signal",
        f"the names {shown}{more}",
        "write a profile that maps them in [signals]",
        file=path,
    )


def raw_tables(path: Path) -> RawTable:
    """One file as its raw table, without any setting."""
    return read_raws([path], Profile())[0]
