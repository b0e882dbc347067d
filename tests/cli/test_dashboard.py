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

from eventlens.cli import dashboard
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
