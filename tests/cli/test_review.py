"""Guards `eventlens review`: where its output goes, its exit status, and errors that say what to do."""

from __future__ import annotations

import json
from pathlib import Path
from typing import get_args

import pytest

import eventlens
from eventlens import schema
from eventlens.cli import options
from eventlens.cli.options import Severity
from eventlens.report import document
from tests.cli.runner import log, ran, spawned, write_log

__all__ = ["log"]  # a fixture

Capture = pytest.CaptureFixture[str]

CONTRACT = ["contract", "source", "machine", "log", "motions", "findings", "not_assessed", "duty", "life", "causes"]
CONTRACT += ["next_check", "cautions"]
"""Keys of the JSON form that other programs may rely on."""


def test_report_goes_to_stdout_and_nothing_else_anywhere(log: Path, capsys: Capture) -> None:
    done = ran(capsys, "review", log)
    assert (done.status, done.err) == (0, "")
    assert "monday.csv" in done.out
    assert "drop-out 1 x" in done.out
    assert "let go 2, dropped out 1" in done.out  # by hand
    assert max(map(len, done.out.splitlines())) <= 80
    assert "\x1b" not in done.out


def test_json_file_beside_the_report(log: Path, tmp_path: Path, capsys: Capture) -> None:
    target = tmp_path / "review.json"
    target.write_text("old", "utf-8")
    done = ran(capsys, "review", log, "--json", target)
    assert done.status == 0
    assert done.out.startswith("machine: ")
    found = json.loads(target.read_bytes())
    assert set(CONTRACT) <= set(found)
    assert found["contract"] == 1
    assert found["motions"]["hoist"]["starts"] == 3  # by hand
    assert [(f["pattern"], f["count"]) for f in found["findings"]] == [("drop_out", 1)]


def test_json_on_stdout_is_alone_there_and_the_same_each_time(log: Path, tmp_path: Path, capsys: Capture) -> None:
    done = ran(capsys, "review", log, "--json", "-")
    assert (done.status, done.err) == (0, "")
    assert json.loads(done.out)["contract"] == 1
    again = spawned("review", log, "--json", "-")
    ran(capsys, "review", log, "--json", tmp_path / "third.json")
    assert again.stdout == done.out.encode() == (tmp_path / "third.json").read_bytes()


def test_json_on_stdout_is_utf_8_whatever_the_terminal_speaks(tmp_path: Path) -> None:
    path = write_log(tmp_path / "montag.csv")
    with path.open("a", encoding="utf-8") as file:
        file.write("2026-03-02T06:01:01.000Z,Störung Ω,1\n")
    done = spawned("review", path, "--json", "-", PYTHONIOENCODING="ascii")
    assert "Störung Ω" in {item["name"] for item in json.loads(done.stdout)["log"]["signals"]}
    done = spawned("review", path, PYTHONIOENCODING="ascii")
    assert (done.returncode, done.stderr) == (0, b"")
    assert b"St\\xf6rung \\u03a9" in done.stdout


def test_quiet_says_nothing(log: Path, tmp_path: Path, capsys: Capture) -> None:
    assert ran(capsys, "review", log, "--quiet", "--fail-on", "repair") == (3, "", "")
    assert ran(capsys, "review", log, "--quiet", "--json", tmp_path / "review.json") == (0, "", "")
    assert json.loads((tmp_path / "review.json").read_bytes())["contract"] == 1
    assert ran(capsys, "review", log, "--quiet", "--json", "-").out.startswith("{")


@pytest.mark.parametrize(
    ("severity", "status"),
    [("out_of_service", 0), ("repair", 3), ("watch", 3), ("note", 3)],  # the log has one finding: repair
)
def test_fail_on_counts_that_severity_and_worse(severity: str, status: int, log: Path, capsys: Capture) -> None:
    done = ran(capsys, "review", log, "--fail-on", severity)
    assert done.status == status
    assert ("1 finding of severity" in done.err) == (status == 3)
    assert "drop-out" in done.out


def test_severities_are_those_of_the_tables(log: Path, capsys: Capture) -> None:
    assert tuple(Severity) == schema.SEVERITIES
    done = ran(capsys, "review", log, "--fail-on", "serious")
    assert done.status == 2
    assert "'out_of_service', 'repair', 'watch', 'note'" in " ".join(done.err.split())


def test_machine_and_profile_are_used(log: Path, tmp_path: Path, capsys: Capture) -> None:
    machine, profile = tmp_path / "machine.toml", tmp_path / "profile.toml"
    machine.write_text('[machine]\nid = "SAW-3"\ngroup = "M5"\n', "utf-8")
    profile.write_text('[log]\ntimezone = "Europe/Berlin"\n', "utf-8")
    done = ran(capsys, "review", log, "--machine", machine, "--profile", profile)
    assert done.out.startswith("SAW-3: group M5\n")
    assert "with profile profile.toml" in done.out


def test_parts_of_one_dump_are_one_log(log: Path, tmp_path: Path, capsys: Capture) -> None:
    lines = log.read_text("utf-8").splitlines(keepends=True)
    parts = [tmp_path / "part1.csv", tmp_path / "part2.csv"]
    parts[0].write_text("".join(lines[:20]), "utf-8")
    parts[1].write_text("".join(lines[:1] + lines[20:]), "utf-8")
    done = ran(capsys, "review", *parts)
    assert done.status == 0
    assert "part2.csv" in done.out
    assert "3 with 3 starts" in done.out


@pytest.mark.parametrize(
    ("name", "content", "told"),
    [
        ("gone.csv", None, "no such file"),
        ("empty.csv", b"", "empty"),
        ("binary.csv", bytes(range(256)) * 8, "binary"),
        ("header.csv", b"time,signal,value\n", "header"),
    ],
)
def test_a_log_that_cannot_be_read(
    name: str, content: bytes | None, told: str, tmp_path: Path, capsys: Capture
) -> None:
    path = tmp_path / name
    if content is not None:
        path.write_bytes(content)
    one_sentence(ran(capsys, "review", path), path, told)


@pytest.mark.parametrize(
    ("option", "content", "told"),
    [
        ("--profile", "[log]\nlayot = 'changes'\n", ", line 2: wanted a known key in [log], got 'layot'; did you mean"),
        ("--machine", "[machine]\ngroup = 'M9'\n", ", line 2: "),
        ("--machine", "[limits]\njog_longest = 1.0\n", "did you mean 'jog_longest_s'?"),
        ("--machine", "[machine\n", ", line 1: wanted TOML"),
        ("--machine", None, "check the path"),
    ],
)
def test_a_setting_that_is_wrong(
    option: str, content: str | None, told: str, log: Path, tmp_path: Path, capsys: Capture
) -> None:
    path = tmp_path / "settings.toml"
    if content is not None:
        path.write_text(content, "utf-8")
    one_sentence(ran(capsys, "review", log, option, path), path, told)


def test_json_into_a_folder_that_is_not_there(log: Path, tmp_path: Path, capsys: Capture) -> None:
    path = tmp_path / "no" / "review.json"
    one_sentence(ran(capsys, "review", log, "--json", path), path, "wanted a folder that exists for --json")
    one_sentence(ran(capsys, "review", log, "--json", tmp_path), tmp_path, "got a folder; add a file name")


def test_json_never_replaces_an_input(log: Path, capsys: Capture) -> None:
    before = log.read_bytes()
    one_sentence(ran(capsys, "review", log, "--json", log), log, "got one of the inputs")
    assert log.read_bytes() == before


def test_json_that_cannot_be_written(
    log: Path, tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(path: Path, data: bytes) -> int:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "write_bytes", refuse)
    path = tmp_path / "review.json"
    one_sentence(ran(capsys, "review", log, "--json", path), path, "got Permission denied; name another one")


def test_a_fault_of_the_program_is_not_hidden(log: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*args: object, **options: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(eventlens, "review", broken)
    from eventlens.cli import main

    with pytest.raises(ZeroDivisionError):
        main(["review", str(log)])


def test_interrupted_is_quiet(log: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(*args: object, **options: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(eventlens, "review", interrupted)
    assert ran(capsys, "review", log) == (130, "", "")


def one_sentence(done: tuple[int, str, str], path: Path, told: str) -> None:
    """Status 1, nothing on stdout, and on stderr one sentence that names the file and says what to do."""
    status, out, err = done
    assert (status, out) == (1, "")
    assert err.startswith(f"eventlens: {path}")
    assert told in err
    assert err.count("\n") == 1
    assert "wanted " in err
    assert "; " in err


def test_show_draws_one_occurrence_instead_of_the_report(log: Path, capsys: Capture) -> None:
    done = ran(capsys, "review", log, "--show", "drop_out")
    assert (done.status, done.err) == (0, "")
    assert done.out.startswith("drop_out 1 of 1: drop-out, hoist")
    assert "hoist.raise.contactor" in done.out
    assert "Before anybody" not in done.out


@pytest.mark.parametrize("wanted", ["drop_ou", "drop_out:0"])
def test_show_refuses_what_cannot_be_meant_before_it_reads(wanted: str, tmp_path: Path, capsys: Capture) -> None:
    done = ran(capsys, "review", tmp_path / "missing.csv", "--show", wanted)
    assert done.status == 1
    assert "drop_out" in done.err
    assert "missing.csv" not in done.err


@pytest.mark.parametrize(("name", "magic"), [("week.html", b"<!DOCTYPE html>"), ("week.pdf", b"%PDF-")])
def test_report_to_hand_over_beside_the_text(
    log: Path, tmp_path: Path, capsys: Capture, name: str, magic: bytes
) -> None:
    target = tmp_path / name
    done = ran(capsys, "review", log, "--report", target, "--paper", "letter", "--language", "de")
    assert (done.status, done.err) == (0, "")
    assert "drop-out 1 x" in done.out
    assert target.read_bytes().startswith(magic)


@pytest.mark.parametrize(
    ("target", "says"),
    [
        ("week.docx", "wanted a report that ends in .html or .pdf, got 'week.docx'; add the ending of the form."),
        ("absent/week.pdf", "wanted a folder that exists for --report"),
    ],
)
def test_a_report_that_cannot_be_is_said_before_the_work(
    log: Path, tmp_path: Path, capsys: Capture, target: str, says: str
) -> None:
    done = ran(capsys, "review", log, "--report", tmp_path / target)
    assert (done.status, done.out) == (1, "")
    assert says in done.err
    assert done.err.count("\n") == 1


def test_sections_of_the_report_are_chosen(log: Path, tmp_path: Path, capsys: Capture) -> None:
    target = tmp_path / "short.html"
    done = ran(capsys, "review", log, "--report", target, "--sections", "duty, evidence")
    assert (done.status, done.err) == (0, "")
    page = target.read_text("utf-8")
    assert [name for name in document.CHOICE if f'<section id="{name}">' in page] == ["evidence", "duty"]
    done = ran(capsys, "review", log, "--report", tmp_path / "none.html", "--sections", "dutty")
    assert (done.status, done.out) == (1, "")
    assert "wanted a section of the report, got 'dutty'; did you mean 'duty'?" in done.err
    assert not (tmp_path / "none.html").exists()


def test_the_help_names_every_section_that_can_be_chosen() -> None:
    assert all(name in get_args(options.ReportSections)[1].help for name in document.CHOICE)
