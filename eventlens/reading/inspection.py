"""What is in a dump, without any setting: container, dialect, layout, clock, names."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

import polars as pl

from eventlens.reading.assemble import Draft, draft, proposals_for
from eventlens.reading.mapping import map_names
from eventlens.reading.profile import Profile
from eventlens.reading.rejects import rejects
from eventlens.reading.suggest import Proposal, profile_text
from eventlens.reading.values import find_decimal
from eventlens.reading.word_bits import channels_of_word

VALUES_SHOWN = 3
NAMES_SHOWN = 40


@dataclass(frozen=True)
class NameSeen:
    """One name of the dump."""

    name: str
    rows: int
    values: tuple[str, ...]
    """A few of its values."""
    signal: str | None
    """The signal it stands for, by the profile or by its own name."""


@dataclass(frozen=True)
class Inspection:
    """What is in a dump. Times are UTC; step and rhythm in seconds."""

    file: str
    container: str
    encoding: str | None
    delimiter: str | None
    decimal: str | None
    header_line: int | None
    layout: str | None
    columns: tuple[str, ...]
    time_columns: tuple[str, ...]
    time_notation: str
    time_readings: tuple[tuple[str, int], ...]
    """Each reading of the stamps that was possible with the rows that it explains, the taken one first."""
    timezone: str
    rows: int
    rejected: int
    blank: int
    start: datetime
    end: datetime
    step_s: float
    rhythm_s: float | None
    names: tuple[NameSeen, ...]
    notes: tuple[str, ...]
    set_aside: pl.DataFrame = field(default_factory=pl.DataFrame, compare=False)
    """file, line, reason, text of the rows whose stamp or form was not understood."""
    proposals: tuple[Proposal, ...] = ()
    """Where neither a profile nor the names themselves say it: what each name most likely stands for."""
    places: Mapping[str, tuple[str, int] | None] = field(default_factory=dict)
    """Names that were looked at for proposals, each with its word and bit if it is a bit of a packed word."""
    log_keys: Mapping[str, Any] = field(default_factory=dict)
    """The [log] table of a profile that reads this dump as it was read here."""

    def to_profile(self) -> str:
        """A commented profile (TOML) with the proposals; `review` takes it as it is."""
        mapped = {seen.name: seen.signal for seen in self.names if seen.signal}
        return profile_text(self.log_keys, self.proposals, self.places, mapped, self.file)

    def to_text(self) -> str:
        """The inspection as lines for people."""
        delimiter = {"\t": "tab", " ": "blank"}.get(self.delimiter or "", self.delimiter)
        facts = [
            ("file", self.file),
            ("container", self.container),
            ("encoding", self.encoding),
            ("delimiter", delimiter),
            ("decimal mark", self.decimal),
            ("header", f"line {self.header_line}" if self.header_line else "none"),
            ("columns", ", ".join(self.columns)),
            ("layout", self.layout or "not recognised"),
            ("time", f"{' + '.join(self.time_columns)}: {self.time_notation}, zone {self.timezone}"),
            ("readings", ", ".join(f"{name}: {rows} rows" for name, rows in self.time_readings) or None),
            ("span", f"{self.start.isoformat()} to {self.end.isoformat()}"),
            ("rows", f"{self.rows}, of which {self.rejected} set aside and {self.blank} blank"),
            ("step", f"{self.step_s:g} s"),
            ("rhythm", "none: silence proves nothing" if self.rhythm_s is None else f"{self.rhythm_s:g} s"),
        ]
        lines = [f"{key + ':':14}{value}" for key, value in facts if value is not None]
        lines.append("names:")
        width = max((len(seen.name) for seen in self.names), default=0)
        for seen in self.names[:NAMES_SHOWN]:
            values = ", ".join(seen.values)
            lines.append(
                f"  {seen.name:{width}}  {seen.rows:>8}  {values}" + (f"  = {seen.signal}" if seen.signal else "")
            )
        if len(self.names) > NAMES_SHOWN:
            lines.append(f"  and {len(self.names) - NAMES_SHOWN} more")
        lines += _proposal_lines(self.proposals)
        lines += [f"note: {note}" for note in self.notes]
        return "\n".join(lines)


def inspect_paths(paths: Sequence[Path], profile: Profile) -> Inspection:
    """The inspection of one dump; errors as for reading, but nothing needs to be mapped."""
    return inspected(draft(paths, profile), profile)


def inspected(found: Draft, profile: Profile) -> Inspection:
    """The inspection of a dump whose rows have been put in order already."""
    record, shape = found.record, found.shape
    raw = record.raws[0]
    values = [shape.value] if shape.value else list(shape.data)
    marks = {find_decimal(record.frame[name]) for name in values}
    proposals = proposals_for(found, profile)
    decimal = profile.log.decimal or ("," if "," in marks else "." if "." in marks else None)
    return Inspection(
        file=raw.path.name,
        container=raw.container,
        encoding=raw.dialect.encoding if raw.dialect else None,
        delimiter=raw.dialect.delimiter if raw.dialect else None,
        decimal=decimal if raw.dialect else None,
        header_line=raw.dialect.header_line if raw.dialect else None,
        layout=shape.layout,
        columns=tuple(record.frame.columns),
        time_columns=shape.time,
        time_notation=record.notation,
        time_readings=record.readings,
        timezone=profile.log.timezone or "UTC",
        rows=sum(raw.rows for raw in record.raws) + sum(record.repeated),
        rejected=record.rejected.height,
        blank=sum(raw.blank for raw in record.raws),
        start=record.time[0],
        end=record.time[-1],
        step_s=found.proof.step_s,
        rhythm_s=found.proof.rhythm_s,
        names=_names(found, profile),
        notes=tuple(dict.fromkeys((*record.notes, *shape.notes))),
        set_aside=rejects(
            record.rejected.sort("row", maintain_order=True),
            [part.path.name for part in record.raws],
            record.first_rows,
            [part.first_line for part in record.raws],
        ),
        proposals=proposals.each if proposals else (),
        places=proposals.places if proposals else {},
        log_keys=_log_keys(found, profile, words=bool(proposals and any(proposals.places.values()))),
    )


def _log_keys(found: Draft, profile: Profile, *, words: bool) -> dict[str, Any]:
    """What a profile states to read the dump alike: the columns, the zone, and whatever the given profile states."""
    shape = found.shape
    layout = "words" if words and shape.layout == "samples" else shape.layout
    keys: dict[str, Any] = {"layout": layout, "time": shape.time[0] if len(shape.time) == 1 else shape.time}
    if shape.name:
        keys["name"] = shape.name[0] if len(shape.name) == 1 else shape.name
    if shape.value:
        keys["value"] = shape.value
    stated = {key: value for key, value in profile.log.model_dump(exclude_unset=True).items() if value is not None}
    return {"timezone": None} | keys | stated


def _proposal_lines(proposals: Sequence[Proposal]) -> list[str]:
    """Each proposal with its reason; those that are left open last."""
    lines = ["proposed:"] if proposals else []
    for one in sorted(proposals, key=lambda one: one.signal is None):
        turned = " (1 means off)" if one.invert else ""
        meant = f"{one.signal}{turned}, confidence {one.confidence:.2f}" if one.signal else "left open"
        lines.append(f"  {one.name}: {meant}: {one.reason}")
    return lines


def _names(found: Draft, profile: Profile) -> tuple[NameSeen, ...]:
    frame, shape = found.record.frame, found.shape
    if found.codes is not None:
        codes, distinct = found.codes, found.distinct
        value = frame[shape.value] if shape.value else pl.Series([None] * frame.height, dtype=pl.String)
        keyed = pl.DataFrame({"code": codes, "value": value.cast(pl.String)}).lazy()
        seen = (
            keyed.group_by("code")
            .agg(pl.len(), pl.col("value").drop_nulls().unique(maintain_order=True).head(VALUES_SHOWN))
            .sort("code")
            .collect()
        )
        mapped = map_names(distinct, profile)
        rows = [(distinct[code], count, values) for code, count, values in seen.iter_rows()]
    else:
        mapped = map_names(shape.data, profile)
        rows = []
        for name in shape.data:
            known = frame[name].drop_nulls()
            rows.append(
                (name, len(known), known.cast(pl.String).unique(maintain_order=True).head(VALUES_SHOWN).to_list())
            )
    seen_names = [NameSeen(name, count, tuple(values), mapped[name].signal) for name, count, values in sorted(rows)]
    return (*seen_names, *_bits(found, profile))


def _bits(found: Draft, profile: Profile) -> list[NameSeen]:
    """The bits of the packed words that the profile names: those it maps and those that are ever set."""
    frame, shape = found.record.frame, found.shape
    seen: list[NameSeen] = []
    for name, word in profile.words.items():
        if name in shape.data:
            cells = frame[name]
        elif shape.value and name in found.distinct and found.codes is not None:
            cells = frame[shape.value].filter(found.codes == found.distinct.index(name))
        else:
            continue
        for channel in channels_of_word(name, cells, word).channels:
            value = channel.value.drop_nulls()
            some = tuple(f"{number:g}" for number in value.unique(maintain_order=True).head(VALUES_SHOWN))
            seen.append(NameSeen(channel.name, len(value), some, channel.signal))
    return seen
