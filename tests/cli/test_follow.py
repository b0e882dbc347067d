"""`eventlens follow` from the command line: what it tells, where, and how it ends."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import time
from datetime import timedelta
from pathlib import Path

import pytest

import eventlens
from eventlens.live import Lines, word
from tests.cli.runner import ROOT, command, log, ordinary, ran, write_log
from tests.live.stories import told_in

__all__ = ["log"]

NOTHING_MORE = ("--until-idle", "0")


def test_it_tells_what_is_certain_and_gives_the_review(
    log: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    done = ran(capsys, "follow", log, *NOTHING_MORE, "--state", tmp_path / "state", "--json", tmp_path / "review.json")
    assert done.status == 0
    lines = done.out.splitlines()
    assert lines[0].startswith("! Before opening anything")
    told = [line for line in lines if line.startswith("2026-")]
    assert len(told) == 1
    assert told[0].startswith("2026-03-02 06:00:50.000  hoist: drop-out; certain;")
    assert "; line" in told[0]
    assert "told 9 s of the log after its end" in told[0]  # the record ends at 60 s
    assert (tmp_path / "review.json").read_text() == eventlens.review(log).to_json()


def test_it_goes_on_where_it_ended(log: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    whole = log.read_bytes()
    log.write_bytes(whole[: len(whole) // 2])
    given = ("follow", log, *NOTHING_MORE, "--state", tmp_path / "state", "--findings", tmp_path / "found.jsonl")
    ran(capsys, *given)
    with log.open("ab") as file:
        file.write(whole[len(whole) // 2 :])
    done = ran(capsys, *given, "--json", "-")
    assert json.loads(done.out) == json.loads(eventlens.review(log).to_json())
    again = ran(capsys, *given)
    assert again.out == ""
    found = Lines(tmp_path / "found.jsonl")
    assert [message.told for message in found.after()] == ["found"]
    found.close()


def test_findings_are_lines_of_json_on_stdout(log: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    done = ran(capsys, "follow", log, *NOTHING_MORE, "--state", tmp_path / "state", "--findings", "-")
    told = [json.loads(line) for line in done.out.splitlines()]
    assert [one["pattern"] for one in told] == ["drop_out"]
    assert told[0]["delay"].keys() == {"record_s", "program_s"}
    assert told[0]["severity"] == "repair"


def test_it_fills_an_archive_that_knows_the_machine_then(
    log: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    given = ("--state", tmp_path / "state", "--archive", tmp_path / "history", *NOTHING_MORE, "--quiet")
    machine = tmp_path / "saw-3.toml"
    machine.write_text('[machine]\nid = "SAW-3"\ngroup = "M5"\n')
    assert ran(capsys, "follow", log, "--machine", machine, *given).status == 0
    assert eventlens.Archive(tmp_path / "history").machines() == ["SAW-3"]
    done = ran(capsys, "follow", log, "--machine", "SAW-3", *given, "--json", tmp_path / "review.json")
    assert done.status == 0
    assert (tmp_path / "review.json").read_text() == eventlens.review(log, machine=machine).to_json()


@pytest.mark.parametrize(
    ("more", "got"),
    [
        (("--findings", "-", "--json", "-"), "one thing on stdout"),
        (("--archive", "history"), "wanted the machine whose record goes into the archive"),
        (("--findings", "nowhere/found.jsonl"), "wanted a folder that exists for --findings"),
        (("--machine", "none.toml"), "none.toml"),
    ],
)
def test_what_cannot_be_is_said_before_the_work(
    more: tuple[str, ...], got: str, log: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    done = ran(capsys, "follow", log, "--state", tmp_path / "state", *NOTHING_MORE, *more)
    assert done.status == 1
    assert got in done.err


def test_there_is_nothing_to_review(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    done = ran(capsys, "follow", tmp_path / "none.csv", *NOTHING_MORE, "--state", tmp_path / "s", "--json", "-")
    assert done.status == 1
    assert "nothing from" in done.err


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_it_ends_cleanly_when_it_is_asked_to(number: int, tmp_path: Path) -> None:
    log = write_log(tmp_path / "monday.csv")
    with subprocess.Popen(
        command("follow", log, "--state", tmp_path / "state", "--json", tmp_path / "review.json", "--quiet"),
        cwd=ROOT,
        env=os.environ,
    ) as process:
        until = time.monotonic() + 50
        while not (tmp_path / "state" / "snapshot.json").exists() and time.monotonic() < until:
            time.sleep(0.05)
        process.send_signal(number)
        assert process.wait(50) == 0
    assert (tmp_path / "review.json").read_text() == eventlens.review(log).to_json()


def test_whoever_is_killed_falls_silent_and_says_so_to_nobody(tmp_path: Path) -> None:
    """The last word does not tell an end: its time does."""
    log = write_log(tmp_path / "monday.csv", [*ordinary(), (90.0, "stop.emergency", 0.0)])
    given = ("--machine", "SAW-3", "--state", tmp_path / "state", "--archive", tmp_path / "history", "--quiet")
    with subprocess.Popen(command("follow", log, *given), cwd=ROOT, env=os.environ) as process:
        until, found = time.monotonic() + 50, list[Path]()
        while (not found or not word.read(found[0]).told) and time.monotonic() < until:
            time.sleep(0.05)
            found = word.boards(tmp_path / "history")
        process.kill()
    said = word.read(found[0])
    assert (said.ended, said.lines, said.machine, said.source) == (
        False,
        len(log.read_text().splitlines()),
        "SAW-3",
        str(log),
    )
    assert said.follows(said.at)
    assert not said.follows(said.at + timedelta(minutes=12))
    assert (found[0] / word.TOLD).read_bytes() == (tmp_path / "state" / word.TOLD).read_bytes()


def test_what_ended_it_is_its_last_word(log: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    log.write_bytes(b"\0\x01\x02\x03\n\xff\xfe\x00" * 50)
    assert ran(capsys, "follow", log, *NOTHING_MORE, "--state", tmp_path / "state").status == 1
    said = word.read(tmp_path / "state")
    assert said.ended
    assert said.why.endswith("let the logger write text.")


def test_it_goes_on_with_the_wait_with_which_it_was_begun(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Nobody must say it twice, and the archive says what whoever followed said: here of a record 8 s late."""
    log, profile = write_log(tmp_path / "monday.csv"), tmp_path / "saw.toml"
    lines = log.read_text().splitlines(keepends=True)
    end = next(at for at, line in enumerate(lines) if "06:00:51" in line and "contactor" in line)
    lines.insert(end + 5, lines.pop(end))  # the end of the run that drops out comes late
    profile.write_text('[log]\ntimezone = "UTC"\n')
    history = tmp_path / "history"
    given = ("follow", log, "--profile", profile, "--state", tmp_path / "state", *NOTHING_MORE)
    into = ("--archive", history, "--machine", "SAW-3")
    log.write_text("".join(lines[: end - 3]))
    assert ran(capsys, *given, *into, "--wait", "20").status == 0
    log.write_text("".join(lines))
    done = ran(capsys, *given, *into, "--json", tmp_path / "review.json")
    assert "up to 20 s late are put in place, as when this was begun with --wait 20" in done.err
    ours = json.loads((tmp_path / "review.json").read_text())
    profile.write_text('[log]\ntimezone = "UTC"\nlate_s = 20.0\n')
    machine = tmp_path / "saw-3.toml"
    machine.write_text('[machine]\nid = "SAW-3"\n')
    assert ours == json.loads(eventlens.review(log, profile, machine).to_json())
    assert ours["log"]["reordered"] > 0
    kept = json.loads(eventlens.Archive(history).review("SAW-3").to_json())
    assert {**kept, "source": None} == {**ours, "source": None}

    for where in (into, ("--machine", machine)):
        done = ran(capsys, *given, *where, "--wait", "3")
        assert done.status == 1
        assert "wanted the wait with which this record was begun, 20 s, got --wait 3" in done.err


def test_the_wait_of_a_record_that_no_archive_has_may_change(
    log: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for wait in ("20", "3"):
        given = ("follow", log, "--state", tmp_path / "state", *NOTHING_MORE, "--wait", wait, "--quiet")
        assert ran(capsys, *given).status == 0
    assert word.read(tmp_path / "state").wait_s == 3


@pytest.mark.parametrize("encoding", ["utf-16-le", "utf-16-be"])
@pytest.mark.parametrize("mark", [True, False])
def test_a_log_in_characters_of_two_bytes_ends_as_its_review(
    encoding: str, mark: bool, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """It comes in two parts that are cut inside a character; what follows ends with the bytes that review gives."""
    text = write_log(tmp_path / "whole.csv").read_text()
    data = (("\ufeff" if mark else "") + text).encode(encoding)
    log = tmp_path / "monday.csv"
    given = ("follow", log, *NOTHING_MORE, "--state", tmp_path / "state", "--json", tmp_path / "review.json", "--quiet")
    for end in (len(data) // 2 | 1, len(data)):
        log.write_bytes(data[:end])
        assert ran(capsys, *given).status == 0
    assert (tmp_path / "review.json").read_text() == eventlens.review(log).to_json()
    found = json.loads((tmp_path / "review.json").read_text())
    assert [one["pattern"] for one in found["findings"]] == ["drop_out"]
    assert [told.occurrence["pattern"] for told in told_in(tmp_path / "state")] == ["drop_out"]
