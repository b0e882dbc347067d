"""Guards spreadsheets: which sheet, where the table begins, what dates and numbers become, and the older kinds."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

import pytest
import xlsxwriter
from reading_logs import balanced, on_seconds, profile, starts, write

from eventlens.errors import ReadingError
from eventlens.reading import read
from eventlens.reading.formats import read_raw
from eventlens.reading.formats._packed import document_parts
from eventlens.reading.formats._sheet_area import check_area
from eventlens.reading.profile import LogKeys, Profile
from eventlens.reading.raw import RawTable

DATA = Path(__file__).parent.parent / "data" / "reading"


def book(folder: Path, fill: Callable[[Any], None], **options: object) -> Path:
    sink = io.BytesIO()
    made = xlsxwriter.Workbook(sink, {"in_memory": True, **options})
    fill(made)
    made.close()
    return write(folder, sink.getvalue(), "book.xlsx")


def raw(path: Path, **log: object) -> RawTable:
    found = read_raw(path, Profile(LogKeys.model_validate(log)))
    assert found.rows == found.frame.height + found.rejected.height + found.blank
    return found


def rows_of(sheet: Any, form: Any, first: int, count: int = 4) -> None:
    sheet.write_row(first, 0, ["Time", "Tag", "State"])
    for at in range(count):
        sheet.write_datetime(first + 1 + at, 0, datetime(2026, 3, 2, 6, 0, at, 120_000), form)
        sheet.write_row(first + 1 + at, 1, ["RUN", at % 2])


@pytest.mark.parametrize("first", [0, 1, 2, 7])
@pytest.mark.parametrize("form", ["dd/mm/yyyy hh:mm:ss.000", "m/d/yy h:mm AM/PM", "yyyy-mm-dd"])
def test_the_table_is_found_below_any_preamble(first: int, form: str, tmp_path: Path) -> None:
    def fill(made: Any) -> None:
        sheet = made.add_worksheet("Sheet1")
        rows_of(sheet, made.add_format({"num_format": form}), first)
        if first > 1:
            sheet.merge_range(0, 0, 0, 2, "Shift book, 02.03.2026")
        if first > 3:
            sheet.write_row(3, 0, ["Exported", datetime(2026, 3, 3).isoformat()])

    log = read(book(tmp_path, fill), profile())
    balanced(log)
    assert log.events["row"].to_list() == [first + 2, first + 3, first + 4, first + 5]
    assert (starts(log), on_seconds(log)) == (2, 1.0)  # on at 1 s and 3 s, the last run is open
    assert log.events["time"][0].microsecond == 120_000  # whatever the cell shows


def test_the_sheet_that_looks_most_like_a_log_is_taken_and_said(tmp_path: Path) -> None:
    def fill(made: Any) -> None:
        form = made.add_format({"num_format": "yyyy-mm-dd hh:mm:ss"})
        cover = made.add_worksheet("Cover")
        cover.write(0, 0, "Hoist 1")
        cover.write_datetime(1, 0, datetime(2026, 3, 2), form)
        rows_of(made.add_worksheet("Records"), form, 0)
        names = made.add_worksheet("Names")
        names.write_row(0, 0, ["Name", "Kind"])
        for at in range(1, 51):
            names.write_row(at, 0, [f"K{at}", "contactor"])
        made.add_chartsheet("Chart")

    path = book(tmp_path, fill)
    found = raw(path)
    assert found.frame.height == 4
    assert found.notes == ("Sheet 'Records' was read, not 'Cover', 'Names', 'Chart' ([log] sheet chooses).",)
    assert raw(path, sheet="Names").frame.height == 50
    with pytest.raises(ReadingError, match="did you mean 'Records'"):
        raw(path, sheet="Record")
    with pytest.raises(ReadingError, match="without any"):
        raw(book(tmp_path, lambda made: made.add_worksheet("Empty")))


def test_what_cells_become(tmp_path: Path) -> None:
    def fill(made: Any) -> None:
        def form(text: str) -> Any:
            return made.add_format({"num_format": text})

        sheet = made.add_worksheet("Log")
        sheet.write_row(0, 0, ["Date", "Time", "Tag", "State", "Flag", "Serial", "Load"])
        for at in (1, 2):
            sheet.write_datetime(at, 0, date(2026, 3, at), form("dd.mm.yyyy"))
            sheet.write_datetime(at, 1, time(6, 0, at), form("hh:mm:ss"))
            sheet.write_row(at, 2, [82, at - 1, at == 2, 46083.25, 12.5])
        sheet.write_formula(2, 6, "=1/0", None, "#DIV/0!")

    found = raw(book(tmp_path, fill))
    assert found.frame.rows() == [
        ("2026-03-01", "06:00:01", "82", "0", "false", "46083.25", "12.5"),
        ("2026-03-02", "06:00:02", "82", "1", "true", "46083.25", None),
    ]


def test_serial_dates_without_a_format(tmp_path: Path) -> None:
    def fill(made: Any) -> None:
        sheet = made.add_worksheet("Log")
        sheet.write_row(0, 0, ["time", "tag", "state"])
        sheet.write_row(1, 0, [45413.25, "RUN", 1])  # 2024-05-01 06:00 (T: spreadsheet days from 1899-12-30)
        sheet.write_row(2, 0, [45413.2503472222, "RUN", 0])

    log = read(book(tmp_path, fill), profile())
    assert on_seconds(log) == 30.0


@pytest.mark.parametrize("base", [False, True])
def test_both_first_days_of_spreadsheets(base: bool, tmp_path: Path) -> None:
    def fill(made: Any) -> None:
        rows_of(made.add_worksheet("Log"), made.add_format({"num_format": "yyyy-mm-dd hh:mm:ss.000"}), 0)

    found = raw(book(tmp_path, fill, date_1904=base))
    assert found.frame["Time"][0] == "2026-03-02 06:00:00.120"


def test_empty_rows_columns_and_rows_with_formats_only(tmp_path: Path) -> None:
    def fill(made: Any) -> None:
        form = made.add_format({"num_format": "yyyy-mm-dd hh:mm:ss", "bg_color": "yellow"})
        sheet = made.add_worksheet("Log")
        for column, name in ((1, "Time"), (3, "Tag"), (4, "State")):
            sheet.write(2, column, name)
        for at in (3, 4, 7):
            sheet.write_datetime(at, 1, datetime(2026, 3, 2, 6, 0, at), form)
            sheet.write(at, 3, "RUN")
            sheet.write(at, 4, at % 2)
        for at in range(8, 30):
            sheet.write_blank(at, 1, None, form)

    found = raw(book(tmp_path, fill))
    assert found.frame.columns == ["Time", "Tag", "State"]
    assert (found.lines.to_list(), found.blank, found.first_line, found.last_line) == ([4, 5, 8], 2, 4, 8)


def test_no_header(tmp_path: Path) -> None:
    def fill(made: Any) -> None:
        sheet = made.add_worksheet("Log")
        for at in range(3):
            sheet.write_row(at, 0, [f"2026-03-02 06:00:0{at}", "RUN", at % 2])

    found = raw(book(tmp_path, fill))
    assert (found.frame.columns, found.lines.to_list()) == (["column_1", "column_2", "column_3"], [1, 2, 3])


@pytest.mark.parametrize(
    ("row", "column", "said"),
    [
        (1_048_575, 16_383, "cells as far out as row 1048576 and column 16384"),
        (999_999, 100, "cells as far out as row 1000000 and column 101"),
        (999_999, 80, None),
        (100, 16_383, None),
    ],
)
def test_stray_cells_far_out_are_said(row: int, column: int, said: str | None, tmp_path: Path) -> None:
    """Each row and column fits, but not the rectangle of all of them."""

    def fill(made: Any) -> None:
        sheet = made.add_worksheet("Log")
        rows_of(sheet, made.add_format({"num_format": "yyyy-mm-dd hh:mm:ss"}), 0)
        sheet.write(row, 0, "x")
        sheet.write(5, column, "x")

    path = book(tmp_path, fill)
    if said is None:
        check_area(document_parts(path), path)
    else:
        with pytest.raises(ReadingError, match=said):
            raw(path)


def test_a_reference_outside_any_sheet(tmp_path: Path) -> None:
    """It took the whole process down."""
    sink = io.BytesIO()
    path = book(tmp_path, lambda made: rows_of(made.add_worksheet("Log"), made.add_format(), 0))
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(sink, "w") as new:
        for name in old.namelist():
            new.writestr(name, old.read(name).replace(b'r="A3"', b'r="A' + b"9" * 400 + b'"'))
    with pytest.raises(ReadingError, match="cells that lie outside the sheet"):
        raw(write(tmp_path, sink.getvalue(), "far"))


def test_the_older_kind() -> None:
    found = raw(DATA / "older_kind.xls")  # written by a program of its own
    assert found.frame.rows() == [(f"2026-03-02 06:00:0{at}.120", "RUN", str(at % 2)) for at in range(4)]


def open_document(rows: str) -> bytes:
    """By the grammar of OpenDocument 1.2."""
    kinds = {"office": "office", "table": "table", "text": "text"}
    spaces = " ".join(f'xmlns:{k}="urn:oasis:names:tc:opendocument:xmlns:{v}:1.0"' for k, v in kinds.items())
    content = (
        f'<?xml version="1.0" encoding="UTF-8"?><office:document-content {spaces} office:version="1.2"><office:body>'
        f'<office:spreadsheet><table:table table:name="Log">{rows}<table:table-row table:number-rows-repeated="3">'
        "<table:table-cell/></table:table-row></table:table></office:spreadsheet></office:body>"
        "</office:document-content>"
    )
    manifest = "urn:oasis:names:tc:opendocument:xmlns:manifest:1.0"
    sink = io.BytesIO()
    with zipfile.ZipFile(sink, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("content.xml", content)
        archive.writestr(
            "META-INF/manifest.xml",
            f'<?xml version="1.0"?><manifest:manifest xmlns:manifest="{manifest}"><manifest:file-entry '
            'manifest:full-path="content.xml" manifest:media-type="text/xml"/></manifest:manifest>',
        )
    return sink.getvalue()


def test_the_open_kind_with_a_clock_in_a_column_of_its_own(tmp_path: Path) -> None:
    def cell(kind: str, key: str, value: str) -> str:
        start = f'<table:table-cell office:value-type="{kind}" office:{key}="{value}">'
        return f"{start}<text:p>{value}</text:p></table:table-cell>"

    lines = [[("string", "string-value", name) for name in ("Date", "Clock", "Tag", "State")]]
    for at in range(3):
        lines.append(
            [
                ("date", "date-value", "2026-03-02"),
                ("time", "time-value", f"PT23H59M{57 + at}S"),
                ("string", "string-value", "RUN"),
                ("float", "value", str(at % 2)),
            ]
        )
    rows = "".join(f"<table:table-row>{''.join(cell(*c) for c in line)}</table:table-row>" for line in lines)
    path = write(tmp_path, open_document(rows), "book.ods")
    assert raw(path).frame.rows()[2] == ("2026-03-02", "23:59:59.000", "RUN", "0")
    log = read(path, profile())
    balanced(log)
    assert on_seconds(log) == 1.0


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 2000, "wanted a whole spreadsheet"),
        (open_document("<table:table-row>")[:-40], "damaged"),
        (open_document("<table:oops"), "'Log' without any"),
    ],
)
def test_damaged_books(content: bytes, said: str, tmp_path: Path) -> None:
    with pytest.raises(ReadingError, match=said):
        raw(write(tmp_path, content, "book"))
