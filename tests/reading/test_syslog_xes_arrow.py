"""Guards system logs, XES and Arrow: their forms, what becomes a column, order, and what is set aside or refused."""

from __future__ import annotations

import io
import warnings
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from containers import arrow_stream, sample
from reading_logs import balanced, on_seconds, profile, starts, write

from eventlens.errors import ReadingError
from eventlens.reading import read
from eventlens.reading.formats import read_raw, syslog
from eventlens.reading.profile import Profile
from eventlens.reading.raw import RawTable


def raw(folder: Path, content: str | bytes, name: str = "log") -> RawTable:
    found = read_raw(write(folder, content, name), Profile())
    assert found.rows == found.frame.height + found.rejected.height + found.blank
    return found


# --- system log

STAMPS = [  # the examples of RFC 5424, section 6.2.3.1
    "1985-04-12T23:20:50.52Z",
    "1985-04-12T19:20:50.52-04:00",
    "2003-10-11T22:14:15.003Z",
    "2003-08-24T05:14:15.000003-07:00",
]


def test_the_newer_form(tmp_path: Path) -> None:
    lines = [
        "<34>1 2003-10-11T22:14:15.003Z mymachine.example.com su - ID47 - \ufeff'su root' failed on /dev/pts/8",
        '<165>1 2003-10-11T22:14:15.003Z host app 8710 - [x@1 iut="3" src="a\\"b\\]c"][y@2 class="high"]',
        "<165>1 - - - - - -",
        *(f"<0>1 {stamp} h a - - - m" for stamp in STAMPS),
    ]
    found = raw(tmp_path, "\n".join(lines) + "\n")
    assert found.frame.row(0, named=True) == {
        "time": "2003-10-11T22:14:15.003Z", "host": "mymachine.example.com", "app": "su", "process": None, "id": "ID47",
        "priority": "34", "x@1.iut": None, "x@1.src": None, "y@2.class": None,
        "message": "'su root' failed on /dev/pts/8",
    }  # fmt: skip
    assert found.frame.row(1, named=True)["x@1.src"] == 'a"b]c'
    assert found.frame["time"].to_list()[-4:] == STAMPS
    assert found.rejected["reason"].to_list() == [syslog.NO_RECORD]  # no stamp at all: no record of a log


@pytest.mark.parametrize(
    ("line", "parts"),
    [
        ("<34>Oct 11 22:14:15 mymachine su: 'su root' failed", ("Oct 11 22:14:15", "mymachine", "su", None)),
        ("Oct  1 22:14:15 mymachine su[230]: failed", ("Oct  1 22:14:15", "mymachine", "su", "230")),
        ("<13>Feb  5 17:32:18 10.0.0.99 Use the crane!", ("Feb  5 17:32:18", "10.0.0.99", None, None)),
        ("Mar  2 2026 06:00:00.250 gw io/2[7]: x", ("Mar  2 2026 06:00:00.250", "gw", "io/2", "7")),
        ("2026-03-02T06:00:00.250+01:00 gw plc[7]: x", ("2026-03-02T06:00:00.250+01:00", "gw", "plc", "7")),
        ("123 <134>1 2026-03-02T06:00:00Z gw plc 7 - - x", ("2026-03-02T06:00:00Z", "gw", "plc", "7")),
    ],
)
def test_forms(line: str, parts: tuple[str | None, ...], tmp_path: Path) -> None:
    found = raw(tmp_path, f"{line}\n{line}\r\n")
    assert found.container == "syslog"
    assert found.frame.select("time", "host", "app", "process").rows() == [parts, parts]


@pytest.mark.parametrize(
    "text",
    [
        "May  9 06:00:00 c1 RUN 1\nMay 9 06:00:05 c1 RUN 0\n",  # neither priority nor tag: a table parted by blanks
        "2026-03-02 06:00:00;RUN;1\n2026-03-02 06:00:01;RUN;0\n",
        "<34>no\n<35>no\n",
    ],
)
def test_what_is_no_system_log(text: str, tmp_path: Path) -> None:
    assert raw(tmp_path, text).container == "delimited text"


def line(at: int, message: str) -> str:
    return f"<134>1 2026-03-02T06:00:{at:02}Z hoist1 plc - - - {message}\n"


def test_regular_pairs_become_columns(tmp_path: Path) -> None:
    text = "".join(line(at, f'RUN={at % 2}, FB={at // 2 % 2}; note="a b"') for at in range(8))
    found = raw(tmp_path, text)
    assert found.frame.columns[-4:] == ["RUN", "FB", "note", "message"]
    log = read(tmp_path / "log", profile())
    balanced(log)
    assert (log.layout, starts(log)) == ("samples", 4)


def test_pairs_that_are_not_regular_stay_in_the_message(tmp_path: Path) -> None:
    text = "".join(line(at, f"RUN={at} went wrong" if at < 4 else "nothing to say") for at in range(10))
    assert raw(tmp_path, text).frame.columns[-1] == "message"
    assert "RUN" not in raw(tmp_path, text).frame.columns


def test_one_pair_for_each_message_is_a_name_and_a_value(tmp_path: Path) -> None:
    text = "".join(line(at, f"{'RUN' if at % 3 else 'FB'}={at % 2}") for at in range(9))
    found = raw(tmp_path, text)
    assert found.frame.select("name", "value").row(1) == ("RUN", "1")
    assert read(tmp_path / "log", profile()).layout == "changes"


def test_lines_that_go_on_and_lines_that_are_no_record(tmp_path: Path) -> None:
    text = line(0, "RUN=1") + "  more of it\n\tand more\n\n" + "rubbish\n" + line(1, "RUN=0") + line(2, "RUN=1")
    found = raw(tmp_path, text)
    assert found.lines.to_list() == [1, 6, 7]
    assert (found.rejected.rows(), found.blank) == ([(5, syslog.NO_RECORD, "rubbish")], 1)
    assert found.frame["message"][0] == "RUN=1\n  more of it\n\tand more"


# --- XES


def event(name: str, state: str, stamp: str, more: str = "") -> str:
    return (
        f'<event><string key="concept:name" value="{name}"/><string key="lifecycle:transition" value="{state}"/>'
        f'<date key="time:timestamp" value="2026-03-02T{stamp}+01:00"/>{more}</event>'
    )


def xes(*traces: str, head: str = "") -> str:
    return f'<?xml version="1.0"?>{head}\n<log xmlns="http://www.xes-standard.org/">\n' + "\n".join(traces) + "\n</log>"


def test_start_and_complete_are_on_and_off(tmp_path: Path) -> None:
    states = ("start", "suspend", "resume", "complete")
    rows = [event("RUN", "complete", "05:59:59"), *(event("RUN", s, f"06:00:0{at}") for at, s in enumerate(states))]
    log = read(write(tmp_path, xes("<trace>" + "".join(rows) + "</trace>")), profile())
    balanced(log)
    assert log.layout == "changes"
    assert (starts(log), on_seconds(log)) == (2, 2.0)
    assert log.start.isoformat() == "2026-03-02T04:59:59+00:00"


def test_attributes_of_traces_and_inner_ones(tmp_path: Path) -> None:
    inner = '<float key="load" value="1.50"><string key="unit" value="t"/></float><list key="l"><values>' + (
        '<int key="i" value="1"/><int key="i" value="2"/></values></list>'
    )
    trace = f'<trace><string key="concept:name" value="lift 1"/>{event("RUN", "start", "06:00:00", inner)}'
    found = raw(tmp_path, xes(trace + '<boolean key="late" value="true"/></trace>', "<trace/>"))
    assert found.frame.row(0, named=True) == {
        "concept:name": "RUN", "lifecycle:transition": "start", "time:timestamp": "2026-03-02T06:00:00+01:00",
        "load": "1.50", "load.unit": "t", "l.i": "1", "l.i_2": "2", "trace:concept:name": "lift 1",
        "trace:late": "true",
    }  # fmt: skip


def test_traces_that_overlap_are_put_in_order_of_time(tmp_path: Path) -> None:
    first = event("RUN", "start", "06:00:00") + event("RUN", "complete", "06:00:10")
    second = event("FB", "start", "06:00:01") + event("FB", "complete", "06:00:09")
    path = write(tmp_path, xes(f"<trace>{first}</trace>", f"<trace>{second}</trace>"))
    log = read(path, profile())
    balanced(log)
    assert log.events["row"].to_list() == [1, 3, 4, 2]
    assert log.clock_steps.is_empty()
    assert any("The traces overlap in time" in note for note in log.notes)


def test_a_step_back_inside_a_trace_stays(tmp_path: Path) -> None:
    first = event("RUN", "start", "06:00:30") + event("RUN", "complete", "06:00:10")
    second = event("FB", "start", "06:00:40")
    found = raw(tmp_path, xes(f"<trace>{first}</trace>", f"<trace>{second}</trace>"))
    assert found.lines.to_list() == [1, 2, 3]
    swapped = raw(tmp_path, xes(f"<trace>{second}</trace>", f"<trace>{first}</trace>"))
    assert swapped.lines.to_list() == [2, 3, 1]


def test_broken_xml_keeps_what_came_before(tmp_path: Path) -> None:
    good = "".join(event("RUN", "start", f"06:00:{at:02}") for at in range(20))
    found = raw(tmp_path, xes(f"<trace>{good}<event><oops</trace>"))
    assert found.frame.height == 20
    assert found.rejected["row"].to_list() == [21]
    assert "The XML is broken" in found.notes[0]


@pytest.mark.parametrize(
    "head",
    [
        '<!DOCTYPE log [<!ENTITY a "x"><!ENTITY b "&a;&a;&a;">]>',
        '<!DOCTYPE log SYSTEM "file:///etc/passwd">',
        '<!DOCTYPE log [<!ENTITY x SYSTEM "file:///etc/passwd">]>',
    ],
)
def test_document_types_are_refused(head: str, tmp_path: Path) -> None:
    with pytest.raises(ReadingError, match="wanted XES without a document type"):
        raw(
            tmp_path,
            xes("<trace>" + event("RUN", "start", "06:00:00", '<string key="x" value="v"/>') + "</trace>", head=head),
        )


def test_elements_inside_one_another_without_end(tmp_path: Path) -> None:
    deep = '<string key="a" value="b">' * 100_000
    with pytest.raises(ReadingError, match="elements more than 40 deep"):
        raw(tmp_path, xes(f"<trace><event>{deep}"))


def test_a_log_without_events(tmp_path: Path) -> None:
    with pytest.raises(ReadingError, match="at least one row of data"):
        read(write(tmp_path, xes("<trace/>")), profile())


# --- Arrow and Parquet

TABLE = pa.table(
    {
        "when": pa.array([datetime(2026, 3, 2, 6)] * 2, pa.timestamp("ns", "UTC")),
        "day": pa.array([date(2026, 3, 2)] * 2),
        "clock": pa.array([time(6, 0, 1, 250_000)] * 2),
        "tag": pa.array(["a", None]).dictionary_encode(),
        "exact": pa.array([Decimal("1.50"), None], pa.decimal128(9, 2)),
        "span": pa.array([timedelta(seconds=1.5), None], pa.duration("ms")),
        "bytes": pa.array([b"\0\xff", None]),
        "inner": pa.array([{"a": 1, "b": {"c": True}}, None]),
        "list": pa.array([[1, 2], None]),
        "none": pa.array([None, None]),
    }
)
PLAIN = {
    "day": "2026-03-02", "clock": "06:00:01.250000", "tag": "a", "exact": "1.50", "span": 1.5, "bytes": "00ff",
    "inner.a": 1, "inner.b.c": True, "list": "[1, 2]", "none": None,
}  # fmt: skip


def written(kind: str) -> bytes:
    sink = io.BytesIO()
    if kind == "parquet":
        pq.write_table(TABLE, sink)
        return sink.getvalue()
    new = pa.ipc.new_file if kind == "file" else pa.ipc.new_stream
    with new(sink, TABLE.schema) as writer:
        writer.write_table(TABLE)
    return sink.getvalue()


@pytest.mark.parametrize("kind", ["file", "stream", "parquet"])
def test_types_become_plain(kind: str, tmp_path: Path) -> None:
    found = raw(tmp_path, written(kind))
    row = found.frame.row(0, named=True)
    assert row.pop("when").isoformat() == "2026-03-02T06:00:00+00:00"
    assert row == PLAIN


def test_names_that_come_twice_or_not_at_all(tmp_path: Path) -> None:
    sink = io.BytesIO()
    table = pa.Table.from_arrays([pa.array([1]), pa.array([2]), pa.array([3])], ["a", "a", ""])
    with pa.ipc.new_file(sink, table.schema) as writer:
        writer.write_table(table)
    assert raw(tmp_path, sink.getvalue()).frame.to_dicts() == [{"a": 1, "a_2": 2, "column_3": 3}]


def test_a_stream_that_breaks_off_gives_its_batches(tmp_path: Path) -> None:
    whole = arrow_stream(sample(40))
    found = raw(tmp_path, whole[: len(whole) - 100])
    assert 0 < found.frame.height < 40
    assert found.frame.height % 4 == 0  # batches of four
    assert "The stream breaks off after" in found.notes[0]


def test_the_first_kind_of_feather(tmp_path: Path) -> None:
    from pyarrow import feather

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        feather.write_feather(pa.table({"a": [1, 2]}), str(tmp_path / "old"), version=1)
    assert read_raw(tmp_path / "old", Profile()).frame["a"].to_list() == [1, 2]
