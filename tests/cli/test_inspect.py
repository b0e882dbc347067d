"""Guards `eventlens inspect`: what the reader says is printed, and the raw table is written as asked."""

from __future__ import annotations

import gzip
import subprocess
from pathlib import Path

import polars as pl
import pytest

import eventlens
from tests.cli.runner import command, log, ran

__all__ = ["log"]  # a fixture

Capture = pytest.CaptureFixture[str]


def test_prints_the_inspection(log: Path, capsys: Capture) -> None:
    done = ran(capsys, "inspect", log)
    assert (done.status, done.err) == (0, "")
    assert done.out.rstrip("\n") == eventlens.inspect(log).to_text().rstrip("\n")
    assert "hoist.raise.contactor" in done.out


def test_writes_the_raw_table(log: Path, tmp_path: Path, capsys: Capture) -> None:
    for name in ("table.csv", "table.parquet"):
        assert ran(capsys, "inspect", log, "--table", tmp_path / name).status == 0
    raw = eventlens.read_table(log)
    assert raw.columns == ["time", "signal", "value"]
    assert pl.read_parquet(tmp_path / "table.parquet").equals(raw)
    assert pl.read_csv(tmp_path / "table.csv", infer_schema=False).equals(raw)


def test_a_table_without_names_is_written_without_made_up_ones(log: Path, tmp_path: Path, capsys: Capture) -> None:
    lines = log.read_text("utf-8").splitlines(keepends=True)[1:]
    log.write_text("".join(lines), "utf-8")
    for name in ("table.csv", "table.parquet"):
        assert ran(capsys, "inspect", log, "--table", tmp_path / name).status == 0
    assert (tmp_path / "table.csv").read_text("utf-8") == "".join(lines)
    kept = pl.read_parquet(tmp_path / "table.parquet")
    assert (kept.columns, kept.height) == (["column_1", "column_2", "column_3"], len(lines))


@pytest.mark.parametrize("packed", [False, True])
def test_standard_input_gives_the_inspection_and_the_table(packed: bool, log: Path, tmp_path: Path) -> None:
    content = log.read_bytes()
    for name in ("table.csv", "table.parquet"):
        done = subprocess.run(
            command("inspect", "-", "--table", tmp_path / name, "--write-profile", tmp_path / "own.toml"),
            input=gzip.compress(content) if packed else content,
            capture_output=True,
            check=False,
            timeout=60,
        )
        assert (done.returncode, done.stderr) == (0, b"")
        assert done.stdout.startswith(b"file:         stdin\n")
    raw = eventlens.read_table(log)
    assert pl.read_parquet(tmp_path / "table.parquet").equals(raw)
    assert (tmp_path / "table.csv").read_bytes() == content


def test_standard_input_without_a_log_is_said(tmp_path: Path) -> None:
    asked = command("inspect", "-", "--table", tmp_path / "table.csv")
    done = subprocess.run(asked, input=b"", capture_output=True, check=False, timeout=60)
    assert (done.returncode, done.stdout) == (1, b"")
    assert done.stderr.startswith(b"eventlens: stdin: wanted a log, got an empty file")


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("table.xlsx", "wanted a name that ends in .csv or .parquet for --table, got '.xlsx'"),
        ("table", "got no ending"),
        ("no/table.csv", "wanted a folder that exists for --table"),
        ("monday.csv", "got one of the inputs"),
    ],
)
def test_a_table_that_cannot_be_written(name: str, told: str, log: Path, tmp_path: Path, capsys: Capture) -> None:
    before = log.read_bytes()
    done = ran(capsys, "inspect", log, "--table", tmp_path / name)
    assert (done.status, done.out) == (1, "")
    assert told in done.err
    assert log.read_bytes() == before


def test_a_file_that_is_not_there(tmp_path: Path, capsys: Capture) -> None:
    done = ran(capsys, "inspect", tmp_path / "gone.csv")
    assert (done.status, done.out) == (1, "")
    assert "gone.csv: " in done.err
