"""Record -> log: wires shape, quality and layout, and keeps the accounts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import polars as pl

from eventlens.errors import ReadingError
from eventlens.reading import quality
from eventlens.reading.arrival import arrival_notes
from eventlens.reading.coded import as_text
from eventlens.reading.extracted import Extracted, Stretches
from eventlens.reading.files import read_raws
from eventlens.reading.layouts import layouts
from eventlens.reading.log import Log, SourceFile
from eventlens.reading.lost import forget
from eventlens.reading.profile import Profile
from eventlens.reading.proof import Proof, prove
from eventlens.reading.raw import RawTable
from eventlens.reading.record import Record, make_record
from eventlens.reading.run_times import longest_run_us
from eventlens.reading.shape import Shape, name_codes, shape_of
from eventlens.reading.suggest import Proposals, is_needed, propose, with_proposals
from eventlens.reading.undated import loosen
from eventlens.spill import laid_down
from eventlens.threads import both

NAMES_SHOWN = 20


@dataclass(frozen=True)
class Draft:
    """A record with its shape and quality, before its events are looked at."""

    record: Record
    shape: Shape
    proof: Proof
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
            self.proof.segment,
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
    raws = [replace(raw, frame=as_text(raw.frame, _stay_coded(shape))) for raw in raws]
    record = make_record(raws, _for_runs(raws, profile, shape), shape)
    names = name_codes(record.frame, shape.name) if shape.name else None
    codes, distinct = names if names else (None, ())
    return Draft(record, shape, prove(record, shape, profile, codes, distinct), codes, tuple(distinct))


def _stay_coded(shape: Shape) -> set[str | None]:
    """Columns in which a record expects coded texts: names, values, samples; it has text in all others."""
    return {*shape.name, shape.value, *shape.data} - {*shape.time} if shape.runs is None else set()


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
    proposals = proposals_for(found, profile)
    suggested = proposals.notes if proposals else ()
    if proposals and proposals.settled:
        profile = with_proposals(profile, proposals)
        shape = replace(shape, layout="words") if profile.words and shape.layout == "samples" else shape
        found = replace(found, shape=shape)
    extract = layouts()[str(shape.layout)].extract
    extracted, duplicates = both(
        lambda: extract(found.stretches, profile), lambda: _duplicates(record, shape), len(record.time)
    )
    events = loosen(extracted.events, record.undated, record.time, record.lines, found.proof.segment)
    events, lost = forget(events, record.rejected, found.stretches, profile)
    extracted = replace(extracted, events=events, notes=(*extracted.notes, *lost))
    if extracted.names["signal"].null_count() == extracted.names.height:
        _nothing_mapped(extracted.names, record.raws[0].path)
    rejected = pl.concat([record.rejected, extracted.rejected]).sort("row", maintain_order=True)
    time, lines = record.time, record.lines
    arrived = arrival_notes(record.frame, time, profile)
    return Log(
        events=laid_down(extracted.events, extracted.events.height),
        segments=quality.segment_table(time, found.proof.segment, extracted.spans),
        holes=quality.hole_table(time, lines, found.proof.holes),
        clock_steps=quality.clock_step_table(time, lines, found.proof.steps),
        names=_marked(extracted.names, profile),
        rejected=rejected,
        files=_files(record, extracted, rejected),
        layout=str(shape.layout),
        profile=profile.name,
        timezone=profile.log.timezone or "UTC",
        step_s=found.proof.step_s,
        rhythm_s=found.proof.rhythm_s,
        duplicates=duplicates,
        reordered=record.reordered,
        overlap=sum(record.repeated),
        commands_from=profile.log.commands_from,
        notes=tuple(dict.fromkeys((*record.notes, *shape.notes, *arrived, *suggested, *extracted.notes))),
    ).check()


def _for_runs(raws: Sequence[RawTable], profile: Profile, shape: Shape) -> Profile:
    """The profile; finished runs may stand as far behind the order of their starts as the longest one lasts."""
    if shape.runs is None:
        return profile
    longest = max(longest_run_us(raw.frame, shape.runs, profile) for raw in raws)
    late_s = max(profile.log.late_s, longest / 1e6)
    return replace(profile, log=profile.log.model_copy(update={"late_s": late_s}))


def proposals_for(found: Draft, profile: Profile) -> Proposals | None:
    """What the names most likely stand for; None where the profile or the names themselves say it."""
    names = found.distinct or found.shape.data
    if found.shape.layout not in ("changes", "samples", "messages") or not is_needed(names, profile):
        return None
    return propose(found.stretches, profile, found.shape.layout, found.proof.step_s)


def _marked(names: pl.DataFrame, profile: Profile) -> pl.DataFrame:
    """The names, those that nobody stated marked as proposed."""
    if not profile.proposed:
        return names
    return names.with_columns(pl.col("mapped_by").replace("profile", "proposed"))


def _duplicates(record: Record, shape: Shape) -> int:
    if shape.layout not in ("changes", "messages"):
        return quality.count_duplicates(record.time, record.frame)
    columns = [*shape.name, *([shape.value] if shape.value else [])]
    return quality.count_duplicates(record.time, record.frame.select(columns))


def _files(record: Record, extracted: Extracted, rejected: pl.DataFrame) -> tuple[SourceFile, ...]:
    """The accounts of each file."""
    found: list[SourceFile] = []
    ends = [*record.own_rows[1:], (1 << 32) - 1]
    for at, (raw, first, end) in enumerate(zip(record.raws, record.own_rows, ends, strict=True)):
        refused = _within(rejected["row"], first, end)
        rows = raw.rows + record.repeated[at]
        found.append(
            SourceFile(
                name=raw.path.name,
                sha256=raw.sha256,
                rows=rows,
                taken=rows - refused - raw.blank,
                rejected=refused,
                blank=raw.blank,
                events=_within(extracted.events["row"], first, end) if len(ends) > 1 else extracted.events.height,
                first_row=record.first_rows[at],
                first_line=raw.first_line,
                repeated=record.repeated[at],
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
    raw = read_raws([path], Profile())[0]
    return replace(raw, frame=as_text(raw.frame))
