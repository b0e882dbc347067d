"""Guards `--rejects` and `--strict`: every row that was set aside with its file, line and reason, harmless to open."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from tests.cli.runner import log, ran

__all__ = ["log"]  # a fixture

Capture = pytest.CaptureFixture[str]
NAME = "hoist.raise.contactor"
ROWS = (
    f"2026-03-02T06:00:00.000Z,{NAME},0",
    '"=cmd|calc",x,1',
    f"2026-03-02T06:00:05.000Z,{NAME},maybe",
    f'@2026-99-02T06:00:05.000Z,{NAME},"a,b"',
    f"2026-03-02T06:00:10.000Z,{NAME},1",
)


def damaged(folder: Path, name: str = "log.csv", rows: tuple[str, ...] = ROWS) -> Path:
    path = folder / name
    path.write_text("\n".join(["time,signal,value", *rows]) + "\n")
    return path


def table(path: Path) -> list[list[str]]:
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.reader(file))


def test_rows_set_aside_are_written_with_file_line_and_reason(tmp_path: Path, capsys: Capture) -> None:
    target = tmp_path / "aside.csv"
    assert ran(capsys, "review", damaged(tmp_path), "--rejects", target).status == 0
    head, *rows = table(target)
    assert head == ["file", "line", "reason", "text"]
    assert [row[:2] for row in rows] == [["log.csv", "3"], ["log.csv", "4"], ["log.csv", "5"]]  # counted by hand
    assert ["value" in row[2] for row in rows] == [False, True, False]
    assert [row[3][0] for row in rows] == ["'", "2", "'"]  # = and @ cannot begin a formula


def test_lines_are_those_of_each_file(tmp_path: Path, capsys: Capture) -> None:
    more = (f"2026-03-02T07:00:00.000Z,{NAME},0", "nonsense,x,1")
    one, other = damaged(tmp_path), damaged(tmp_path, "more.csv", more)
    target = tmp_path / "aside.csv"
    assert ran(capsys, "review", other, one, "--rejects", target).status == 0
    assert [row[:2] for row in table(target)[1:]] == [
        ["log.csv", "3"],
        ["log.csv", "4"],
        ["log.csv", "5"],
        ["more.csv", "3"],
    ]


def test_a_clean_log_has_a_table_without_rows_and_passes_strict(log: Path, tmp_path: Path, capsys: Capture) -> None:
    target = tmp_path / "aside.csv"
    done = ran(capsys, "review", log, "--rejects", target, "--strict")
    assert done.status == 0
    assert len(table(target)) == 1
    assert ran(capsys, "inspect", log, "--strict").status == 0


def test_strict_stops_at_the_first(tmp_path: Path, capsys: Capture) -> None:
    target = tmp_path / "aside.csv"
    done = ran(capsys, "review", damaged(tmp_path), "--strict", "--rejects", target)
    assert (done.status, done.out) == (1, "")
    assert "log.csv, line 3: wanted every row to be understood" in done.err
    assert len(table(target)) == 4  # all of them are there all the same


def test_inspect_does_the_same_for_what_it_reads(tmp_path: Path, capsys: Capture) -> None:
    target = tmp_path / "aside.csv"
    assert ran(capsys, "inspect", damaged(tmp_path), "--rejects", target).status == 0
    assert [row[1] for row in table(target)[1:]] == ["3", "5"]  # values are not looked at: nothing is mapped yet
    done = ran(capsys, "inspect", damaged(tmp_path), "--strict")
    assert done.status == 1
    assert "line 3" in done.err


def test_the_table_never_overwrites_a_log(tmp_path: Path, capsys: Capture) -> None:
    path = damaged(tmp_path)
    before = path.read_bytes()
    for command in ("review", "inspect"):
        assert ran(capsys, command, path, "--rejects", path).status == 1
    assert path.read_bytes() == before
