"""A long file of columns is read piece by piece; whatever the pieces, the table is that of the file read at once."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pyarrow as pa
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from polars.testing import assert_frame_equal
from pyarrow import parquet as pq

from eventlens.errors import ReadingError
from eventlens.reading import Profile
from eventlens.reading.formats import _arrow, arrow, parquet
from eventlens.reading.formats._stack import MOST_COLUMNS, Stack
from eventlens.reading.raw import RawTable

BEGIN = datetime(2026, 3, 2, 6, tzinfo=UTC)
COLUMNS: dict[str, tuple[pa.DataType, Callable[[int], Any]]] = {
    "instant": (pa.timestamp("us", "UTC"), lambda at: BEGIN + timedelta(milliseconds=at)),
    "wall clock": (pa.timestamp("ms"), lambda at: datetime(2026, 3, 2) + timedelta(milliseconds=at)),
    "fine clock": (pa.timestamp("ns", "Europe/Vienna"), lambda at: BEGIN + timedelta(microseconds=at)),
    "tag": (pa.string(), lambda at: ("K11", "a name that is long", " ", "")[at % 4]),
    "listed": (pa.dictionary(pa.int8(), pa.string()), lambda at: f"S{at % 5}"),
    "remark": (pa.large_string(), lambda at: f"remark number {at}" if at % 3 else "short"),
    "state": (pa.int8(), lambda at: at % 2),
    "count": (pa.uint64(), lambda at: at + (1 << 63)),
    "load": (pa.float32(), lambda at: at / 8 if at % 7 else float("nan")),
    "flag": (pa.bool_(), lambda at: at % 3 == 0),
    "day": (pa.date32(), lambda at: date(2026, 3, 1 + at % 28)),
    "time of day": (pa.time64("us"), lambda at: time(6, 0, at % 60, at)),
    "took": (pa.duration("ms"), lambda at: timedelta(milliseconds=at)),
    "price": (pa.decimal128(9, 2), lambda at: Decimal(at) / 4),
    "blob": (pa.binary(), lambda at: bytes([at % 256, 255])),
    "list": (pa.list_(pa.int16()), lambda at: [at] * (at % 3)),
    "nested": (pa.struct({"tag": pa.string(), "n": pa.int32()}), lambda at: {"tag": f"K{at % 2}", "n": at}),
    "never": (pa.null(), lambda at: None),
}
KINDS = st.lists(st.sampled_from(sorted(COLUMNS)), min_size=1, max_size=5, unique=True)


def table_of(names: list[str], known: list[bool]) -> pa.Table:
    """A row for each of `known`, those without it empty."""
    types = {name: COLUMNS[name] for name in names}
    cells = {name: [cell(at) if there else None for at, there in enumerate(known)] for name, (_, cell) in types.items()}
    return pa.table({name: pa.array(cells[name], kind) for name, (kind, _) in types.items()})


def written(path: Path, table: pa.Table, group: int, *, packed: bool) -> None:
    """The table in the container that the name asks for, in parts of so many rows."""
    if path.suffix == ".parquet":
        pq.write_table(table, path, row_group_size=group, use_dictionary=packed)
        return
    new = pa.ipc.new_file if path.suffix == ".arrow" else pa.ipc.new_stream
    options = pa.ipc.IpcWriteOptions(compression="lz4" if packed else None, emit_dictionary_deltas=True)
    with new(str(path), table.schema, options=options) as writer:
        writer.write_table(table, group)


def read(path: Path, *, piece: int | None = None) -> RawTable:
    """The file in pieces of so many cells; None: at once."""
    with pytest.MonkeyPatch.context() as patch:
        if piece is not None:
            patch.setattr(parquet, "LONG", 0)
            patch.setattr(arrow, "LONG", 0)
            patch.setattr(_arrow, "PIECE", piece)
        return (parquet if path.suffix == ".parquet" else arrow).read(path, Profile())


def same(one: RawTable, other: RawTable) -> None:
    assert_frame_equal(one.frame, other.frame)
    assert one.lines.equals(other.lines)
    assert (one.blank, one.notes, one.last_line) == (other.blank, other.notes, other.last_line)


@settings(max_examples=120, deadline=None)
@given(
    name=st.sampled_from(["log.parquet", "log.arrow", "log.arrows"]),
    names=KINDS,
    known=st.lists(st.booleans(), min_size=1, max_size=80),
    piece=st.integers(1, 120),
    group=st.integers(1, 90),
    packed=st.booleans(),
)
def test_any_piece_gives_the_same_table(
    name: str, names: list[str], known: list[bool], piece: int, group: int, packed: bool
) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        written(path, table_of(names, known), group, packed=packed)
        same(read(path), read(path, piece=piece))


@pytest.mark.parametrize("name", ["log.parquet", "log.arrow", "log.arrows"])
def test_every_kind_of_column_is_the_same_in_one_piece(name: str, tmp_path: Path) -> None:
    path = tmp_path / name
    written(path, table_of(list(COLUMNS), [at % 5 > 0 for at in range(1000)]), 300, packed=True)
    whole, cut = read(path), read(path, piece=50 * len(COLUMNS))
    same(whole, cut)
    assert (cut.frame.height, cut.blank) == (800, 200)  # every fifth row is empty


@pytest.fixture
def log(tmp_path: Path) -> Path:
    """1000 rows of instant, tag and state, in one part."""
    path = tmp_path / "log.parquet"
    pq.write_table(table_of(["instant", "tag", "state"], [True] * 1000), path, write_page_checksum=True)
    return path


@pytest.fixture
def pieces(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """The rows of each piece that is laid down, once there is one."""
    heights: list[int] = []
    add = Stack.add
    monkeypatch.setattr(Stack, "add", lambda stack, piece: heights.append(piece.height) or add(stack, piece))
    return heights


def test_of_a_long_file_no_more_than_a_piece_is_in_memory(
    log: Path, pieces: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    def at_once(*given: object, **stated: object) -> None:
        raise AssertionError("read at once")

    monkeypatch.setattr(pq, "read_table", at_once)
    monkeypatch.setattr(_arrow, "PIECE", 301)
    monkeypatch.setattr(parquet, "LONG", 2999)  # 1000 rows of three columns
    assert parquet.read(log, Profile()).frame.n_chunks() == 1
    assert pieces == [100] * 10
    monkeypatch.setattr(parquet, "LONG", 3000)
    with pytest.raises(AssertionError, match="read at once"):
        parquet.read(log, Profile())


def test_a_table_of_many_columns_is_read_at_once(tmp_path: Path, pieces: list[int]) -> None:
    for width in (MOST_COLUMNS, MOST_COLUMNS + 1):
        path = tmp_path / f"{width}.parquet"
        pq.write_table(pa.table({f"K{at}": [0, 1] for at in range(width)}), path)
        assert read(path, piece=width).frame.shape == (2, width)
    assert pieces == [1, 1]


def test_of_a_long_stream_no_more_than_a_piece_is_in_memory(
    tmp_path: Path, pieces: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "log.arrows"
    written(path, table_of(["instant", "tag", "state"], [True] * 1000), 250, packed=False)
    assert read(path, piece=301).frame.n_chunks() == 1
    assert pieces == [100, 100, 50] * 4  # of each batch
    pieces.clear()
    monkeypatch.setattr(arrow, "LONG", path.stat().st_size)
    assert arrow.read(path, Profile()).frame.height == 1000
    assert not pieces


def test_a_long_stream_that_breaks_off_gives_its_batches(tmp_path: Path) -> None:
    path = tmp_path / "log.arrows"
    written(path, table_of(["instant", "tag"], [True] * 100), 20, packed=False)
    path.write_bytes(path.read_bytes()[:-200])
    whole, cut = read(path), read(path, piece=14)
    same(whole, cut)
    assert cut.frame.height == 80  # the last of five batches is cut
    assert "The stream breaks off after 4 batches" in cut.notes[0]
    for name in ("log.arrow", "log.arrows"):  # no batch at all
        written(tmp_path / name, table_of(["instant", "tag"], []), 20, packed=False)
        same(read(tmp_path / name), read(tmp_path / name, piece=14))


def test_without_room_on_the_disk_the_file_is_read_at_once(
    log: Path, pieces: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(log.parent / "nowhere"))
    same(read(log), read(log, piece=300))
    assert pieces == [100, 100]  # the first stays in memory, the second wants a file


def test_no_file_is_left(log: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "temporary"
    folder.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(folder))
    assert read(log, piece=300).frame.height == 1000
    log.write_bytes(log.read_bytes()[:3000] + b"\xff" * 100 + log.read_bytes()[3100:])
    with pytest.raises(ReadingError, match="wanted a whole Parquet file"):
        read(log, piece=300)
    assert not list(folder.iterdir())


@settings(max_examples=150, deadline=None)
@given(at=st.integers(4), byte=st.integers(0, 255), checked=st.booleans())
def test_a_damaged_file_is_refused_alike(at: int, byte: int, checked: bool) -> None:
    def outcome(path: Path, piece: int | None) -> RawTable | str:
        try:
            return read(path, piece=piece)
        except ReadingError as fault:
            return str(fault)

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log.parquet"
        known = [at % 9 > 0 for at in range(200)]
        pq.write_table(
            table_of(["instant", "tag", "remark"], known), path, row_group_size=90, write_page_checksum=checked
        )
        data = bytearray(path.read_bytes())
        data[4 + at % (len(data) - 4)] = byte
        path.write_bytes(data)
        whole, cut = outcome(path, None), outcome(path, 30)
    if isinstance(whole, str) or isinstance(cut, str):
        assert str(whole).split(", got ")[0] == str(cut).split(", got ")[0]  # where in a piece is not where in the file
    else:
        same(whole, cut)


def test_a_name_with_a_zero_byte_in_it(tmp_path: Path) -> None:
    """As a damaged one may have; it is a name like any other."""
    path = tmp_path / "log.parquet"
    pq.write_table(table_of(["instant", "tag"], [True] * 50).rename_columns(["instant", "t\0g"]), path)
    assert read(path).frame.columns == ["instant", "t\0g"]
    same(read(path), read(path, piece=30))


def test_rows_that_are_missing_are_noticed(tmp_path: Path) -> None:
    """A header of a page that is not understood makes a reader pass the page over."""
    path = tmp_path / "log.parquet"
    pq.write_table(table_of(["instant", "tag", "remark"], [at % 9 > 0 for at in range(200)]), path, row_group_size=90)
    data = bytearray(path.read_bytes())
    with pq.ParquetFile(path) as file:
        page = file.metadata.row_group(0).column(1).data_page_offset
    assert data[page : page + 2] == bytes([0x15, 0x00])  # field 1 of the header, the type: 0, a data page
    data[page + 1] = 126  # 63, which is no type of the format
    path.write_bytes(data)
    for piece in (None, 30):
        with pytest.raises(ReadingError, match=r"wanted a whole Parquet file, got (Column 1|\d+ of 200 rows)"):
            read(path, piece=piece)


def test_days_that_no_calendar_has_are_empty(tmp_path: Path) -> None:
    """Damage makes them; the last day of the calendar that Python knows is 9999-12-31."""
    path = tmp_path / "log.parquet"
    days = pa.array([2**31 - 1, 0, 2_932_896, 2_932_897, -(2**31)], pa.int32())
    pq.write_table(pa.table({"day": days.cast(pa.date32()), "state": [0] * 5}), path)
    assert read(path).frame["day"].to_list() == [None, "1970-01-01", "9999-12-31", None, None]
