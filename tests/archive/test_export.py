"""Export: Parquet, CSV without formulas, XES that reads back as the same log."""

from __future__ import annotations

from pathlib import Path

import polars as pl
import pytest
from polars.testing import assert_frame_equal

import eventlens
from eventlens import Archive, EventlensError
from tests.archive.stories import lines, told, write

ROWS = lines()


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Archive:
    folder = tmp_path_factory.mktemp("export")
    found = Archive(folder / "history")
    # set aside, it leaves an event too: from there on the signal is unknown
    bad = "=HYPERLINK(1),hoist.raise.command,1"
    found.add(write(folder / "=night.csv", [*ROWS[:40], bad, *ROWS[40:]]), "DOCK-5")
    found.add(
        (), "DOCK-5", notes={"note": ["2026-04-01T08:00Z =1+1", "2026-04-01T09:00Z @sum", "2026-04-02T09:00Z fine"]}
    )
    found.add(write(folder / "other.csv", ROWS[:100]), 'K<&"2')
    return found


def test_parquet_holds_the_same_rows(archive: Archive, tmp_path: Path) -> None:
    target = tmp_path / "events.parquet"
    assert archive.export(target) == 528 + 100
    both = pl.concat([archive.events("DOCK-5"), archive.events('K<&"2')])
    assert_frame_equal(pl.read_parquet(target), both)
    assert list(tmp_path.iterdir()) == [target]  # nothing else is left


def test_csv_has_no_cell_that_a_spreadsheet_would_run(archive: Archive, tmp_path: Path) -> None:
    for table, column, wanted in (
        ("entries", "text", ["'=1+1", "'@sum", "fine"]),
        ("set_aside", "text", ["'=HYPERLINK(1),hoist.raise.command,1"]),
        ("imports", "name", ["'=night.csv", "'=night.csv", "other.csv"]),
    ):
        target = tmp_path / f"{table}.csv"
        archive.export(target, table)
        rows = pl.read_csv(target, infer_schema=False)
        assert rows[column].to_list() == wanted
        assert not rows.select((pl.all().str.contains(r"^[=+@-]")).any()).row(0).count(True)


def test_csv_of_events_holds_the_same_rows(archive: Archive, tmp_path: Path) -> None:
    archive.export(tmp_path / "events.csv", machine="DOCK-5", start="2026-03-31T21:00Z", end="2026-04-01T01:00Z")
    rows = pl.read_csv(tmp_path / "events.csv")
    wanted = archive.events("DOCK-5", "2026-03-31T21:00Z", "2026-04-01T01:00Z")
    assert 0 < wanted.height < 528
    assert rows["time"].str.to_datetime(time_unit="us", time_zone="UTC").equals(wanted["time"])
    assert rows.select("signal", "value", "line").equals(wanted.select("signal", "value", "line"))


def test_xes_reads_back_as_the_same_log(archive: Archive, tmp_path: Path) -> None:
    target = tmp_path / "events.xes"
    assert archive.export(target, machine="DOCK-5") == 528
    again = eventlens.read(target).events.select("time", pl.col("signal").cast(pl.String), "value")
    assert again.equals(told(archive))
    archive.export(target)
    assert eventlens.read_table(target)["trace:concept:name"].unique().sort().to_list() == ["DOCK-5", 'K<&"2']


@pytest.mark.parametrize(
    ("name", "table", "said"),
    [
        ("x.txt", "events", "wanted a file that ends in .parquet, .csv or .xes, got 'x.txt'"),
        ("x.xes", "entries", "wanted a file that ends in .parquet or .csv, got 'x.xes'"),
        ("x.csv", "event", "wanted a table of the archive, got 'event'; did you mean 'events'?"),
        ("no/x.csv", "events", "wanted a file that can be written, got No such file"),
    ],
)
def test_what_cannot_be_exported(archive: Archive, tmp_path: Path, name: str, table: str, said: str) -> None:
    with pytest.raises(EventlensError) as fault:
        archive.export(tmp_path / name, table)
    assert said in str(fault.value)
    assert list(tmp_path.iterdir()) == []
