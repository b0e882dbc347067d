"""Guards `eventlens dashboard`: it serves the pages it finds by entry point, and to this computer only."""

from __future__ import annotations

import shutil
import signal
import socket
import subprocess
import sys
import urllib.request
from importlib.metadata import EntryPoint
from pathlib import Path
from typing import Any

import pytest

import dashboards
import eventlens
from eventlens.cli import dashboard, demo, serving
from eventlens.cli.password import hash_of
from eventlens.live import word
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

def create_app(review, **more):
    global starts
    starts = review.motions["hoist"].starts
    return SimpleNamespace(server=page)

dashboard._pages = lambda: create_app
main(["dashboard", sys.argv[1], "--port", "0", "--host", sys.argv[2], "--keep", sys.argv[3]])
"""
"""Pages of one line in place of the real ones, which have tests of their own."""


@pytest.mark.parametrize("host", ["127.0.0.1", "localhost"])
def test_serves_the_review_until_interrupted(host: str, log: Path, tmp_path: Path) -> None:
    command = [sys.executable, "-c", SERVER, str(log), host, str(tmp_path / "kept")]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        try:
            assert process.stderr is not None
            told = process.stderr.readline()
            address = next(word for word in told.split() if word.startswith("http://127.0.0.1:"))
            with urllib.request.urlopen(address, timeout=20) as answer:
                assert answer.read() == b"starts: 3"  # by hand, see the log
            process.send_signal(signal.SIGINT)
            out, err = process.communicate(timeout=20)
        finally:
            process.kill()  # whatever failed: nobody waits for it
    assert (process.returncode, out, err) == (0, "", "")


@pytest.mark.parametrize("host", ["0.0.0.0", "192.168.1.20", "::", "saw-house"])
def test_an_address_that_others_can_reach_needs_a_password(host: str, log: Path, capsys: Capture) -> None:
    done = ran(capsys, "dashboard", log, "--host", host)
    assert (done.status, done.out) == (1, "")
    assert f"got --host '{host}' alone; make one with 'eventlens password FILE'" in done.err


def test_with_a_password_others_are_asked_for_it(
    log: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    kept = tmp_path / "pages.hash"
    kept.write_text(hash_of("slow brake, warm coil"))
    made: list[Any] = []

    def serve(app: Any, listener: socket.socket) -> None:
        made.append((app, listener.getsockname()[0]))

    monkeypatch.setattr(serving, "serve", serve)
    monkeypatch.setattr(dashboard, "_pages", lambda: dashboards.create_app)
    done = ran(
        capsys, "dashboard", "--host", "0.0.0.0", "--port", "0", "--password", kept, "--keep", tmp_path / "brought"
    )
    assert done.status == 0, done.err
    ((app, host),) = made
    assert host == "0.0.0.0"
    asked = app.server.test_client().get("/", headers={"Host": "saw-house:8050"})
    assert (asked.status_code, asked.headers["Location"]) == (303, "/enter?next=/")


def test_a_folder_that_cannot_be_written_is_said(log: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(dashboard, "_pages", lambda: print)
    done = ran(capsys, "dashboard", log, "--port", "0", "--keep", log)
    assert (done.status, done.out) == (1, "")
    assert "name another one with --keep FOLDER" in done.err


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
    monkeypatch.setattr(serving, "serve", lambda app, listener: None)
    monkeypatch.setattr(serving, "folder_for_dumps", lambda given: given)  # not with the tester's own data
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
    assert more == {"folder": None, "password_hash": None, "visitors_add": False}
    assert archive.stored_weeks()["machine"].to_list() == ["DOCK-5"]


def test_what_is_followed_has_its_page_before_the_archive_is_there(
    log: Path, tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    calls = made(monkeypatch)
    state, archive = tmp_path / "state", tmp_path / "history"
    given = ("--machine", "SAW-3", "--state", state, "--archive", archive, "--until-idle", "0", "--quiet")
    assert ran(capsys, "follow", log, *given).status == 0
    for table in ("record", "dumps", "entries"):
        shutil.rmtree(archive / table, ignore_errors=True)  # as while the first piece is not finished
    assert ran(capsys, "dashboard", archive, "--port", "0").status == 0
    assert ran(capsys, "dashboard", state, "--port", "0").status == 0
    (of_archive, _), (of_state, _) = calls
    assert isinstance(of_archive, eventlens.Archive)
    assert of_state == word.StateFolder(state)
    assert "archive alone" in ran(capsys, "dashboard", state, "--machine", "saw-3.toml").err


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


def test_there_is_one_thing_to_show(capsys: Capture) -> None:
    done = ran(capsys, "dashboard", "x.csv", "--demo")
    assert (done.status, done.out) == (1, "")
    assert "got both" in done.err


def test_without_a_log_one_is_brought_in(tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch) -> None:
    calls = made(monkeypatch)
    assert ran(capsys, "dashboard", "--port", "0", "--keep", tmp_path / "brought").status == 0
    assert calls == [(None, {"folder": tmp_path / "brought", "password_hash": None, "visitors_add": False})]


@pytest.mark.parametrize("option", ["--profile", "--machine"])
def test_without_a_log_there_is_nothing_to_state(option: str, capsys: Capture, monkeypatch: pytest.MonkeyPatch) -> None:
    made(monkeypatch)
    done = ran(capsys, "dashboard", "--port", "0", option, "saw-3.toml")
    assert done.status == 1
    assert "bring a dump in on the page" in done.err


def test_the_demonstration_is_an_archive_in_a_folder_that_is_gone_afterwards(
    tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    made_of: list[tuple[Path, list[str], set[str], int]] = []

    def create_app(shown: eventlens.Archive, *, demonstration: bool, building: demo.Demonstration, **more: Any) -> None:
        assert demonstration
        assert more["folder"].exists()
        assert (more["password_hash"], more["visitors_add"]) == (None, False)
        assert building.stage() is not None  # its pages are served before it is there
        building.wait()
        assert building.stage() is None
        kinds, weeks = {*shown.entries()["kind"]}, shown.stored_weeks()
        made_of.append((Path(shown.address), shown.machines(), kinds, weeks.height))

    whole = demo.Demonstration
    monkeypatch.setattr(demo, "Demonstration", lambda folder, cache: whole(folder, weeks=1, cache=cache))
    monkeypatch.setattr(demo, "cache_folder", lambda: tmp_path / "cache")
    monkeypatch.setattr(dashboard, "_pages", lambda: create_app)
    monkeypatch.setattr(serving, "serve", lambda app, listener: None)
    done = ran(capsys, "dashboard", "--demo", "--port", "0")
    assert (done.status, "is built while its pages are served" in done.err) == (0, True)
    [(root, machines, kinds, weeks)] = made_of
    assert (len(machines), weeks) == (6, 6)
    assert kinds == {"machine", "exchanged", "repair"}
    assert {*demo.WRITTEN_DOWN} < {*machines}
    assert not root.exists()

    # what was built is taken the next time, as long as it is what was put there
    again = whole(tmp_path / "again", weeks=1, cache=tmp_path / "cache")
    again.start()
    assert again.stage() is None
    assert again.archive.machines() == machines
    assert again.archive.verify().faults == ()
    [kept] = (tmp_path / "cache").iterdir()
    damaged = next((kept / "archive" / "reviews").rglob("*.parquet"))
    damaged.write_bytes(damaged.read_bytes()[:-1] + b"?")
    assert not demo.taken(kept, tmp_path / "third")
    assert not kept.exists()
    assert not (tmp_path / "third").exists()


def test_the_latest_weeks_of_every_machine_are_built_first(tmp_path: Path) -> None:
    tasks = [(number, list(weeks)) for _, number, weeks in demo.parts(tmp_path, 5)]
    assert tasks[:6] == [(number, [4, 5]) for number in range(6)]
    assert tasks[6:12] == [(number, [2, 3]) for number in range(6)]
    assert tasks[12:] == [(number, [1]) for number in range(6)]


def test_another_program_has_another_demonstration(tmp_path: Path) -> None:
    assert demo.key(12) == demo.key(12) != demo.key(11)
    archive, old = tmp_path / "archive", tmp_path / "cache" / ("0" * 32)
    archive.mkdir()
    (archive / "a").write_text("1")
    old.mkdir(parents=True)
    demo.store(archive, tmp_path / "cache", "f" * 32)
    assert [path.name for path in (tmp_path / "cache").iterdir()] == ["f" * 32]  # what rests on another one is gone
    assert demo.taken(tmp_path / "cache" / ("f" * 32), tmp_path / "copy")
    assert (tmp_path / "copy" / "a").read_text() == "1"


def test_a_demonstration_that_cannot_be_built_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(demo, "get_context", lambda how: (_ for _ in ()).throw(OSError("no processes")))
    made = demo.Demonstration(tmp_path, weeks=1)
    made.start()
    made.wait()
    assert "could not be built (OSError: no processes)" in str(made.stage())


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
