"""What is in a dump, without any setting: container, dialect, layout, clock, names."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import polars as pl

from eventlens.reading.assemble import Draft, draft
from eventlens.reading.mapping import map_names
from eventlens.reading.profile import Profile
from eventlens.reading.values import find_decimal

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
        lines += [f"note: {note}" for note in self.notes]
        return "\n".join(lines)


def inspect_paths(paths: Sequence[Path], profile: Profile) -> Inspection:
    """The inspection of one dump; errors as for reading, but nothing needs to be mapped."""
    found = draft(paths, profile)
    record, shape = found.record, found.shape
    raw = record.raws[0]
    values = [shape.value] if shape.value else list(shape.data)
    marks = {find_decimal(record.frame[name]) for name in values}
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
        timezone=profile.log.timezone or "UTC",
        rows=sum(raw.rows for raw in record.raws) - len(record.headers_again),
        rejected=record.rejected.height,
        blank=sum(raw.blank for raw in record.raws),
        start=record.time[0],
        end=record.time[-1],
        step_s=found.quality.step_s,
        rhythm_s=found.quality.rhythm_s,
        names=_names(found, profile),
        notes=tuple(dict.fromkeys((*record.notes, *shape.notes))),
    )


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
    return tuple(NameSeen(name, count, tuple(values), mapped[name].signal) for name, count, values in sorted(rows))
