"""A file that grows, is rotated, cut off or replaced gives every line once, in the order in which they were written."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eventlens.errors import EventlensError
from eventlens.live import Batch, open_source
from eventlens.live.sources.file import LOOKS_AFTER, FileSource


def given_by(source: FileSource) -> Iterator[Batch]:
    """Everything that there is now."""
    empty = 0
    while empty < 2 * LOOKS_AFTER + 4:
        batch = source.more(0.0)
        empty = 0 if batch.text or batch.notes else empty + 1
        yield batch


def pieces(batches: Iterator[Batch]) -> list[bytes]:
    """The files of the record."""
    found: list[bytes] = []
    for batch in batches:
        if batch.begins is not None:
            found.append(b"")
        if batch.text:
            found[-1] += batch.text
    return found


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "saw-3.csv"


OPEN: list[FileSource] = []


@pytest.fixture(autouse=True)
def _closed() -> Iterator[None]:
    yield
    while OPEN:
        OPEN.pop().close()


def opened(path: Path, position: dict[str, object] | None = None) -> FileSource:
    OPEN.append(FileSource(path, every_s=0.0))
    OPEN[-1].resume(position)
    return OPEN[-1]


def add(path: Path, text: str) -> None:
    with path.open("a") as file:
        file.write(text)


def test_it_grows(path: Path) -> None:
    source = opened(path)
    assert source.more(0.0) == Batch()  # not there yet
    add(path, "a\n1")
    batch = source.more(0.0)
    assert (batch.text, batch.begins) == (b"a\n1", "saw-3.csv")
    assert batch.modified_ns == path.stat().st_mtime_ns
    assert source.more(0.0).text == b""
    add(path, "2\n")
    batch = source.more(0.0)
    assert (batch.text, batch.begins) == (b"2\n", None)


def test_it_is_rotated_by_another_name(path: Path) -> None:
    source = opened(path)
    add(path, "a\n1\n")
    first = source.more(0.0)
    add(path, "2\n")
    path.rename(f"{path}.1")
    add(path, "a\n3\n")
    rest = list(given_by(source))
    assert pieces(iter([first, *rest])) == [b"a\n1\n2\n", b"a\n3\n"]
    assert [note for batch in rest for note in batch.notes] == [
        "'saw-3.csv' was rotated: its rest was read, then the new file from its beginning."
    ]


def test_what_is_still_written_to_the_old_one_comes_too(path: Path) -> None:
    source = opened(path)
    add(path, "a\n1\n")
    first = source.more(0.0)
    old = path.open("a")
    path.rename(f"{path}.1")
    add(path, "a\n3\n")
    assert source.more(0.0).text == b""
    old.write("2\n")
    old.close()
    assert pieces(iter([first, *given_by(source)])) == [b"a\n1\n2\n", b"a\n3\n"]


def test_it_is_copied_and_emptied(path: Path) -> None:
    source = opened(path)
    add(path, "a\n1\n")
    first = source.more(0.0)
    add(path, "2\n")  # not read yet when it is emptied: it stands in the copy
    Path(f"{path}.1").write_bytes(path.read_bytes())
    os.truncate(path, 0)
    add(path, "a\n3\n")
    assert pieces(iter([first, *given_by(source)])) == [b"a\n1\n2\n", b"a\n3\n"]


def test_it_is_emptied_without_a_copy(path: Path) -> None:
    source = opened(path)
    add(path, "a\n1\n")
    first = source.more(0.0)
    os.truncate(path, 0)
    add(path, "a\n3\n5\n7\n")  # longer than before: its size says nothing
    rest = list(given_by(source))
    assert pieces(iter([first, *rest])) == [b"a\n1\n", b"a\n3\n5\n7\n"]
    assert "may have been written to it since is lost" in rest[0].notes[0]


def test_it_is_written_anew_with_the_same_beginning(path: Path) -> None:
    source = opened(path)
    add(path, "a\n1\n")
    first = source.more(0.0)
    new = path.with_name("new")
    new.write_text("a\n1\n2\n")
    new.replace(path)
    assert pieces(iter([first, *given_by(source)])) == [b"a\n1\n2\n"]


def test_a_restart_goes_on_where_it_was(path: Path) -> None:
    add(path, "a\n1\n")
    source = opened(path)
    position = source.more(0.0).position
    source.close()
    add(path, "2\n")
    batch = opened(path, position).more(0.0)
    assert (batch.text, batch.begins) == (b"2\n", None)


def test_it_was_rotated_twice_while_nobody_followed(path: Path) -> None:
    add(path, "a\n1\n")
    source = opened(path)
    first = source.more(0.0)
    source.close()
    add(path, "2\n")
    for number, (old, new) in enumerate([(f"{path}.1", "a\n3\n"), (f"{path}.1", "a\n4\n")]):
        if Path(old).exists():
            Path(old).rename(f"{path}.2")
        path.rename(old)
        add(path, new)
        for place, back in ((f"{path}.2", 20), (f"{path}.1", 10), (path, 0)):
            if Path(place).exists():
                os.utime(place, ns=(0, (1_000 - back + number) * 10**9))
    (path.parent / "saw-3.toml").write_text("not a log")
    assert pieces(iter([first, *given_by(opened(path, first.position))])) == [b"a\n1\n2\n", b"a\n3\n", b"a\n4\n"]


def test_a_folder_is_no_file(tmp_path: Path) -> None:
    with pytest.raises(EventlensError, match="a folder"):
        opened(tmp_path)


def test_the_address_chooses_the_source(path: Path) -> None:
    assert isinstance(open_source(str(path)), FileSource)
    assert open_source(f"file://{path}").name == str(path)
    with pytest.raises(EventlensError, match="'gopher://'"):
        open_source("gopher://there")


WRITE, ROTATE, TRUNCATE, RESTART, LOOK = "write", "rotate", "copy and empty", "restart", "look"


@settings(max_examples=60, deadline=None)
@given(
    deeds=st.lists(
        st.one_of(
            st.tuples(st.just(WRITE), st.integers(1, 40)),
            st.tuples(st.sampled_from([ROTATE, TRUNCATE, RESTART]), st.just(0)),
            st.tuples(st.just(LOOK), st.integers(1, 3)),
        ),
        max_size=25,
    )
)
def test_every_byte_comes_once_in_order(deeds: list[tuple[str, int]]) -> None:
    """At most one rotation between two looks at all there is: a copy is known by what stands in it."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "log.csv"
        source, position, number, turned = opened(path), None, 0, 0
        written, got = [b""], []
        for deed, size in deeds:
            if deed == WRITE:
                text = b"".join(b"%08d\n" % (number + at) for at in range(size))
                number += size
                cut = text[: len(text) - size % 3]  # now and then a line that is half there
                with path.open("ab") as file:
                    file.write(text if size % 2 else cut)
                written[-1] += text if size % 2 else cut
            elif deed == LOOK:
                got += [source.more(0.0) for _ in range(size)]
            elif deed == RESTART:
                source.close()
                source = opened(path, position)
            elif written[-1]:
                got += list(given_by(source))
                position = next((batch.position for batch in reversed(got) if batch.position), None)
                old = path.with_name(f"log.csv.{100 + turned}")
                turned += 1
                if deed == ROTATE:
                    path.rename(old)
                else:
                    old.write_bytes(path.read_bytes())
                    os.truncate(path, 0)
                written.append(b"")
            position = next((batch.position for batch in reversed(got) if batch.position), None)
        got += list(given_by(source))
        source.close()
        assert pieces(iter(got)) == [text for text in written if text]


def test_a_disk_that_refuses_is_said_once_and_asked_again(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    add(path, "a\n1\n")
    source = opened(path)
    assert source.more(0.0).text == b"a\n1\n"
    add(path, "2\n")
    with monkeypatch.context() as patch:

        def refuse(*given: object) -> bytes:
            raise OSError(5, "Input/output error")

        patch.setattr("eventlens.live.sources.file._at", refuse)
        assert "Input/output error" in source.more(0.0).notes[0]
        assert source.more(0.0) == Batch()
    assert source.more(0.0).text == b"2\n"
