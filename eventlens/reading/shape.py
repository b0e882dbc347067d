"""Which columns hold what: stated by the profile, else guessed from names and from a sample of the cells."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import polars as pl

from eventlens import signals
from eventlens.errors import ReadingError, nearest
from eventlens.reading.coded import as_text, is_coded, places
from eventlens.reading.counters import counter_columns
from eventlens.reading.message_states import is_message_state, state_column
from eventlens.reading.profile import Profile
from eventlens.reading.raw import RawTable
from eventlens.reading.run_columns import RunColumns, find_runs
from eventlens.reading.time_columns import find_time, words_of
from eventlens.reading.values import OFF_WORDS, ON_WORDS, UNKNOWN_WORDS

_SAMPLE: Final = 400
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
_HEX_WORD: Final = r"(?i)^(?:w?#?16#|0x|\$)?[0-9a-f]+h?$"
_HEX_MARK: Final = r"(?i)^(?:w?#?16#|0x|\$)|h$"


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
    runs: RunColumns | None = None
    """Layout runs: where start, end and duration of each row stand."""

    def counters(self, frame: pl.DataFrame) -> tuple[str, ...]:
        """The columns that number the rows."""
        used = {*self.time, *self.name, self.value}
        return counter_columns(frame, [name for name in frame.columns if name not in used])

    def told_apart_by(self, frame: pl.DataFrame) -> tuple[str, ...]:
        """The columns that, with time and name, say whether two rows are the same; numbers of rows do not."""
        if self.runs is not None:
            return tuple(name for name in self.runs.all if name not in self.time)
        if self.name:
            return (self.value,) if self.value else ()
        numbers = self.counters(frame)
        return tuple(name for name in frame.columns if name not in self.time and name not in numbers)


def shape_of(raws: Sequence[RawTable], profile: Profile) -> Shape:
    """The shape of a table in one or several files; ReadingError where a column of the profile is not there."""
    keys, raw = profile.log, raws[0]
    columns = raw.frame.columns
    frame = pl.concat([part.frame.select(columns) for part in raws]) if len(raws) > 1 else raw.frame
    for key, names in (
        ("[log] time", keys.time),
        ("[log] name", keys.name),
        ("[log] value", (keys.value,) if keys.value else ()),
        ("[log] begin", keys.begin),
        ("[log] end", keys.end),
        ("[log] duration", (keys.duration,) if keys.duration else ()),
        ("[log] arrived", keys.arrived),
        ("[log] quality", (keys.quality,) if keys.quality and "*" not in keys.quality else ()),
        ("[words]", tuple(profile.words) if keys.layout == "words" else ()),
    ):
        _require(columns, names, key, raw)
    sample = as_text(frame if frame.height <= _SAMPLE else frame.gather_every(frame.height // _SAMPLE))
    aside = {*keys.arrived, keys.quality}
    runs = _find_runs(sample, profile)
    if runs is not None:
        return _shape_of_runs(sample, runs, [name for name in columns if name not in aside], profile)
    time, notes = (keys.time, ()) if keys.time else find_time(sample.drop(keys.arrived))
    rest = [name for name in columns if name not in time and name not in aside]
    layout = keys.layout or _find_layout(sample, rest, profile)
    if layout == "messages":
        told = keys.name or _message_column(sample, [column for column in rest if column != keys.value], profile)
        left = [column for column in rest if column not in told]
        value = keys.value or state_column(sample, left, keys)
        left = [column for column in left if column != value]
        name = told or _one(left, _NAME_NAMES) or _text_column(sample, left) or tuple(left[:1])
        return Shape(layout if name else None, time, name, value, (), notes)
    if layout == "changes":
        name = (
            keys.name or _one(rest, _NAME_NAMES) or _mapped_column(sample, rest, profile) or _text_column(sample, rest)
        )
        left = [column for column in rest if column not in name]
        value = keys.value or next(iter(_one(left, _VALUE_NAMES)), None) or _value_column(sample, left)
        if not name:
            layout = None
        return Shape(layout, time, name, value, (), notes)
    return Shape(layout, time, data=tuple(rest), notes=notes)


def _find_runs(sample: pl.DataFrame, profile: Profile) -> RunColumns | None:
    """Columns of finished runs, if the layout is or may be that."""
    keys = profile.log
    if keys.layout not in (None, "runs") or (keys.layout is None and (profile.words or profile.messages or keys.value)):
        return None
    found = find_runs(sample, keys)
    if found is None and keys.layout == "runs":
        raise ReadingError(
            "two of start, end and duration of each run",
            "columns " + ", ".join(f"'{column}'" for column in sample.columns[:20]),
            "name them in [log] begin, end and duration of the profile",
        )
    return found


def _message_column(sample: pl.DataFrame, columns: Sequence[str], profile: Profile) -> tuple[str, ...]:
    """The column in which most of the texts or numbers stand that the profile names."""
    best: tuple[str, ...] = ()
    most = 0
    known = [*profile.messages, *profile.signals]
    for name in columns:
        cells = sample[name].cast(pl.String).str.strip_chars()
        found = int(cells.is_in(known).sum())
        if found > most:
            best, most = (name,), found
    return best


def _shape_of_runs(sample: pl.DataFrame, runs: RunColumns, columns: Sequence[str], profile: Profile) -> Shape:
    rest = [name for name in columns if name not in runs.all]
    name = profile.log.name or _one(rest, _NAME_NAMES) or _text_column(sample, rest)
    data = tuple(column for column in rest if column not in name)
    return Shape("runs", runs.start or runs.end, name, None, data, runs=runs)


def name_codes(frame: pl.DataFrame, columns: Sequence[str]) -> tuple[pl.Series, list[str]]:
    """Each row's name as a number (UInt32), and the names by number; several columns are joined by a blank."""
    if len(columns) == 1:
        names = frame[columns[0]]
        names = names if is_coded(names) and not names.null_count() else names.cast(pl.String)
    else:
        cells = [pl.col(column).cast(pl.String).str.strip_chars().fill_null("") for column in columns]
        names = frame.select(name=pl.concat_str(cells, separator=" "))["name"]
    if names.null_count():
        names = names.fill_null("")
    distinct, codes = places(names)
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


def _one(columns: Sequence[str], names: frozenset[str]) -> tuple[str, ...]:
    return next(((column,) for column in columns if words_of(column) & names), ())


def _find_layout(sample: pl.DataFrame, rest: Sequence[str], profile: Profile) -> str | None:
    if profile.words and all(name in sample.columns for name in profile.words):
        return "words"
    if profile.messages or any(is_message_state(sample[column]) for column in rest):
        return "messages"
    if profile.log.name or profile.words:
        return "changes"
    if any(column in signals.ALL or column in profile.signals for column in rest):
        return "samples"
    if _one(rest, _NAME_NAMES) and (_one(rest, _VALUE_NAMES) or _value_column(sample, rest)):
        return "changes"
    values = [column for column in rest if _is_value(sample[column])]
    others = [column for column in rest if column not in values]
    hexadecimal = bool(others) and all(_is_hex_word(sample[column]) for column in others)
    if hexadecimal and not any(_is_state(sample[column]) for column in values):
        return "samples"
    if values and _text_column(sample, others):
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


def _is_hex_word(column: pl.Series) -> bool:
    """Whether all cells are hexadecimal words: marked, or of one width of 4 digits or more."""
    if column.dtype != pl.String:
        return False
    known = column.drop_nulls().str.strip_chars()
    if known.is_empty() or not known.str.contains(_HEX_WORD).all():
        return False
    return bool(known.str.contains(_HEX_MARK).all()) or known.str.len_bytes().unique().to_list()[0:2] in (
        [4],
        [8],
        [16],
    )


def _is_state(column: pl.Series) -> bool:
    """Whether all cells say on or off."""
    known = column.drop_nulls().cast(pl.String).str.strip_chars().str.to_lowercase()
    return bool(known.is_in(["0", "1", *ON_WORDS, *OFF_WORDS]).all())


def _mapped_column(sample: pl.DataFrame, columns: Sequence[str], profile: Profile) -> tuple[str, ...]:
    """The first column that holds a name of the profile, where it names any."""
    known = list(profile.signals)
    texts = [column for column in columns if known and sample[column].dtype == pl.String]
    return next(((column,) for column in texts if sample[column].str.strip_chars().is_in(known).any()), ())


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
