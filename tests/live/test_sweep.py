"""What goes out of an archive of those who followed, and what stays: each condition with its nearest neighbour."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from eventlens.live import word
from eventlens.live.board import copy_on
from eventlens.live.sweep import KEPT, sweep

ENDED = datetime(2026, 3, 2, 6, tzinfo=UTC)
TEXT = '{"number": 1}\n{"number": 2}\n'


@pytest.fixture
def board(tmp_path: Path) -> Path:
    """What one who has ended left in an archive; his state folder is there, and holds what he told."""
    state = tmp_path / "saw.csv.follow"
    state.mkdir()
    (state / word.TOLD).write_text(TEXT)
    found = word.board_in(str(tmp_path / "history"), "SAW-3", state)
    assert found is not None
    word.write(word.Word("SAW-3", "saw.csv", str(state), "UTC", begun=ENDED, at=ENDED, ended=True), found)
    copy_on(state / word.TOLD, found / word.TOLD)
    return found


def swept(board: Path, after: timedelta = KEPT + timedelta(seconds=1)) -> int:
    return sweep(board.parents[1], ENDED + after)


def test_what_an_ended_one_left_goes_after_a_week(board: Path) -> None:
    assert swept(board, KEPT) == 0
    assert swept(board) == 2  # the word and the copy
    assert not board.exists()
    assert swept(board) == 0


def test_who_goes_on_is_there_again_with_all_he_told(board: Path) -> None:
    said, state = word.read(board), board.parents[2] / "saw.csv.follow"
    swept(board)
    word.write(replace(said, ended=False), board)
    copy_on(state / word.TOLD, board / word.TOLD)
    assert (board / word.TOLD).read_text() == TEXT


def test_who_was_killed_goes_too_and_who_still_follows_stays(board: Path) -> None:
    said = word.read(board)
    word.write(replace(said, ended=False, at=ENDED + KEPT), board)
    assert swept(board) == 0
    word.write(replace(said, ended=False), board)
    assert swept(board) == 2


@pytest.mark.parametrize("journal", [None, "", TEXT[:-2], TEXT.replace("2", "3")])
def test_a_copy_of_what_is_nowhere_else_stays(board: Path, journal: str | None) -> None:
    told = board.parents[2] / "saw.csv.follow" / word.TOLD
    if journal is None:
        told.unlink()
    else:
        told.write_text(journal)
    assert swept(board) == 0
    assert (board / word.TOLD).read_text() == TEXT
    told.write_text(TEXT + '{"number": 3}\n')  # more than the copy has: nothing is lost
    assert swept(board) == 2


def test_what_it_does_not_know_stays(board: Path) -> None:
    (board / word.WORD).write_text('{"form": 99}')
    assert swept(board) == 0
    other = board.parents[2] / "saw.csv.follow"
    word.write(word.Word("SAW-3", "saw.csv", str(other), "UTC", begun=ENDED, at=ENDED), board)
    (board / "note.txt").write_text("mine")
    assert swept(board) == 2
    assert [path.name for path in board.iterdir()] == ["note.txt"]


def test_a_place_without_such_a_folder(tmp_path: Path) -> None:
    assert sweep(tmp_path / "nowhere") == sweep("s3://bucket/hoists") == 0
