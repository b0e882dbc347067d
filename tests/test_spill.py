"""Tables that lie in temporary files are the same tables."""

from __future__ import annotations

import tempfile
from pathlib import Path

import polars as pl
import pytest

from eventlens import schema, spill
from eventlens.spill import MANY, give_back, laid_down
from eventlens.wiring import review_log
from tests.causes.stories import loose_relay
from tests.logs import merged
from tests.patterns.helpers import M5, logged


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where temporary files lie; every table counts as long."""
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    monkeypatch.setattr(spill, "LONG", 0)
    return tmp_path


@pytest.fixture(scope="module")
def tables() -> list[tuple[schema.Table, pl.DataFrame]]:
    """Tables with rows, nulls, enumerations and lists."""
    review = review_log(logged(merged(*loose_relay())), M5)
    return [
        (schema.EVENTS, review.log.events),
        (schema.STATES, review.states),
        (schema.RUNS, review.runs),
        (schema.OCCURRENCES, review.occurrences),
        (schema.HOLES, schema.HOLES.empty()),
    ]


def test_a_table_that_is_laid_down_is_the_same_in_one_piece(
    folder: Path, tables: list[tuple[schema.Table, pl.DataFrame]]
) -> None:
    for table, frame in tables:
        down = laid_down(frame, MANY)
        assert down is not frame
        assert down.n_chunks() == 1
        table.check(down)
        give_back()
        assert down.equals(frame)


def test_a_part_of_a_table_is_laid_down_as_it_is(folder: Path) -> None:
    frame = pl.DataFrame({"n": range(1000), "even": [n % 2 == 0 for n in range(1000)]})
    part = frame.slice(13, 801)  # no multiple of eight: bits of truth values do not begin with a byte
    assert laid_down(part, MANY).equals(part)
    in_two = pl.concat([part, frame.head(5)], rechunk=False)
    assert laid_down(in_two, MANY).equals(in_two)


def test_no_file_is_left(folder: Path) -> None:
    down = laid_down(pl.DataFrame({"n": range(1000)}), MANY)
    assert not list(folder.iterdir())
    assert down["n"].sum() == 499_500  # 999 * 1000 / 2


def test_a_short_table_stays_in_memory(monkeypatch: pytest.MonkeyPatch) -> None:
    frame = pl.DataFrame({"n": range(100)})  # 8 bytes each
    monkeypatch.setattr(spill, "LONG", 801)
    assert laid_down(frame, MANY) is frame
    monkeypatch.setattr(spill, "LONG", 800)
    assert laid_down(frame, MANY) is not frame
    assert laid_down(frame, MANY - 1) is frame, "the log is short"


def test_short_tables_that_are_long_together_are_laid_down(monkeypatch: pytest.MonkeyPatch) -> None:
    frame = pl.DataFrame({"n": range(100)})  # 8 bytes each
    monkeypatch.setattr(spill, "LONG", 2400)
    assert laid_down(frame, MANY, 2) is frame
    assert laid_down(frame, MANY, 3) is not frame


def test_without_a_place_for_files_a_table_stays_in_memory(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(folder / "nowhere"))
    frame = pl.DataFrame({"n": range(100)})
    assert laid_down(frame, MANY) is frame
