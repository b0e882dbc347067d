"""What came is on the disk byte for byte, whoever dies when."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eventlens.errors import EventlensError
from eventlens.live import Batch
from eventlens.live.lines import LONGEST_LINE, end_of_lines
from eventlens.live.spool import Spool
from tests.live.sources import Chunks, Dying, Killed

OPEN: list[Spool] = []


@pytest.fixture(autouse=True)
def _closed() -> Iterator[None]:
    yield
    while OPEN:
        OPEN.pop().close()


def spool_in(folder: Path, step: Callable[[str], None] = lambda name: None) -> Spool:
    OPEN.append(Spool(folder, step))
    return OPEN[-1]


def contents(spool: Spool) -> list[bytes]:
    return [path.read_bytes() for path in spool.paths]


def test_whole_lines_are_in_the_file_and_the_rest_waits(tmp_path: Path) -> None:
    spool = spool_in(tmp_path)
    spool.take(Batch(b"a,b\n1,2\n3", {"at": 9}, "log.csv"))
    assert contents(spool) == [b"a,b\n1,2\n"]
    spool.take(Batch(b",4\n", {"at": 12}))
    assert contents(spool) == [b"a,b\n1,2\n3,4\n"]
    assert spool.paths[0].name == "log.csv"
    assert spool.snapshot.position == {"at": 12}


def test_the_last_line_without_an_end_counts_when_another_file_begins_and_at_the_end(tmp_path: Path) -> None:
    spool = spool_in(tmp_path)
    spool.take(Batch(b"a\n1", {"at": 3}, "one.csv"))
    spool.take(Batch(b"a\n2", {"at": 6}, "two.csv"))
    assert contents(spool) == [b"a\n1", b"a\n"]
    spool.finish()
    assert contents(spool) == [b"a\n1", b"a\n2"]
    spool.take(Batch(b"34\n", {"at": 9}))  # nobody followed for a while: the line goes on
    assert contents(spool)[1] == b"a\n234\n"


def test_the_time_of_writing_is_that_of_the_source(tmp_path: Path) -> None:
    spool = spool_in(tmp_path)
    spool.take(Batch(b"a\n", {"at": 2}, "log.csv", modified_ns=1_700_000_000_000_000_000))
    assert spool.paths[0].stat().st_mtime_ns == 1_700_000_000_000_000_000


def test_text_without_a_position_is_a_fault_of_the_source(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="position"):
        spool_in(tmp_path).take(Batch(b"a\n", None, "log.csv"))
    with pytest.raises(ValueError, match="name"):
        spool_in(tmp_path / "other").take(Batch(b"a\n", {"at": 2}))


def test_one_program_at_a_time(tmp_path: Path) -> None:
    spool = spool_in(tmp_path)
    with pytest.raises(EventlensError, match="nobody else"):
        spool_in(tmp_path)
    spool.close()
    spool_in(tmp_path).close()


def test_a_record_that_lost_bytes_is_said(tmp_path: Path) -> None:
    spool = spool_in(tmp_path)
    spool.take(Batch(b"a\n1\n", {"at": 4}, "log.csv"))
    spool.close()
    spool.paths[0].write_bytes(b"a\n")
    with pytest.raises(EventlensError, match="4 bytes, got 2 bytes"):
        spool_in(tmp_path)


def test_a_snapshot_of_another_form_is_refused(tmp_path: Path) -> None:
    (tmp_path / "snapshot.json").write_text(json.dumps({"form": 99, "pieces": []}))
    with pytest.raises(EventlensError, match="another one"):
        spool_in(tmp_path)


@pytest.mark.parametrize(
    ("text", "head", "before", "end"),
    [
        (b"ab\ncd", b"ab\n", 0, 3),
        (b"abcd", b"ab\n", 0, 0),
        (b"ab\rcd\re", b"ab\r", 0, 6),  # lines end as on an old Macintosh
        ("ä\nß".encode(), b"\xc3", 0, 3),
        ("a\nb".encode("utf-16-le"), b"a\0\n\0", 0, 4),
        ("a\nb".encode("utf-16-be"), b"\0a\0\n", 0, 4),
        ("\u0a00a\n".encode("utf-16-le"), b"a\0\n\0", 0, 6),
        ("\u000a".encode("utf-16-le"), b"a\0\n\0", 0, 2),
        (b"\0" + "a\n".encode("utf-16-le"), b"a\0\n\0", 3, 5),  # the first byte belongs to a character before
        (b"x" * (LONGEST_LINE + 1), b"x", 0, LONGEST_LINE + 1),
        (b"x" * LONGEST_LINE, b"x", 0, 0),
    ],
)
def test_where_whole_lines_end(text: bytes, head: bytes, before: int, end: int) -> None:
    assert end_of_lines(text, head, before) == end


@settings(deadline=None, max_examples=60)
@given(
    text=st.text(st.sampled_from("aß€\n\r,"), max_size=60),
    encoding=st.sampled_from(["utf-8", "utf-16-le", "utf-16"]),
    sizes=st.lists(st.integers(1, 9), min_size=1, max_size=5),
    deaths=st.lists(st.integers(1, 12), max_size=6),
)
def test_nothing_is_lost_or_doubled_wherever_it_dies(
    text: str, encoding: str, sizes: list[int], deaths: list[int]
) -> None:
    """A kill at any durable step; the source gives again what was not kept."""
    data = text.encode(encoding)
    with TemporaryDirectory() as folder:
        for death in (*deaths, None):
            source = Chunks(data, sizes)
            try:
                spool = spool_in(Path(folder), dying := Dying(death))
                source.resume(spool.snapshot.position)
                while source.at < len(data):
                    batch = source.more(0.0)
                    spool.take(batch)
                    source.kept(batch.position or {})
                assert source.kept_at == sorted(source.kept_at)
                dying.at = None
            except Killed:
                pass
            finally:
                spool.close()
        spool = spool_in(Path(folder))
        spool.finish()
        assert b"".join(contents(spool)) == data
        spool.close()
