"""Archive -> files for other programs: Parquet, CSV, XES (IEEE 1849). Written month by month, whole or not at all.

CSV: texts that a spreadsheet might run as a formula begin with an apostrophe. XES: a trace for each machine, an event
for each record, with the signal as its name.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Final
from xml.sax.saxutils import quoteattr

import polars as pl
import pyarrow.parquet as pq

from eventlens.errors import EventlensError
from eventlens.reading.rejects import harmless

SUFFIXES: Final = (".parquet", ".csv", ".xes")
STAMP: Final = "%Y-%m-%dT%H:%M:%S%.6fZ"
_XES_HEAD: Final = """<?xml version="1.0" encoding="UTF-8"?>
<log xes.version="1849-2016" xes.features="">
<extension name="Concept" prefix="concept" uri="http://www.xes-standard.org/concept.xesext"/>
<extension name="Time" prefix="time" uri="http://www.xes-standard.org/time.xesext"/>
"""


def check_suffix(target: Path, *, events: bool) -> None:
    """EventlensError for a kind of file that cannot be written; XES holds events only."""
    known = SUFFIXES if events else SUFFIXES[:2]
    if target.suffix.lower() not in known:
        raise EventlensError(
            f"a file that ends in {', '.join(known[:-1])} or {known[-1]}", f"'{target.name}'", "name it so", file=target
        )


def export(parts: Iterable[pl.DataFrame], empty: pl.DataFrame, target: Path) -> int:
    """Writes frames of one table after each other; how many rows. empty: the table without rows."""
    write = {".parquet": _parquet, ".csv": _csv, ".xes": _xes}[target.suffix.lower()]
    with _whole(target) as file:
        return write(parts, empty, file)


@contextmanager
def _whole(target: Path) -> Iterator[IO[bytes]]:
    """A file that takes the place of the target when all of it is written."""
    rough = target.with_name(target.name + ".part")
    try:
        with rough.open("wb") as file:
            yield file
        os.replace(rough, target)
    except OSError as fault:
        got = fault.strerror or str(fault)
        raise EventlensError("a file that can be written", got, "name another place", file=target) from None
    finally:
        rough.unlink(missing_ok=True)


def _parquet(parts: Iterable[pl.DataFrame], empty: pl.DataFrame, file: IO[bytes]) -> int:
    rows = 0
    with pq.ParquetWriter(file, empty.to_arrow().schema, compression="zstd") as writer:
        for part in parts:
            writer.write_table(part.to_arrow().cast(empty.to_arrow().schema))
            rows += part.height
    return rows


def _csv(parts: Iterable[pl.DataFrame], empty: pl.DataFrame, file: IO[bytes]) -> int:
    rows = 0
    file.write(harmless(empty).write_csv().encode())
    for part in parts:
        file.write(harmless(part).write_csv(include_header=False, datetime_format=STAMP).encode())
        rows += part.height
    return rows


def _xes(parts: Iterable[pl.DataFrame], empty: pl.DataFrame, file: IO[bytes]) -> int:
    rows, machine = 0, None
    file.write(_XES_HEAD.encode())
    for part in parts:
        for (name,), mine in part.group_by("machine", maintain_order=True):
            if name != machine:
                file.write((("</trace>\n" if machine is not None else "") + _trace(str(name))).encode())
                machine = name
            file.write(_events(mine).encode())
        rows += part.height
    file.write((("</trace>\n" if machine is not None else "") + "</log>\n").encode())
    return rows


def _trace(machine: str) -> str:
    return f'<trace><string key="concept:name" value={quoteattr(machine)}/>\n'


def _events(rows: pl.DataFrame) -> str:
    """The events as XML."""
    stamp = pl.col("time").dt.strftime(STAMP)
    value = pl.format('<float key="value" value="{}"/>', pl.col("value"))
    event = pl.format(
        '<event><string key="concept:name" value="{}"/><date key="time:timestamp" value="{}"/>{}</event>',
        _escaped(pl.col("signal")),
        stamp,
        value.fill_null(""),
    )
    return "\n".join(rows.select(event).to_series()) + "\n"


def _escaped(text: pl.Expr) -> pl.Expr:
    pairs = {"&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;"}
    for plain, written in pairs.items():
        text = text.str.replace_all(plain, written, literal=True)
    return text
