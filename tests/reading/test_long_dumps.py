"""The files of a long log are laid down one by one, whatever is in them; each of them once."""

from __future__ import annotations

from pathlib import Path

import polars as pl
import pytest

from eventlens import spill
from eventlens.reading import files
from eventlens.reading.files import read_raws
from eventlens.reading.formats import _arrow, delimited, parquet
from eventlens.reading.joined import Joined
from eventlens.reading.pieces import in_pieces
from eventlens.reading.profile import Profile
from eventlens.reading.raw import RawTable

NAMES = ("plain.csv", "quoted.csv", "log.json", "log.parquet")
FILES, ROWS = 3, 60


def table(file: int) -> pl.DataFrame:
    """Rows of one file, a second each; the files follow each other."""
    seconds = range(file * ROWS, (file + 1) * ROWS)
    stamps = [f"2026-03-02 06:{second // 60:02}:{second % 60:02}.000" for second in seconds]
    return pl.DataFrame({"time": stamps, "tag": ["K11", "K12"] * (ROWS // 2), "state": ["0", "1"] * (ROWS // 2)})


def dump(folder: Path, name: str) -> list[Path]:
    paths = [folder / f"{number}.{name}" for number in range(FILES)]
    for number, path in enumerate(paths):
        frame = table(number)
        if name == "log.parquet":
            frame.write_parquet(path)
        elif name == "log.json":
            frame.write_ndjson(path)
        else:
            frame.write_csv(path, separator=";", quote_style="always" if name == "quoted.csv" else "never")
    return paths


@pytest.fixture
def laid(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """The rows of each table of a file that is written, as there are some; every table counts as long."""
    rows: list[int] = []

    def seen(frame: pl.DataFrame, records: int, parts: int = 1) -> pl.DataFrame:
        down = spill.laid_down(frame, records, parts)
        if down is not frame:
            rows.append(frame.height)
        return down

    monkeypatch.setattr(files, "laid_down", seen)
    monkeypatch.setattr(spill, "LONG", 0)
    return rows


def same(ones: list[RawTable], others: list[RawTable]) -> None:
    for one, other in zip(ones, others, strict=True):
        assert one.frame.equals(other.frame)
        assert one.frame.schema == other.frame.schema
        assert one.lines.equals(other.lines)


@pytest.mark.parametrize("name", NAMES)
def test_files_that_are_a_long_log_together_are_laid_down(
    name: str, tmp_path: Path, laid: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    paths = dump(tmp_path, name)
    short = read_raws(paths, Profile())
    assert not laid
    monkeypatch.setattr(spill, "MANY", FILES * ROWS)
    same(read_raws(paths, Profile()), short)
    assert len(laid) >= FILES - 1  # how many rows all have is known when the last is read
    laid.clear()
    monkeypatch.setattr(spill, "MANY", FILES * ROWS * 2)
    same(read_raws(paths, Profile()), short)
    assert not laid


@pytest.mark.parametrize("name", ["plain.csv", "log.parquet"])
def test_what_was_laid_down_while_it_was_read_is_not_written_again(
    name: str, tmp_path: Path, laid: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    path = dump(tmp_path, name)[0]
    monkeypatch.setattr(spill, "MANY", 0)
    short = read_raws([path], Profile())
    assert laid == [ROWS]
    monkeypatch.setattr(delimited, "LONG", 0)
    monkeypatch.setattr(delimited, "PIECE", 100)
    monkeypatch.setattr(parquet, "LONG", 0)
    monkeypatch.setattr(_arrow, "PIECE", 30)
    same(read_raws([path], Profile()), short)
    assert laid == [ROWS]


def test_files_that_follow_each_other_need_no_places(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    raws = read_raws(dump(tmp_path, "plain.csv"), Profile())
    kept: list[int] = []  # files for whose rows places are kept
    pieces = Joined.pieces
    monkeypatch.setattr(
        Joined,
        "pieces",
        lambda one, *, moved: kept.append(len(one.spots) + len(one.places)) or pieces(one, moved=moved),
    )
    found = in_pieces(raws, Profile(), ("time",), ("tag",), ("state",))
    assert found.places is None
    assert kept == [0]
    assert found.first_rows == [2, 62, 122]
    assert found.repeated == [0, 0, 0]
