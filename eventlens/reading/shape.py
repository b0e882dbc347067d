"""Which columns hold what: stated by the profile, else guessed from names and from a sample of the cells."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import polars as pl

from eventlens import signals
from eventlens.errors import ReadingError, nearest
from eventlens.reading.clock import read_clock
from eventlens.reading.profile import Profile
from eventlens.reading.raw import RawTable
from eventlens.reading.values import OFF_WORDS, ON_WORDS, UNKNOWN_WORDS

_SAMPLE: Final = 400
_TIME_NAMES: Final = frozenset(
    {
        "time",
        "timestamp",
        "stamp",
        "datetime",
        "date",
        "ts",
        "zeit",
        "zeitstempel",
        "datum",
        "uhrzeit",
        "heure",
        "horodatage",
        "hora",
        "fecha",
        "ora",
        "data",
        "tijd",
        "moment",
        "when",
    }
)
_NAME_NAMES: Final = frozenset(
    {
        "name",
        "tag",
        "signal",
        "variable",
        "point",
        "item",
        "channel",
        "symbol",
        "bezeichnung",
        "nom",
        "nombre",
        "nome",
        "punkt",
        "source",
        "object",
    }
)
_VALUE_NAMES: Final = frozenset(
    {
        "value",
        "state",
        "status",
        "wert",
        "zustand",
        "valeur",
        "valor",
        "valore",
        "stato",
        "etat",
        "estado",
        "waarde",
    }
)
_DATE_ONLY: Final = r"^\s*(?:\d{1,4}[-./]\d{1,2}[-./]\d{1,4}\.?|\d{1,2}[-. ][^\W\d_]{3,}[-. ]+\d{2,4})\s*$"
_TIME_ONLY: Final = r"^\s*\d{1,2}:\d{1,2}(?::\d{1,2}(?:[.,]\d+)?)?\s*(?:[AaPp]\.?[Mm]\.?)?\s*$"


@dataclass(frozen=True)
class Shape:
    """The layout of a table and the meaning of its columns."""

    layout: str | None
    """None: not recognised."""
    time: tuple[str, ...]
    name: tuple[str, ...] = ()
    value: str | None = None
    data: tuple[str, ...] = ()
    """Columns with a signal or a word each."""
    notes: tuple[str, ...] = ()


def shape_of(raws: Sequence[RawTable], profile: Profile) -> Shape:
    """The shape of a table in one or several files; ReadingError where a column of the profile is not there."""
    keys, raw = profile.log, raws[0]
    columns = raw.frame.columns
    frame = pl.concat([part.frame.select(columns) for part in raws]) if len(raws) > 1 else raw.frame
    for key, names in (
        ("[log] time", keys.time),
        ("[log] name", keys.name),
        ("[log] value", (keys.value,) if keys.value else ()),
        ("[words]", tuple(profile.words)),
    ):
        _require(columns, names, key, raw)
    sample = frame if frame.height <= _SAMPLE else frame.gather_every(frame.height // _SAMPLE)
    time, notes = (keys.time, ()) if keys.time else _find_time(sample)
    rest = [name for name in columns if name not in time]
    layout = keys.layout or _find_layout(sample, rest, profile)
    if layout == "changes":
        name = keys.name or _one(rest, _NAME_NAMES) or _text_column(sample, rest)
        left = [column for column in rest if column not in name]
        value = keys.value or next(iter(_one(left, _VALUE_NAMES)), None) or _value_column(sample, left)
        if not name:
            layout = None
        return Shape(layout, time, name, value, (), notes)
    return Shape(layout, time, data=tuple(rest), notes=notes)


def name_codes(frame: pl.DataFrame, columns: Sequence[str]) -> tuple[pl.Series, list[str]]:
    """Each row's name as a number (UInt32), and the names by number; several columns are joined by a blank."""
    if len(columns) == 1:
        names = frame[columns[0]].cast(pl.String)
    else:
        cells = [pl.col(column).cast(pl.String).str.strip_chars().fill_null("") for column in columns]
        names = frame.select(name=pl.concat_str(cells, separator=" "))["name"]
    if names.null_count():
        names = names.fill_null("")
    distinct = names.unique(maintain_order=True)
    codes = names.cast(pl.Enum(distinct)).to_physical().cast(pl.UInt32)
    stripped = distinct.str.strip_chars()
    if (stripped == distinct).all():
        return codes.alias("code"), distinct.to_list()
    names_once = stripped.unique(maintain_order=True)
    position = stripped.replace_strict(names_once, pl.int_range(len(names_once), dtype=pl.UInt32, eager=True))
    return position.cast(pl.UInt32).gather(codes).alias("code"), names_once.to_list()


def _require(columns: Sequence[str], names: Sequence[str], key: str, raw: RawTable) -> None:
    for name in names:
        if name not in columns:
            line = raw.dialect.header_line if raw.dialect else None
            raise ReadingError(
                f"the column '{name}' ({key} of the profile)",
                "columns " + ", ".join(f"'{column}'" for column in columns[:20]),
                nearest(name, columns[:20]),
                file=Path(raw.path),
                line=line,
            )


def _find_time(sample: pl.DataFrame) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The column or the two columns that hold the stamps, and notes."""
    stamps: list[str] = []
    dates: list[str] = []
    clocks: list[str] = []
    for name in sample.columns:
        column = sample[name]
        if column.dtype.is_temporal():
            stamps.append(name)
        elif column.dtype == pl.String and _share(column, _DATE_ONLY) > 0.5:
            dates.append(name)
        elif column.dtype == pl.String and _share(column, _TIME_ONLY) > 0.5:
            clocks.append(name)
        elif _is_stamp(column, bool(_words(name) & _TIME_NAMES)):
            stamps.append(name)
    if stamps:
        named = [name for name in stamps if _words(name) & _TIME_NAMES]
        chosen = (named or stamps)[0]
        also = [name for name in stamps if name != chosen]
        notes = tuple(f"Column '{n}' holds stamps too; '{chosen}' was taken ([log] time chooses)." for n in also)
        return (chosen,), notes
    if dates and clocks:
        return (dates[0], clocks[0]), ()
    return tuple(dates[:1]), ()


def _is_stamp(column: pl.Series, named_time: bool) -> bool:
    found = read_clock([column])
    if found is None:
        return False
    share = (len(column) - found.time.null_count()) / max(len(column) - column.null_count(), 1)
    numeric = "since" in found.notation or "spreadsheet" in found.notation
    return share > 0.3 and (named_time or not numeric or "spreadsheet" not in found.notation)


def _share(column: pl.Series, pattern: str) -> float:
    known = column.drop_nulls()
    return float(known.str.contains(pattern).mean() or 0) if len(known) else 0.0  # type: ignore[arg-type]


def _words(name: str) -> set[str]:
    """The words of a column name: time_stamp, TimeStamp and 'Time stamp' alike."""
    parted = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", name)
    return {part for part in re.split(r"[\W_\d]+", parted.lower()) if part} | {name.lower()}


def _one(columns: Sequence[str], names: frozenset[str]) -> tuple[str, ...]:
    return next(((column,) for column in columns if _words(column) & names), ())


def _find_layout(sample: pl.DataFrame, rest: Sequence[str], profile: Profile) -> str | None:
    if profile.words:
        return "words"
    if profile.log.name:
        return "changes"
    if any(column in signals.ALL or column in profile.signals for column in rest):
        return "samples"
    if _one(rest, _NAME_NAMES) and (_one(rest, _VALUE_NAMES) or _value_column(sample, rest)):
        return "changes"
    values = [column for column in rest if _is_value(sample[column])]
    if values and _text_column(sample, [column for column in rest if column not in values]):
        return "changes"
    return "samples" if values else None


def _is_value(column: pl.Series) -> bool:
    """Whether most cells are numbers or known words of on and off."""
    if column.dtype != pl.String:
        return column.dtype.is_numeric() or column.dtype == pl.Boolean
    known = column.drop_nulls().str.strip_chars().str.to_lowercase()
    if known.is_empty():
        return False
    number = known.str.contains(r"^[-+]?[\d.,]*\d[\d.,]*$")
    word = known.is_in(list(ON_WORDS | OFF_WORDS | UNKNOWN_WORDS))
    return float((number | word).mean() or 0) > 0.8  # type: ignore[arg-type]


def _text_column(sample: pl.DataFrame, columns: Sequence[str]) -> tuple[str, ...]:
    """The first column of names: texts, not values."""
    return next(
        (
            (column,)
            for column in columns
            if sample[column].dtype == pl.String and not _is_value(sample[column]) and sample[column].null_count() == 0
        ),
        (),
    )


def _value_column(sample: pl.DataFrame, columns: Sequence[str]) -> str | None:
    values = [column for column in columns if _is_value(sample[column])]
    return values[-1] if values else None
