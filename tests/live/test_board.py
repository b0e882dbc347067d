"""Whoever looks on sees that somebody follows, how far he is, and when he has fallen silent; he himself never waits."""

from __future__ import annotations

import json
from contextlib import closing
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

import eventlens
from eventlens.errors import EventlensError
from eventlens.live import Batch, Board, Follower, board, word
from eventlens.live.course import Course
from eventlens.live.looking import record_of
from eventlens.live.sources.file import FileSource
from eventlens.live.spool import Spool
from eventlens.reading import Profile, load_profile
from tests.cli.runner import write_log
from tests.live.sources import HEADER, Chunks
from tests.live.stories import MACHINE, late, morning, text_of
from tests.logs import at

WORD = word.Word("DOCK-5", "dock-5.csv", "/state", "UTC", begun=at(0), at=at(100))


def course(folder: Path, text: str = "") -> Course:
    path = folder / "before.csv"
    path.write_text(text)
    return Course([path], lambda: "")


def following(folder: Path, **given: object) -> Board:
    return Board("dock-5.csv", folder / "state", MACHINE, **given)  # type: ignore[arg-type]


def told(folder: Path, text: str) -> None:
    with (folder / "state" / word.TOLD).open("a") as file:
        file.write(text)


@pytest.mark.parametrize(
    ("after_s", "ended", "follows"), [(0, False, True), (20, False, True), (20.001, False, False), (0, True, False)]
)
def test_who_follows_is_told_by_the_time_of_the_last_word(after_s: float, ended: bool, follows: bool) -> None:
    said = replace(WORD, ended=ended)
    assert word.SILENT_S == 20  # four words of five seconds
    assert said.follows(WORD.at + timedelta(seconds=after_s)) == follows


def test_a_word_is_read_as_it_was_said(tmp_path: Path) -> None:
    said = replace(WORD, came=at(3), notes=(word.Note(at(1), "rotated"),), noted=1, minutes=((5, 7),), trouble="gone")
    word.write(said, tmp_path)
    assert word.read(tmp_path) == said
    assert [path.name for path in tmp_path.iterdir()] == [word.WORD]


def test_what_a_newer_program_says_beside_is_left_out(tmp_path: Path) -> None:
    word.write(WORD, tmp_path)
    said = json.loads((tmp_path / word.WORD).read_text())
    (tmp_path / word.WORD).write_text(json.dumps({**said, "mood": "good"}))
    assert word.read(tmp_path) == WORD
    (tmp_path / word.WORD).write_text(json.dumps({**said, "form": word.FORM + 1}))
    with pytest.raises(EventlensError, match="wanted the last word"):
        word.read(tmp_path)


@pytest.mark.parametrize("name", ["../../x", "/etc", "..", "a/b", "", "A" * 300, "Łódź 7"])
def test_no_name_of_a_machine_leads_out_of_its_folder(name: str, tmp_path: Path) -> None:
    found = word.board_in(str(tmp_path), name, tmp_path / "state")
    assert found is not None
    assert found.resolve().parent == tmp_path.resolve() / "following"
    assert word.board_in("s3://bucket/history", name, tmp_path / "state") is None


def test_it_stands_beside_the_record_and_in_the_archive(tmp_path: Path) -> None:
    one = following(tmp_path, archive=str(tmp_path / "history"))
    so_far = course(tmp_path, "head\n1\n2\n")
    one.begin(so_far, 2.0)
    (folder,) = word.boards(tmp_path / "history")
    assert word.read(folder) == word.read(tmp_path / "state")
    assert (word.read(folder).lines, word.read(folder).ended) == (3, False)
    so_far.took(Batch(b"3\n4\n5", {}))
    told(tmp_path, "1\n2\n")
    one.tell(())
    one.note("'dock-5.csv' was rotated")
    one.close()
    said = word.read(folder)
    assert (said.lines, said.ended, said.why, said.noted) == (5, True, "", 1)
    assert said.came is not None
    assert sum(lines for _, lines in said.minutes) == 2  # what was there before did not come now
    assert (folder / word.TOLD).read_text() == "1\n2\n"


def test_who_begins_again_knows_what_was_before(tmp_path: Path) -> None:
    for number in range(2):
        one = following(tmp_path)
        so_far = course(tmp_path)
        one.begin(so_far, 2.0)
        so_far.took(Batch(b"1\n", {}))
        one.note(f"note {number}")
        one.close()
    said = word.read(tmp_path / "state")
    assert [note.text for note in said.notes] == ["note 0", "note 1"]
    assert (said.noted, sum(lines for _, lines in said.minutes)) == (2, 2)
    one = following(tmp_path)
    one.begin(course(tmp_path), 2.0)
    one.failed(EventlensError("room for what is followed", "none", "free some space"))
    one.close()
    assert word.read(tmp_path / "state").why.startswith("wanted room for what is followed")
    assert word.read(tmp_path / "state").came == said.came


def test_only_the_latest_notes_are_kept(tmp_path: Path) -> None:
    one = following(tmp_path)
    one.begin(course(tmp_path), 2.0)
    for number in range(word.NOTES + 5):
        one.note(str(number))
    one.close()
    said = word.read(tmp_path / "state")
    assert (said.noted, len(said.notes), said.notes[0].text) == (word.NOTES + 5, word.NOTES, "5")


def test_a_copy_grows_with_its_journal_and_is_begun_anew_for_another(tmp_path: Path) -> None:
    journal, copy = tmp_path / "told", tmp_path / "copy"
    board.copy_on(journal, copy)
    assert not copy.exists()
    for text in ("1\n", "1\n2\n3", "1\n2\n3\n4\n", "other\n4\n", "x\n"):
        journal.write_text(text)
        board.copy_on(journal, copy)
        assert copy.read_text() == text[: text.rfind("\n") + 1]


def test_a_word_that_cannot_be_written_is_noted_once_and_stops_nothing(tmp_path: Path) -> None:
    (tmp_path / "history").write_text("no folder")
    notes: list[str] = []
    one = following(tmp_path, archive=str(tmp_path / "history"), note=notes.append)
    one.begin(course(tmp_path), 2.0)
    one._speak()
    one.close()
    assert len(notes) == 1
    assert notes[0].startswith("Who looks on does not see this: ")
    assert word.read(tmp_path / "state").ended  # where it can be, it is


def test_a_follower_says_how_far_he_is(tmp_path: Path) -> None:
    source = Chunks(text_of(morning(400)), [9000], ends=False)
    with closing(Follower(source, tmp_path / "state", Profile(), MACHINE)) as one:
        assert (one.course.lines, one.course.came) == (0, None)
        one.take(0.0)
        assert one.course.lines == source.text[:9000].count(b"\n")
        one.look()
        assert one.course.record_end is not None
        assert one.course.looking is None
    with closing(Follower(source, tmp_path / "state", Profile(), MACHINE)) as one:  # half a line waits for its rest
        assert one.course.lines == source.text[:9000].count(b"\n")


def test_a_file_that_is_not_there_is_a_trouble(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    source = FileSource(path, every_s=0.0)
    source.resume(None)
    source.more(0.0)
    assert source.trouble == "the file is not there"
    path.write_text(HEADER)
    source.more(0.0)
    assert source.trouble == ""
    source.close()


@pytest.mark.parametrize("late_s", [2.0, 20.0])
def test_the_record_so_far_is_reviewed_as_it_is_followed(late_s: float, tmp_path: Path) -> None:
    """With profile, machine and wait of whoever follows, while he follows, as far as his snapshot says."""
    text = text_of(late(morning(400), 10.0, 1))
    profile = tmp_path / "given.toml"
    profile.write_text('[log]\ntimezone = "Europe/Lisbon"\n')
    spool = Spool(tmp_path / "state")
    spool.take(Batch(text[:20_001], {"at": 1}, "log.csv"))
    with spool.paths[0].open("ab") as file:
        file.write(b"this is not in the snapshot yet\n")
    one = following(tmp_path, profile=profile)
    one.begin(Course(spool.paths, lambda: ""), late_s)
    found = record_of(tmp_path / "state", word.read(tmp_path / "state"))
    one.close()
    spool.close()
    log = tmp_path / "log.csv"
    log.write_bytes(text[: text[:20_001].rfind(b"\n") + 1])
    known = load_profile(profile)
    stated = replace(known, log=known.log.model_copy(update={"late_s": late_s}))
    ours, whole = (json.loads(review.to_json()) for review in (found, eventlens.review(log, stated, MACHINE)))
    ours["source"].pop("profile", None)
    whole["source"].pop("profile", None)
    assert ours == whole


def test_nothing_has_come_yet(tmp_path: Path) -> None:
    Spool(tmp_path / "state").close()
    one = following(tmp_path)
    one.begin(course(tmp_path), 2.0)
    one.close()
    with pytest.raises(EventlensError, match="nothing that has come yet"):
        record_of(tmp_path / "state", word.read(tmp_path / "state"))
    assert word.is_state(tmp_path / "state")
    assert not word.is_state(write_log(tmp_path / "x.csv").parent)
