"""The same small log in each container, written by programs that know nothing of the readers.

Spreadsheet by xlsxwriter, Arrow and Parquet by pyarrow, SQLite by the standard library, the texts by hand.
"""

from __future__ import annotations

import io
import json
import sqlite3
import tempfile
from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from xml.sax.saxutils import quoteattr

import pyarrow as pa
import pyarrow.parquet as pq
import xlsxwriter

Row = tuple[datetime, str, int]
Writer = Callable[[Sequence[Row]], bytes]

BEGIN = datetime(2026, 3, 2, 6, 0, 0, 120_000)


def sample(count: int = 12) -> list[Row]:
    """RUN on and off each second, FB a little later; RUN is off at first."""
    rows: list[Row] = []
    for at in range(count):
        name = "FB" if at % 2 else "RUN"
        rows.append((BEGIN + timedelta(milliseconds=500 * at), name, at // 2 % 2))
    return rows


def stamp(time: datetime) -> str:
    return time.isoformat(sep=" ", timespec="milliseconds")


def delimited(rows: Sequence[Row]) -> bytes:
    return ("time;tag;state\n" + "".join(f"{stamp(t)};{n};{v}\n" for t, n, v in rows)).encode()


def json_lines(rows: Sequence[Row]) -> bytes:
    return "".join(json.dumps({"time": stamp(t), "tag": n, "state": v}) + "\n" for t, n, v in rows).encode()


def json_array(rows: Sequence[Row]) -> bytes:
    return json.dumps([{"time": stamp(t), "tag": n, "state": v} for t, n, v in rows], indent=1).encode()


def json_cells(rows: Sequence[Row]) -> bytes:
    return json.dumps([["time", "tag", "state"], *([stamp(t), n, v] for t, n, v in rows)]).encode()


def table(rows: Sequence[Row]) -> pa.Table:
    times, names, values = zip(*rows, strict=True)
    return pa.table(
        {
            "time": pa.array(times, pa.timestamp("ms")),
            "tag": pa.array(names).dictionary_encode(),
            "state": pa.array(values, pa.int8()),
        }
    )


def arrow_file(rows: Sequence[Row]) -> bytes:
    sink = io.BytesIO()
    with pa.ipc.new_file(sink, table(rows).schema) as writer:
        writer.write_table(table(rows))
    return sink.getvalue()


def arrow_stream(rows: Sequence[Row]) -> bytes:
    sink = io.BytesIO()
    with pa.ipc.new_stream(sink, table(rows).schema) as writer:
        writer.write_table(table(rows), max_chunksize=4)
    return sink.getvalue()


def parquet(rows: Sequence[Row]) -> bytes:
    sink = io.BytesIO()
    pq.write_table(table(rows), sink)
    return sink.getvalue()


def spreadsheet(rows: Sequence[Row]) -> bytes:
    """Title, empty row, header in row 3, real date cells."""
    sink = io.BytesIO()
    book = xlsxwriter.Workbook(sink, {"in_memory": True})
    book.set_properties({"created": BEGIN})
    sheet = book.add_worksheet("Log")
    form = book.add_format({"num_format": "dd.mm.yyyy hh:mm:ss.000"})
    sheet.merge_range(0, 0, 0, 2, "Shift book of hoist 1")
    sheet.write_row(2, 0, ["time", "tag", "state"])
    for at, (time, name, value) in enumerate(rows, 3):
        sheet.write_datetime(at, 0, time, form)
        sheet.write(at, 1, name)
        sheet.write(at, 2, value)
    book.close()
    return sink.getvalue()


def sqlite(rows: Sequence[Row]) -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log.db"
        database = sqlite3.connect(path)
        database.execute("CREATE TABLE events (time TEXT, tag TEXT, state INTEGER)")
        database.executemany("INSERT INTO events VALUES (?, ?, ?)", [(stamp(t), n, v) for t, n, v in rows])
        database.commit()
        database.close()
        return path.read_bytes()


def syslog(rows: Sequence[Row]) -> bytes:
    lines = (f"<134>1 {t.isoformat()}Z hoist1 plc 311 IO - tag={n} state={v}\n" for t, n, v in rows)
    return "".join(lines).encode()


def old_syslog(rows: Sequence[Row]) -> bytes:
    """RFC 3164: no year, no fraction."""
    lines = (
        f"<134>{t.strftime('%b')} {t.day:2} {t.strftime('%H:%M:%S')} hoist1 plc[311]: tag={n} state={v}\n"
        for t, n, v in rows
    )
    return "".join(lines).encode()


def pairs(rows: Sequence[Row]) -> bytes:
    return "".join(f"[{stamp(t)}] INFO io: tag={n} state={v}\n" for t, n, v in rows).encode()


def bare_pairs(rows: Sequence[Row]) -> bytes:
    return "".join(f'time="{stamp(t)}" tag={n} state={v}\n' for t, n, v in rows).encode()


def xes(rows: Sequence[Row]) -> bytes:
    """By the grammar of IEEE 1849: one trace, on and off as start and complete."""
    events = "".join(
        f'<event><string key="concept:name" value={quoteattr(n)}/>'
        f'<string key="lifecycle:transition" value="{"start" if v else "complete"}"/>'
        f'<date key="time:timestamp" value="{t.replace(tzinfo=UTC).isoformat()}"/></event>\n'
        for t, n, v in rows
    )
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n<log xes.version="1849-2016" xmlns="http://www.xes-standard.org/">\n'
        '<extension name="Time" prefix="time" uri="http://www.xes-standard.org/time.xesext"/>\n'
        '<global scope="event"><string key="concept:name" value="none"/></global>\n'
        '<classifier name="all" keys="concept:name lifecycle:transition"/>\n'
        f'<trace><string key="concept:name" value="lift 1"/>\n{events}</trace>\n</log>\n'
    ).encode()


WRITERS: dict[str, dict[str, Writer]] = {
    "delimited text": {"delimited": delimited},
    "JSON": {"json lines": json_lines, "json array": json_array, "json cells": json_cells},
    "Arrow": {"arrow file": arrow_file, "arrow stream": arrow_stream},
    "Parquet": {"parquet": parquet},
    "spreadsheet": {"xlsx": spreadsheet},
    "SQLite": {"sqlite": sqlite},
    "syslog": {"syslog": syslog, "old syslog": old_syslog},
    "text of pairs": {"pairs": pairs, "bare pairs": bare_pairs},
    "XES": {"xes": xes},
}
"""Format -> its kinds. The contract tests and the fuzzer ask every registered format for an entry."""

KINDS: dict[str, Writer] = {kind: writer for kinds in WRITERS.values() for kind, writer in kinds.items()}
TEXTS = ("delimited", "json lines", "json array", "json cells", "syslog", "old syslog", "pairs", "bare pairs", "xes")
"""Kinds that are texts."""
