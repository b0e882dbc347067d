"""Guards what people bring in: whole or not at all, each visitor's own, harmless names, nothing lost silently."""

from __future__ import annotations

import io
import os
from collections import namedtuple
from pathlib import Path

import pytest

from dashboards import shelf as shelves
from dashboards.shelf import KEPT_DAYS, MACHINE, MOST_BYTES, MOST_FILES, PROFILE, SPARE_BYTES, Shelf, ShelfError

HE = "visitor-one"
SHE = "visitor-two"
DUMP = b"time;name;value\n"


def put(shelf: Shelf, content: bytes = DUMP, *, dump: str | None = None, name: str = "a.csv", visitor: str = HE) -> str:
    return shelf.put(visitor, dump, name, len(content), io.BytesIO(content), 0)


def test_what_is_brought_in_lies_there_byte_for_byte_with_name_and_time(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path)
    key = shelf.put(HE, None, "saw-3 2026-04-14.csv", len(DUMP), io.BytesIO(DUMP), 1_776_124_800_000)
    (path,) = shelf.paths(HE, key)
    assert path.read_bytes() == DUMP
    assert path.name == "saw-3 2026-04-14.csv"
    assert path.stat().st_mtime == 1_776_124_800
    assert shelf.files(HE, key)[0].size == len(DUMP)


def test_files_of_one_dump_stay_together_and_apart(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path)
    key = put(shelf)
    assert put(shelf, b"other\n", dump=key) == key
    assert put(shelf) != key
    assert [path.read_bytes() for path in shelf.paths(HE, key)] == [DUMP, b"other\n"]
    assert [one.name for one in shelf.files(HE, key)] == ["a.csv", "a.csv"]


@pytest.mark.parametrize("call", ["files", "paths", "drop"])
def test_nobody_reads_what_another_brought_in(tmp_path: Path, call: str) -> None:
    shelf = Shelf(tmp_path)
    key = put(shelf)
    with pytest.raises(ShelfError, match="not there"):
        getattr(shelf, call)(SHE, key)
    with pytest.raises(ShelfError, match="not there"):
        put(shelf, dump=key, visitor=SHE)
    assert shelf.dumps(SHE) == []
    assert shelf.dumps(HE) == [key]


@pytest.mark.parametrize("dump", ["..", "../..", "a/b", "", "." * 24, "x" * 24, "%2e%2e", "a" * 400])
def test_a_made_up_name_is_no_way_out_of_the_folder(tmp_path: Path, dump: str) -> None:
    with pytest.raises(ShelfError, match="not there"):
        Shelf(tmp_path / "shelf").files(HE, dump)


@pytest.mark.parametrize(
    ("given", "stored"),
    [
        ("../../etc/passwd", "passwd"),
        ("C:\\dumps\\week 16.csv", "week 16.csv"),
        (".hidden", "hidden"),
        ("", "dump-"),
        ("...", "dump-"),
        ("CON.csv", "dump-CON.csv"),
        ("<script>.csv", "script_.csv"),
        ("Brücke\n1.csv", "Br_cke_1.csv"),
        ("a" * 300 + ".csv", "a" * 80 + ".csv"),
        ("a\0b.csv", "a_b.csv"),
    ],
)
def test_a_name_is_never_a_path(tmp_path: Path, given: str, stored: str) -> None:
    shelf = Shelf(tmp_path)
    key = put(shelf, name=given)
    (path,) = shelf.paths(HE, key)
    assert path.name == stored
    assert path.resolve().is_relative_to(tmp_path.resolve())
    assert shelf.files(HE, key)[0].name == given


@pytest.mark.parametrize(
    ("length", "match"), [(len(DUMP) + 1, "broke off"), (len(DUMP) - 1, "More bytes"), (0, "empty")]
)
def test_a_file_that_does_not_come_whole_is_not_kept(tmp_path: Path, length: int, match: str) -> None:
    shelf = Shelf(tmp_path)
    with pytest.raises(ShelfError, match=match):
        shelf.put(HE, None, "a.csv", length, io.BytesIO(DUMP), 0)
    assert shelf.dumps(HE) == []
    assert [path for path in tmp_path.rglob("*") if path.is_file()] == []


def test_the_files_before_it_stay(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path)
    key = put(shelf)
    with pytest.raises(ShelfError, match="broke off"):
        shelf.put(HE, key, "b.csv", 99, io.BytesIO(DUMP), 0)
    assert [path.name for path in shelf.paths(HE, key)] == ["a.csv"]


def test_without_a_length_nothing_is_taken(tmp_path: Path) -> None:
    with pytest.raises(ShelfError) as caught:
        Shelf(tmp_path).put(HE, None, "a.csv", None, io.BytesIO(DUMP), 0)
    assert caught.value.status == 411


def test_a_file_has_its_limit(tmp_path: Path) -> None:
    with pytest.raises(ShelfError, match="1024 MiB") as caught:
        Shelf(tmp_path).put(HE, None, "a.csv", MOST_BYTES + 1, io.BytesIO(DUMP), 0)
    assert caught.value.status == 413


@pytest.mark.parametrize(("over", "taken"), [(0, True), (-1, False)])
def test_a_full_disk_is_said_before_it_is_full(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, over: int, *, taken: bool
) -> None:
    usage = namedtuple("usage", "total used free")
    free = len(DUMP) + SPARE_BYTES + over
    monkeypatch.setattr(shelves.shutil, "disk_usage", lambda _: usage(0, 0, free))
    if taken:
        put(Shelf(tmp_path))
        return
    with pytest.raises(ShelfError, match="free on the server") as caught:
        put(Shelf(tmp_path))
    assert caught.value.status == 507


def test_a_dump_has_so_many_files(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path)
    key = put(shelf)
    for _ in range(MOST_FILES - 1):
        put(shelf, dump=key)
    with pytest.raises(ShelfError, match="At most"):
        put(shelf, dump=key)


def test_what_was_stated_lies_beside_it(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path)
    key = put(shelf)
    assert not shelf.stated(HE, key, PROFILE).exists()
    assert shelf.state(HE, key, PROFILE, "[log]\n").read_text() == "[log]\n"
    assert shelf.stated(HE, key, PROFILE).exists()
    assert not shelf.stated(HE, key, MACHINE).exists()
    with pytest.raises(ValueError, match="key"):
        shelf.stated(HE, key, "../key")
    assert len(shelf.paths(HE, key)) == 1


def test_the_dump_used_last_comes_first_and_deleting_is_thorough(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path)
    first, second = put(shelf), put(shelf)
    for at, key in ((100, second), (200, first)):
        os.utime(next(tmp_path.glob(f"*/{key}")), (at, at))
    assert shelf.dumps(HE) == [first, second]
    shelf.drop(HE, first)
    assert shelf.dumps(HE) == [second]


@pytest.mark.parametrize(("days", "gone"), [(KEPT_DAYS - 0.01, 0), (KEPT_DAYS + 0.01, 1)])
def test_what_nobody_opened_for_long_is_cleared_away(tmp_path: Path, days: float, gone: int) -> None:
    shelf = Shelf(tmp_path)
    key = put(shelf)
    opened = next(tmp_path.glob(f"*/{key}")).stat().st_mtime
    assert shelf.clear(opened + days * 86400) == gone
    assert len(shelf.dumps(HE)) == 1 - gone


def test_what_was_stated_outlives_the_dump_for_its_owner(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path)
    key = put(shelf)
    shelf.state(HE, key, PROFILE, "[log]\n")
    shelf.keep(HE, key)
    shelf.keep(HE, key)
    opened = next(tmp_path.glob(f"*/{key}")).stat().st_mtime
    assert shelf.clear(opened + (KEPT_DAYS + 1) * 86400) == 1
    (folder,) = shelf.kept(HE)
    assert (folder / PROFILE).read_text() == "[log]\n"
    assert not (folder / MACHINE).exists()
    assert shelf.kept(SHE) == []
    assert shelf.dumps(HE) == []
