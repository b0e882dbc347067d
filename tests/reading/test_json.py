"""Guards JSON: numbers without loss, nesting, broken records by line, whole documents, wrappers, hostile input."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reading_logs import on_seconds, profile, read_text, write

from eventlens.errors import ReadingError
from eventlens.reading import read
from eventlens.reading.formats import _records, read_raw
from eventlens.reading.profile import Profile
from eventlens.reading.raw import RawTable


def raw(folder: Path, text: str | bytes) -> RawTable:
    found = read_raw(write(folder, text, "log.json"), Profile())
    assert found.rows == found.frame.height + found.rejected.height + found.blank
    return found


def test_numbers_keep_every_digit(tmp_path: Path) -> None:
    numbers = ["12345678901234567890", "0.10", "1e400", "-0", "1.7145432001234567891", "3.0000000000000000001"]
    text = "".join(f'{{"t": {number}}}\n' for number in numbers)
    assert raw(tmp_path, text).frame["t"].to_list() == numbers


def test_cells_of_every_kind(tmp_path: Path) -> None:
    text = '{"a": true, "b": null, "c": "x", "d": {"e": 1, "f": {"g": "h"}}, "i": [1, {"k": 2}], "": 5, "n": NaN}\n{}\n'
    found = raw(tmp_path, text)
    assert found.frame.row(0, named=True) == {
        "a": "true", "b": None, "c": "x", "d.e": "1", "d.f.g": "h", "i": '["1", {"k": "2"}]', "column_7": "5",
        "n": "NaN",
    }  # fmt: skip
    assert found.blank == 1


def test_broken_records_are_set_aside_with_their_line(tmp_path: Path) -> None:
    text = '{"a": 1}\n\n{"a": 2\nnull\n{"a": 3}}\n17\n\0\0\0\n{"a": 4},\n{"a"'
    found = raw(tmp_path, text + " " * 60)
    assert found.frame["a"].to_list() == ["1", "4"]
    assert found.lines.to_list() == [1, 8]
    assert [(row, reason) for row, reason, _ in found.rejected.rows()] == [
        (3, _records.BROKEN), (4, _records.NOT_A_RECORD), (5, _records.BROKEN), (6, _records.NOT_A_RECORD),
        (9, _records.BROKEN),
    ]  # fmt: skip
    assert (found.blank, found.last_line) == (2, 9)


def test_a_name_twice_is_kept_and_said(tmp_path: Path) -> None:
    found = raw(tmp_path, '{"a": 1}\n{"a": 2, "a": 3, "a": 4}\n')
    assert found.frame.rows() == [("1", None, None), ("2", "3", "4")]
    assert found.frame.columns == ["a", "a_2", "a_3"]
    assert found.notes == ("A record holds 'a' twice (first in line 2): the second is in 'a_2'.",)


DOCUMENTS = {
    "array": '[{"t": "x", "v": 1}, {"t": "y", "v": 2}]',
    "array with empty records": '[\n {},\n {},\n {},\n {},\n {"t": "x", "v": 1},\n {"t": "y",\n "v": 2}\n]',
    "array over lines": '[\n  {\n "t": "x",\n "v": 1},\n\n {"t": "y", "v": 2}\n]\n',
    "cells": '[["t", "v"], ["x", 1], ["y", 2]]',
    "cells line by line": '["t", "v"]\n["x", 1]\n["y", 2]\n',
    "wrapped": '{"device": "h", "n": [1, 2, 3, 4], "rows": [{"t": "x", "v": 1}, {"t": "y", "v": 2}], "z": {"q": [1]}}',
    "wrapped cells": '{"rows":\n [["t", "v"], ["x", 1], ["y", 2]]}',
    "objects over lines, no array": '{\n"t": "x",\n"v": 1\n}\n{\n"t": "y",\n"v": 2\n}\n',
    "one after the other in a line": '{"t": "x", "v": 1}{"t": "y", "v": 2}',
    "arrays one after the other": '[{"t": "x", "v": 1}]\n[{"t": "y", "v": 2}]',
    "empty records, then records over lines": '{}\n{}\n{\n"t": "x",\n"v": 1\n}\n{\n"t": "y",\n"v": 2\n}\n',
    "wrapped, a record for each line": '{"rows": [\n{"t": "x", "v": 1},\n{"t": "y", "v": 2}\n]}',
    "wrapped with empty records": '{"rows": [\n' + "{},\n" * 100 + '{"t": "x",\n"v": 1},\n{"t": "y",\n"v": 2}]}',
    "empty records for each line": "{}\n" * 100 + '{"t": "x", "v": 1}\n{"t": "y", "v": 2}\n',
}


@pytest.mark.parametrize("name", DOCUMENTS)
def test_documents(name: str, tmp_path: Path) -> None:
    found = raw(tmp_path, DOCUMENTS[name])
    assert found.frame.select("t", "v").rows() == [("x", "1"), ("y", "2")]
    assert found.rejected.is_empty()


@pytest.mark.parametrize("head", [1, 3, 60, 700])
@pytest.mark.parametrize("empty", [{}, {"a": {}}, {"a": {"b": {}}}, {"a": None}], ids=str)
@pytest.mark.parametrize("indent", [None, 0, 2])
def test_a_head_of_records_without_a_cell(
    head: int, empty: dict[str, object], indent: int | None, tmp_path: Path
) -> None:
    records = [empty] * head + [{"t": "x", "v": 1}, {"t": "y", "v": 2}]
    each = [json.dumps(record, indent=indent) for record in records]
    for text in (
        json.dumps(records, indent=indent),
        json.dumps({"rows": records}, indent=indent),
        "[" + ",\n".join(each) + "]",
        "[\n" + "\n,".join(each) + "\n]\n",
        "\n".join(each) + "\n",
    ):
        found = raw(tmp_path, text)
        assert found.rejected.is_empty(), text[:80]
        assert found.frame.select("t", "v").rows() == [("x", "1"), ("y", "2")]
        assert found.blank == head


def test_a_broken_first_record_does_not_make_a_document_of_the_lines(tmp_path: Path) -> None:
    found = raw(tmp_path, '{"t": "x", "v":\n{"t": "y", "v": 2}\n{"t": "z", "v": 3}\n')
    assert (found.frame["t"].to_list(), found.rejected["row"].to_list()) == (["y", "z"], [1])


def test_records_behind_a_separator(tmp_path: Path) -> None:
    text = "".join(f'\x1e{{"time": "2026-03-02T06:00:0{at}Z", "v": {at}}}\n' for at in range(5))
    assert raw(tmp_path, text).frame["v"].to_list() == ["0", "1", "2", "3", "4"]


def test_a_broken_record_inside_a_document(tmp_path: Path) -> None:
    found = raw(tmp_path, '[\n{"a": 1},\n{"a": , "b": {"a": 9}},\n{"a": 3},\n{"a": 4')
    assert (found.frame["a"].to_list(), found.lines.to_list()) == (["1", "3"], [2, 4])
    assert found.rejected["row"].to_list() == [3, 5]
    in_one_line = raw(tmp_path, '[{"a": 1},{"a": },{"a": 3},{"a"')
    assert in_one_line.frame["a"].to_list() == ["1", "3"]
    assert in_one_line.rejected.height == 2


def test_arrays_of_cells_that_do_not_fit_their_header(tmp_path: Path) -> None:
    found = raw(tmp_path, '["t", "v"]\n["x", 1, 2]\n["y"]\n["z", 3]\n')
    assert found.frame.rows() == [("y", None), ("z", "3")]
    assert found.rejected["reason"].to_list() == [_records.MISFIT]
    assert raw(tmp_path, '["2026-03-02 06:00:00", "RUN", 1]\n["2026-03-02 06:00:01", "RUN", 0]\n').frame.columns == [
        "column_1", "column_2", "column_3",
    ]  # fmt: skip


@pytest.mark.parametrize("opening", ["[", '{"a":', '[{"a":['])
def test_nesting_without_end_is_set_aside(opening: str, tmp_path: Path) -> None:
    found = raw(tmp_path, opening * 50_000 + "\n" + '{"a": 1}\n' * 3)
    assert found.frame["a"].to_list() == ["1"] * 3
    assert found.rejected.height == 1


def test_half_a_character(tmp_path: Path) -> None:
    assert raw(tmp_path, '{"a\\ud800": "x\\udfff"}\n{"b": 1}\n').frame.rows() == [("x?", None), (None, "1")]


def test_too_many_names_are_refused(tmp_path: Path) -> None:
    text = "".join(json.dumps({f"n{at}": 1}) + "\n" for at in range(10_001))
    with pytest.raises(ReadingError, match="wanted at most 10000 columns"):
        raw(tmp_path, text)


def test_a_log_with_a_column_for_each_signal_and_nested_values(tmp_path: Path) -> None:
    text = "".join(
        json.dumps({"ts": f"2026-03-02T06:00:{at:02}Z", "tags": {"RUN": at // 3 % 2, "FB": at % 2 == 0}}) + "\n"
        for at in range(12)
    )
    signals = {"tags.RUN": profile().signals["RUN"], "tags.FB": profile().signals["FB"]}
    log = read_text(tmp_path, text, signals)
    assert (log.layout, on_seconds(log)) == ("samples", 5.0)  # 3 to 6, and 9 to the last row at 11


def test_epochs_in_numbers(tmp_path: Path) -> None:
    text = '{"ts": 1714543200250, "tag": "RUN", "value": 1}\n{"ts": 1714543201000, "tag": "RUN", "value": 0}\n'
    assert on_seconds(read_text(tmp_path, text)) == 0.75


LETTERS = st.characters(exclude_categories=("Cs", "Cc", "Z"))


@given(
    st.lists(
        st.dictionaries(
            st.text(LETTERS, min_size=1, max_size=4).filter(lambda t: t == t.strip()),
            st.one_of(st.none(), st.booleans(), st.integers(), st.text(LETTERS, max_size=5)),
            max_size=4,
        ),
        min_size=1,
        max_size=6,
    ),
    st.sampled_from([None, 1]),
)
def test_every_record_that_json_writes_comes_back(
    tmp_path_factory: pytest.TempPathFactory, records: list[dict[str, object]], indent: int | None
) -> None:
    text = json.dumps(records, indent=indent) if indent else "".join(json.dumps(r) + "\n" for r in records)
    if not any(records):
        return
    found = raw(tmp_path_factory.mktemp("json"), text)
    full = [r for r in records if any(v is not None and str(v).strip() for v in r.values())]
    assert found.rejected.is_empty()
    assert found.frame.height == len(full)
    for row, record in zip(found.frame.iter_rows(named=True), full, strict=True):
        for name, value in record.items():
            text_there = None if value is None else str(value).lower() if isinstance(value, bool) else str(value)
            assert row[name] == text_there


def test_reading_goes_on_after_a_flood_of_broken_lines(tmp_path: Path) -> None:
    good = '{"time": "2026-03-02T06:00:00Z", "tag": "RUN", "value": 1}\n'
    log = read(write(tmp_path, good * 40 + '{"tim\n' * 20_000 + good), profile())
    assert log.rejected.height == 20_000
