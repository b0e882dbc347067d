"""Guards `eventlens dashboard`: it serves the pages it finds by entry point, and to this computer only."""

from __future__ import annotations

import signal
import socket
import subprocess
import sys
import urllib.request
from importlib.metadata import EntryPoint
from pathlib import Path
from typing import Any

import pytest

import eventlens
from eventlens.cli import dashboard, demo
from tests.cli.runner import ROOT, log, ran

__all__ = ["log"]  # a fixture

Capture = pytest.CaptureFixture[str]

SERVER = """
import sys
from types import SimpleNamespace
from eventlens.cli import dashboard, main

def page(environ, start_response):
    start_response("200 OK", [("Content-Type", "text/plain")])
    return [b"starts: %d" % starts]

def create_app(review):
    global starts
    starts = review.motions["hoist"].starts
    return SimpleNamespace(server=page)

dashboard._pages = lambda: create_app
main(["dashboard", sys.argv[1], "--port", "0", "--host", sys.argv[2]])
"""
"""Pages of one line in place of the real ones, which have tests of their own."""


@pytest.mark.parametrize("host", ["127.0.0.1", "localhost"])
def test_serves_the_review_until_interrupted(host: str, log: Path) -> None:
    command = [sys.executable, "-c", SERVER, str(log), host]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        assert process.stderr is not None
        told = process.stderr.readline()
        address = next(word for word in told.split() if word.startswith("http://127.0.0.1:"))
        with urllib.request.urlopen(address, timeout=20) as answer:
            assert answer.read() == b"starts: 3"  # by hand, see the log
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=20)
    assert (process.returncode, out, err) == (0, "", "")


@pytest.mark.parametrize("host", ["0.0.0.0", "192.168.1.20", "::", "saw-house"])
def test_refuses_an_address_that_others_can_reach(host: str, log: Path, capsys: Capture) -> None:
    done = ran(capsys, "dashboard", log, "--host", host)
    assert (done.status, done.out) == (1, "")
    assert f"got '{host}'; leave --host out: the pages have no password" in done.err


def test_a_port_that_is_taken(tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(dashboard, "_pages", lambda: print)
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        # the log does not exist: the port is looked at first
        done = ran(capsys, "dashboard", tmp_path / "gone.csv", "--port", str(port))
    assert (done.status, done.out) == (1, "")
    assert f"wanted a free port for --port on 127.0.0.1, got {port} (" in done.err


def test_pages_are_found_by_entry_point(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: dict[str, str] = {}

    def installed(**named: str) -> list[EntryPoint]:
        asked.update(named)
        return [EntryPoint("dashboard", "operator:neg", "eventlens.pages")]

    monkeypatch.setattr("importlib.metadata.entry_points", installed)
    pages: Any = dashboard._pages()
    assert pages(3) == -3
    assert asked == {"group": "eventlens.pages", "name": "dashboard"}


def test_without_pages_it_says_so(log: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("importlib.metadata.entry_points", lambda **named: [])
    done = ran(capsys, "dashboard", log)
    assert (done.status, done.out) == (1, "")
    assert "install eventlens with its pages" in done.err


def made(monkeypatch: pytest.MonkeyPatch) -> list[tuple[Any, dict[str, Any]]]:
    """What the pages are made of; nothing is served."""
    calls: list[tuple[Any, dict[str, Any]]] = []
    monkeypatch.setattr(dashboard, "_pages", lambda: lambda shown, **more: calls.append((shown, more)))
    monkeypatch.setattr(dashboard, "_serve", lambda app, listener: None)
    return calls


def test_a_folder_is_an_archive_and_its_weeks_are_brought_up_to_date(
    log: Path, tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    archive = eventlens.Archive(tmp_path / "history")
    archive.add(log, "DOCK-5")
    calls = made(monkeypatch)
    assert ran(capsys, "dashboard", tmp_path / "history", "--port", "0").status == 0
    [(shown, more)] = calls
    assert isinstance(shown, eventlens.Archive)
    assert more == {"demonstration": False}
    assert archive.stored_weeks()["machine"].to_list() == ["DOCK-5"]


def test_a_folder_without_an_archive_says_so(tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch) -> None:
    made(monkeypatch)
    done = ran(capsys, "dashboard", tmp_path, "--port", "0")
    assert (done.status, done.out) == (1, "")
    assert "wanted an archive, got nothing there" in done.err


@pytest.mark.parametrize("option", ["--profile", "--machine"])
def test_an_archive_holds_its_own_profile_and_machine_file(
    option: str, tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    made(monkeypatch)
    done = ran(capsys, "dashboard", tmp_path, "--port", "0", option, "saw-3.toml")
    assert done.status == 1
    assert "the archive holds its own" in done.err


def test_addresses_of_object_stores_are_archives_and_files_are_not(log: Path) -> None:
    assert dashboard._is_archive([Path("s3://bucket/history")])
    assert not dashboard._is_archive([log])
    assert not dashboard._is_archive([Path("C:/logs/monday.csv")])
    assert not dashboard._is_archive([log.parent, log.parent])


@pytest.mark.parametrize(("arguments", "got"), [((), "got nothing"), (("x.csv", "--demo"), "got both")])
def test_there_is_one_thing_to_show(arguments: tuple[str, ...], got: str, capsys: Capture) -> None:
    done = ran(capsys, "dashboard", *arguments)
    assert (done.status, done.out) == (1, "")
    assert got in done.err


def test_the_demonstration_is_an_archive_in_a_folder_that_is_gone_afterwards(
    capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    made_of: list[tuple[Path, list[str], set[str], int]] = []

    def create_app(shown: eventlens.Archive, *, demonstration: bool) -> None:
        assert demonstration
        kinds, weeks = {*shown.entries()["kind"]}, shown.stored_weeks()
        made_of.append((Path(shown.lake.root), shown.machines(), kinds, weeks.height))

    prepare = demo.prepare
    monkeypatch.setattr(demo, "prepare", lambda folder, tell: prepare(folder, tell, weeks=1))
    monkeypatch.setattr(dashboard, "_pages", lambda: create_app)
    monkeypatch.setattr(dashboard, "_serve", lambda app, listener: None)
    assert ran(capsys, "dashboard", "--demo", "--port", "0").status == 0
    [(root, machines, kinds, weeks)] = made_of
    assert (len(machines), weeks) == (6, 6)
    assert kinds == {"machine", "exchanged", "repair"}
    assert {*demo.WRITTEN_DOWN} < {*machines}
    assert not root.exists()


def test_a_demonstration_that_is_stopped_from_outside_leaves_no_folder() -> None:
    before, folders = signal.getsignal(signal.SIGTERM), []

    def stopped() -> None:
        with dashboard._folder(needed=True) as folder:
            folders.append(folder)
            signal.raise_signal(signal.SIGTERM)

    with pytest.raises(SystemExit):
        stopped()
    assert [folder.exists() for folder in folders if folder] == [False]
    assert signal.getsignal(signal.SIGTERM) is before
