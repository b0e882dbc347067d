"""Files -> raw tables that fit together: unpacked, by natural name, with the same columns and types."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final

import polars as pl

from eventlens.errors import ReadingError
from eventlens.reading.clock import read_clock
from eventlens.reading.coded import as_text, of_either
from eventlens.reading.formats import is_known, pairs, read_source, syslog
from eventlens.reading.formats._packed import STDIN, Source, holding_stdin, unpacked
from eventlens.reading.formats._pairs import NAMED
from eventlens.reading.profile import Profile
from eventlens.reading.raw import RawTable
from eventlens.spill import laid_down

__all__ = ["STDIN", "holding_stdin", "natural", "read_raws"]

_SAMPLE: Final = 400
OF_PAIRS: Final = (pairs.NAME, syslog.NAME)
_ISO: Final = "%Y-%m-%dT%H:%M:%S%.6f"


def read_raws(paths: Sequence[Path], profile: Profile) -> list[RawTable]:
    """The files by natural name; one without a header takes the names of the first that has one.

    `-` is standard input; a packed file stands for what is in it.
    """
    with unpacked(paths, profile.log.unpacked_gb) as found:
        sources = sorted(found, key=lambda source: natural(source.shown))
        sources, raws = _parts_of_the_log(sources, profile)
        model = next((raw for raw in raws if _may_be_model(raw)), raws[0])
        for at, raw in enumerate(raws):
            if raw is not model and _asks_for_one(raw) and set(raw.frame.columns) != set(model.frame.columns):
                raws[at] = _laid_down(read_source(sources[at], profile, model), _rows_of(raws), len(raws))
    return _alike(raws, model.path)


def _may_be_model(raw: RawTable) -> bool:
    """Whether other files of the log can be read like this one."""
    if raw.container in OF_PAIRS:
        return set(NAMED) <= set(raw.frame.columns)
    return bool(raw.dialect and raw.dialect.header_line)


def _asks_for_one(raw: RawTable) -> bool:
    """Whether how a file is to be read may be told by another file of the log."""
    return raw.dialect is not None or raw.container in OF_PAIRS


def natural(path: Path) -> tuple[object, ...]:
    """Key that sorts log2 before log10."""
    parts = re.split(r"(\d+)", path.name)
    return (*((0, int(part), "") if part.isdecimal() else (1, 0, part) for part in parts), str(path))


def _parts_of_the_log(sources: list[Source], profile: Profile) -> tuple[list[Source], list[RawTable]]:
    """The files as tables. What else lies in an archive (a picture, a text without any stamp) is passed over and said.

    A file that the user named is never passed over.
    """
    known = [source for source in sources if not source.is_member or is_known(source.path)] or sources
    raws = _read(known, profile)
    keep = [not source.is_member or _has_stamps(raw) for source, raw in zip(known, raws, strict=True)]
    if not any(keep):
        keep = [True] * len(known)
    kept = [at for at, yes in enumerate(keep) if yes]
    over = [source for source in sources if source not in [known[at] for at in kept]]
    parts = [raws[at] for at in kept]
    said = tuple(f"'{source.shown.name}' holds no stamps: passed over, no part of the log." for source in over)
    parts[0] = replace(parts[0], notes=(*parts[0].notes, *said))
    return [known[at] for at in kept], parts


def _read(sources: list[Source], profile: Profile) -> list[RawTable]:
    """Each file as a table. Those of a long log are laid down one by one: memory holds one of them."""
    sizes = [source.path.stat().st_size if source.path.is_file() else 0 for source in sources]
    raws: list[RawTable] = []
    for at, source in enumerate(sources):
        raws.append(read_source(source, profile))
        records = _rows_of(raws) * sum(sizes) // max(sum(sizes[: at + 1]), 1)  # of all, if the others are like these
        raws[-1] = _laid_down(raws[-1], records, len(sources))
    return raws


def _rows_of(raws: list[RawTable]) -> int:
    return sum(raw.rows for raw in raws)


def _laid_down(raw: RawTable, records: int, files: int) -> RawTable:
    """A file of a log of so many records and files; its table lies in a file where it is long."""
    return raw if raw.laid_down else replace(raw, frame=laid_down(raw.frame, records, files))


def _has_stamps(raw: RawTable) -> bool:
    sample = as_text(raw.frame.head(_SAMPLE))
    for column in sample.iter_columns():
        found = read_clock([column])
        if found is not None and 2 * found.time.null_count() < len(column) + column.null_count():
            return True
    return False


def _alike(raws: list[RawTable], model: Path) -> list[RawTable]:
    """The tables with the same columns in the same types; ReadingError where a column is missing."""
    if len(raws) == 1:
        return raws
    sparse = dict.fromkeys(column for raw in raws if raw.sparse for column in raw.frame.columns)
    wanted = next(raw for raw in raws if raw.path == model).frame.columns
    union = list(dict.fromkeys((*wanted, *sparse)))
    for at, raw in enumerate(raws):
        missing = [column for column in union if column not in raw.frame.columns]
        if missing and not raw.sparse:
            raise ReadingError(
                f"the columns of '{model.name}'",
                f"no column '{sorted(missing)[0]}'",
                "read files of one kind together",
                file=raw.path,
            )
        if missing:
            empty = [pl.lit(None, pl.String).alias(column) for column in missing]
            raws[at] = replace(raw, frame=raw.frame.with_columns(empty))
    for column in union:
        types = dict.fromkeys(raw.frame[column].dtype for raw in raws)
        if len(types) > 1:
            common = _common(types)
            raws = [replace(raw, frame=raw.frame.with_columns(_cast(raw.frame[column], common))) for raw in raws]
    return raws


def _common(types: Collection[pl.DataType]) -> pl.DataType:
    if coded := of_either(types):
        return coded
    if all(dtype.is_integer() for dtype in types) and pl.UInt64 not in types:
        return pl.Int64()
    if all(dtype.is_numeric() for dtype in types):
        return pl.Float64()
    if all(isinstance(dtype, pl.Datetime) for dtype in types):
        zones = {dtype.time_zone for dtype in types if isinstance(dtype, pl.Datetime)}
        if len(zones) == 1:
            return pl.Datetime("us", zones.pop())
    return pl.String()


def _cast(column: pl.Series, common: pl.DataType) -> pl.Series:
    if common == pl.String and isinstance(column.dtype, pl.Datetime):
        return column.dt.strftime(_ISO + ("%:z" if column.dtype.time_zone else ""))
    return column.cast(common)
