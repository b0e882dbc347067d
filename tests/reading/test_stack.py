"""A long delimited text is read piece by piece; wherever it is cut, the table is that of the text in one piece."""

from __future__ import annotations

import tempfile
from pathlib import Path

import polars as pl
import pyarrow as pa
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eventlens import spill
from eventlens.reading import Profile
from eventlens.reading.formats import _lines, _stack, delimited
from eventlens.reading.formats._stack import Stack
from eventlens.reading.raw import RawTable

CELLS = st.none() | st.text(max_size=6) | st.text(min_size=11, max_size=30)


@settings(max_examples=60, deadline=None)
@given(
    cells=st.lists(st.tuples(CELLS, CELLS), min_size=1, max_size=60),
    size=st.integers(1, 30),
    buffer=st.sampled_from([1, 100, 1 << 30]),
)
def test_pieces_on_each_other_are_the_whole(cells: list[tuple[str | None, str | None]], size: int, buffer: int) -> None:
    whole = pl.DataFrame(cells, schema={"a": pl.String, "b": pl.String}, orient="row")
    with pytest.MonkeyPatch.context() as patch, Stack(whole.columns) as stack:
        patch.setattr(_stack, "_BUFFER", buffer)
        for begin in range(0, whole.height, size):
            stack.add(whole.slice(begin, size))
        found = stack.whole()
    assert found.equals(whole)
    assert found.n_chunks() == 1


def test_a_part_of_a_long_text_column_takes_no_more_room_than_it_has(monkeypatch: pytest.MonkeyPatch) -> None:
    """Its pieces share one data buffer of 20 bytes for each of 1000 cells."""
    laid: list[int] = []
    append = _stack._Texts._append
    monkeypatch.setattr(
        _stack._Texts, "_append", lambda column, buffer: laid.append(len(buffer)) or append(column, buffer)
    )
    cells: pl.Series = pl.from_arrow(pa.array([f"a name that is {at:05}" for at in range(1000)], pa.large_string()))
    with Stack() as stack:
        for begin in range(0, 1000, 100):
            stack.add(cells.slice(begin, 100).to_frame("a"))
        assert stack.whole()["a"].to_list() == cells.to_list()
    assert laid == [2000] * 10


def test_one_piece_needs_no_file() -> None:
    piece = pl.DataFrame({"a": ["x"]})
    with Stack(["a"]) as stack:
        stack.add(piece)
        assert stack.whole() is piece


def test_without_a_piece_there_are_the_columns() -> None:
    with Stack(["a"]) as stack:
        assert stack.whole().equals(pl.DataFrame(schema={"a": pl.String}))


HEAD = "Plant 7\n\nTime;Tag;State\n"
LINES = st.sampled_from(
    [
        "2026-03-02 06:00:00.120;K11;1",
        "2026-03-02 06:00:00.480;a name that is long;0",
        ";;",
        "",
        ";K12;",
        "short",
        "ü;ö;ä",
    ]
)


def read(path: Path, piece: int) -> RawTable:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(delimited, "LONG", 0)
        patch.setattr(delimited, "PIECE", piece)
        return delimited.read(path, Profile())


@settings(max_examples=80, deadline=None)
@given(lines=st.lists(LINES, min_size=3, max_size=40), piece=st.integers(1, 300), end=st.sampled_from(["\n", "\r\n"]))
def test_any_piece_gives_the_same_table(lines: list[str], piece: int, end: str) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log.csv"
        path.write_bytes((HEAD + "2026-03-02 06:00:00.000;K11;0\n" + "\n".join(lines)).replace("\n", end).encode())
        whole, cut = read(path, 1 << 26), read(path, piece)
    assert cut.frame.equals(whole.frame)
    assert cut.lines.equals(whole.lines)
    assert cut.rejected.equals(whole.rejected)
    assert (cut.blank, cut.notes, cut.first_line) == (whole.blank, whole.notes, whole.first_line)


def test_blank_lines_between_pieces_are_counted(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text("Time;Tag;State\n" + "2026-03-02 06:00:00.120;K11;1\n\n\n" * 50)
    found = read(path, 1)
    assert (found.frame.height, found.blank) == (50, 100)  # counted by hand
    assert found.lines.to_list() == list(range(2, 152, 3))


def test_without_room_on_the_disk_the_text_is_read_at_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "log.csv"
    path.write_text("Time;Tag;State\n" + "2026-03-02 06:00:00.120;K11;1\n" * 50)
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "nowhere"))
    assert read(path, 100).frame.height == 50


ODD = st.sampled_from(
    [
        '2026-03-02 06:00:00.120;"K11";1',
        '2026-03-02 06:00:00.480;"a name; that is long";0',
        '2026-03-02 06:00:00.480;"two',
        'lines";0',
        ";;",
        "",
        '2026-03-02 06:00:01;"K11',
        "Time;Tag;State",
        "1;2;3;4",
        "short",
    ]
)


@settings(max_examples=60, deadline=None)
@given(lines=st.lists(ODD, min_size=1, max_size=40), at_once=st.integers(1, 20), end=st.sampled_from(["\n", "\r\n"]))
def test_a_long_text_with_quotes_and_damage_is_the_same_in_pieces(lines: list[str], at_once: int, end: str) -> None:
    with tempfile.TemporaryDirectory() as folder, pytest.MonkeyPatch.context() as patch:
        path = Path(folder) / "log.csv"
        path.write_bytes((HEAD + '2026-03-02 06:00:00.000;"K11";0\n' + "\n".join(lines)).replace("\n", end).encode())
        whole = delimited.read(path, Profile())
        patch.setattr(_lines, "AT_ONCE", at_once)
        patch.setattr(spill, "MANY", 0)
        cut = delimited.read(path, Profile())
    assert cut.frame.equals(whole.frame)
    assert cut.lines.equals(whole.lines)
    assert cut.rejected.equals(whole.rejected)
    assert (cut.blank, cut.notes, cut.joined) == (whole.blank, whole.notes, whole.joined)
