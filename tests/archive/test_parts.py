"""Dumps go into the archive and come out of it in parts, events some rows at a time; what is there is the same."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import polars as pl
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from eventlens import Archive, ArchiveError
from eventlens.archive import derive, parts
from eventlens.archive.dumps import dumps_in, ledger
from eventlens.archive.lake import Lake
from eventlens.archive.tables import DUMPS
from tests.archive.stories import lines, state, write

ROWS = lines()


@pytest.fixture
def dump(tmp_path: Path) -> Path:
    return write(tmp_path / "night.csv", ROWS)


@pytest.fixture
def narrow(monkeypatch: pytest.MonkeyPatch) -> None:
    """Parts of 1 kB, three at once: the dump of some 23 kB takes several shares."""
    monkeypatch.setattr(parts, "PART_BYTES", 1000)
    monkeypatch.setattr(parts, "AT_ONCE", 3000)


def laid_out(archive: Archive, folder: Path) -> list[bytes]:
    found = dumps_in(ledger(archive.lake, archive.lake.opened("record")))
    folder.mkdir()
    parts.lay_out(archive.lake, found, folder)
    return [dump.place(folder).read_bytes() for dump in found]


def given(lake: Lake, monkeypatch: pytest.MonkeyPatch) -> list[list[int]]:
    """The rows of each batch of each writing into the archive, as they are handed over."""
    seen: list[list[int]] = []

    def counted(reader: pa.RecordBatchReader, *rest: Any, do: Any, **more: Any) -> None:
        seen.append([])

        def batches() -> Any:
            for batch in reader:
                seen[-1].append(batch.num_rows)
                yield batch

        do(*rest[:1], pa.RecordBatchReader.from_batches(reader.schema, batches()), *rest[1:], **more)

    append, replace = lake.append, lake.replace
    monkeypatch.setattr(lake, "append", lambda at, rows: counted(rows, at, do=append))
    monkeypatch.setattr(
        lake,
        "replace",
        lambda at, where, rows, *rest, **more: counted(
            rows, at, do=lambda at, rows: replace(at, where, rows, *rest, **more)
        ),
    )
    return seen


@pytest.mark.usefixtures("narrow")
def test_a_long_dump_comes_out_as_it_went_in(tmp_path: Path, dump: Path) -> None:
    short = write(tmp_path / "short.csv", ROWS[:9])  # less than one part
    archive = Archive(tmp_path / "history")
    archive.add([dump, short], "DOCK-5")
    assert sorted(laid_out(archive, tmp_path / "out")) == sorted([dump.read_bytes(), short.read_bytes()])
    assert archive.verify().faults == ()
    kept = archive.lake.read(archive.lake.opened("dumps"), DUMPS)
    size = dump.stat().st_size
    assert kept.height == -(-size // 1000) + 1
    # each commit takes three parts at most
    assert archive.lake.opened("dumps").version() == -(-kept.filter(pl.col("parts") > 1).height // 3) + 1


@pytest.mark.usefixtures("narrow")
@pytest.mark.parametrize("got_in", [0, 1, 3])
def test_a_dump_of_which_some_parts_got_in_is_added_as_if_none_had(
    tmp_path: Path, dump: Path, monkeypatch: pytest.MonkeyPatch, got_in: int
) -> None:
    archive, left = Archive(tmp_path / "history"), [got_in]
    append = archive.lake.append

    def breaks_off(*rows: Any) -> None:
        if not left[0]:
            raise ArchiveError("room", "none", "make some")
        left[0] -= 1
        append(*rows)

    monkeypatch.setattr(archive.lake, "append", breaks_off)
    with pytest.raises(ArchiveError):
        archive.add(dump, "DOCK-5")
    assert archive.imports().is_empty()
    later = Archive(tmp_path / "history")
    later.add(dump, "DOCK-5")
    assert laid_out(later, tmp_path / "out") == [dump.read_bytes()]
    assert (later.verify().faults, later.verify().notes) == ((), ())


@pytest.mark.usefixtures("narrow")
def test_parts_without_their_ledger_are_told(tmp_path: Path, dump: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    archive = Archive(tmp_path / "history")
    archive.add(write(tmp_path / "other.csv", ROWS[:9]), "DOCK-5")
    monkeypatch.setattr(parts, "_shares", lambda dumps: [(dumps, range(2, 5))])  # the first part did not get in
    monkeypatch.setattr(archive.lake, "replace", lambda *rows, **more: (_ for _ in ()).throw(ArchiveError("", "", "")))
    with pytest.raises(ArchiveError):
        archive.add(dump, "DOCK-5")
    monkeypatch.undo()
    assert [note[:22] for note in archive.verify().notes] == ["The bytes of 1 dump li"]


def test_events_are_handed_over_some_at_a_time(tmp_path: Path, dump: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = Archive(tmp_path / "whole")
    whole.add(dump, "DOCK-5")
    archive = Archive(tmp_path / "bit by bit")
    seen = given(archive.lake, monkeypatch)
    monkeypatch.setattr(derive, "ROW_GROUP", 50)
    archive.add(dump, "DOCK-5")
    _, months = seen  # the dump, then what it holds
    assert max(months) == 50
    # 527 events of the night (test_adding), and a row of the ledger for each of two months
    assert sum(months) == 527 + 2
    one, other = state(whole), state(archive)
    assert all(one[table].equals(other[table]) for table in one)
    assert archive.verify().faults == ()


def test_a_dump_that_meets_no_other_is_read_once(tmp_path: Path, dump: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    looked, read = [], derive.read
    monkeypatch.setattr(derive, "read", lambda *given: looked.append(given) or read(*given))
    archive = Archive(tmp_path / "history")
    archive.add(dump, "DOCK-5")
    assert len(looked) == 1
    archive.add(dump, "DOCK-5")  # known by its bytes
    assert len(looked) == 1


def test_an_archive_takes_less_room_than_its_dumps(tmp_path: Path) -> None:
    """By how a column is written: its least and greatest, in full length, were a dump of one part twice over."""
    dump = write(tmp_path / "long.csv", lines(2000, 30.0))
    archive = Archive(tmp_path / "history")
    archive.add(dump, "DOCK-5")
    archive.bring_up_to_date()

    def columns(table: str) -> dict[str, Any]:
        path = max((tmp_path / "history" / table).glob("machine=*/**/*.parquet"), key=lambda path: path.stat().st_size)
        group = pq.ParquetFile(path).metadata.row_group(0)
        return {(column := group.column(at)).path_in_schema: column for at in range(group.num_columns)}

    for table, name in (("dumps", "data"), ("reviews", "review")):
        assert columns(table)[name].statistics is None
    for name in ("line", "place", "time"):
        assert "DELTA_BINARY_PACKED" in columns("record")[name].encodings
        assert columns("record")[name].statistics.has_min_max  # by which a part of a month is found
    stored = sum(
        path.stat().st_size for kind in ("dumps", "record") for path in (tmp_path / "history" / kind).rglob("*.parquet")
    )
    # measured: a tenth; it was nearly three times the dump, which is very regular
    assert stored < dump.stat().st_size / 2
