"""Guards what all commands share: help, usage errors, version, and manners towards pipes and terminals."""

from __future__ import annotations

import os
import subprocess
import sys
from importlib.metadata import PackageNotFoundError
from pathlib import Path

import pytest

from tests.cli.runner import COMMANDS, ROOT, command, log, ran

__all__ = ["log"]  # a fixture

Capture = pytest.CaptureFixture[str]


def test_help_names_every_command(capsys: Capture) -> None:
    done = ran(capsys, "--help")
    assert (done.status, done.err) == (0, "")
    listed = done.out.split("Commands:\n")[1].splitlines()
    assert [line.split()[0] for line in listed] == list(COMMANDS)
    assert not any(line.endswith("...") for line in listed)  # none is cut short


@pytest.mark.parametrize("name", COMMANDS)
def test_help_of_each_command_shows_an_example(name: str, capsys: Capture) -> None:
    done = ran(capsys, name, "--help")
    assert done.status == 0
    assert f"Example:\n    eventlens {name}" in done.out
    assert max(map(len, done.out.splitlines())) <= 80


@pytest.mark.parametrize(
    ("args", "hint"),
    [
        ((), "Usage: eventlens"),
        (("reviw",), "Did you mean 'review'?"),
        (("review", "a.csv", "--jsn", "x"), "--json"),
        (("review",), "Missing argument 'LOG'"),
        (("sample", "x", "--weeks", "0"), "--weeks"),
        (("dashboard", "a.csv", "--port", "70000"), "--port"),
    ],
)
def test_usage_errors(args: tuple[str, ...], hint: str, capsys: Capture) -> None:
    done = ran(capsys, *args)
    assert (done.status, done.out) == (2, "")
    assert hint in done.err


def test_version(capsys: Capture, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("importlib.metadata.version", lambda name: "1.2.3")
    assert ran(capsys, "--version") == (0, "eventlens 1.2.3\n", "")

    def nowhere(name: str) -> str:
        raise PackageNotFoundError(name)

    monkeypatch.setattr("importlib.metadata.version", nowhere)
    assert "not installed" in ran(capsys, "--version").out


def test_help_loads_nothing_heavy() -> None:
    banned = ("polars", "numpy", "scipy", "dash", "plotly", "sklearn", "pandas", "pydantic", "rich", "waitress")
    code = (
        "import sys\nfrom eventlens.cli import main\n"
        f"try:\n    main(['--help'])\nfinally:\n    print([n for n in {banned!r} if n in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stderr == "[]\n"


@pytest.mark.parametrize("args", [("review",), ("review", "--json", "-"), ("inspect",)])
def test_a_reader_that_went_away_is_no_error(args: tuple[str, ...], log: Path) -> None:
    reading, writing = os.pipe()
    os.close(reading)
    done = subprocess.run(
        command(args[0], log, *args[1:]), cwd=ROOT, stdout=writing, stderr=subprocess.PIPE, check=False
    )
    os.close(writing)
    assert (done.returncode, done.stderr) == (141, b"")  # 128 + SIGPIPE, as shells count


def test_colour_and_progress_only_on_a_terminal(log: Path) -> None:
    pty = pytest.importorskip("pty", reason="terminals to test with are a matter of Unix")
    ours, theirs = pty.openpty()
    environment = {**os.environ, "TERM": "xterm", "COLUMNS": "200"}
    environment.pop("NO_COLOR", None)
    done = subprocess.Popen(command("review", log), cwd=ROOT, env=environment, stdout=theirs, stderr=theirs)
    os.close(theirs)
    seen = b""
    while piece := _read(ours):
        seen += piece
    os.close(ours)
    assert done.wait(30) == 0
    assert b"\x1b[31m" in seen  # red: a repair
    assert b"starting ..." in seen
    report = seen.decode().rpartition("machine: no group given")[2]
    assert max(map(len, report.splitlines())) <= 110 + len("\x1b[31m\x1b[0m")  # console.WIDEST, though there is more


def _read(terminal: int) -> bytes:
    try:
        return os.read(terminal, 65536)
    except OSError:  # the other side was closed
        return b""
