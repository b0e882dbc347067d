"""Guards `eventlens compare`: its text, its JSON, one log or two, and errors that say what to do."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import eventlens
from tests.cli.runner import ran, write_log
from tests.comparison.stories import spaced, work
from tests.logs import HOIST, merged, off

Capture = pytest.CaptureFixture[str]

BEFORE = work(120, spaced(12, 120))
AFTER = work(120, begin=20_000)
AT = "2026-03-02T11:00"  # 18 000 s after six o'clock


@pytest.fixture(scope="module")
def april(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Twelve drop-outs in 120 raises, a repair, and none in 120 raises."""
    return write_log(tmp_path_factory.mktemp("logs") / "april.csv", merged(off(*HOIST), BEFORE, AFTER))


def test_it_says_what_is_gone_and_how_sure_that_is(april: Path, capsys: Capture) -> None:
    done = ran(capsys, "compare", april, "--at", AT)
    assert (done.status, done.err) == (0, "")
    assert "1 pattern: gone 1." in done.out
    words = " ".join(done.out.split())
    assert "hoist: drop-out: 12 in 120 starts before, none in 120 starts after" in words
    assert "2026-03-02 06:00:00 to 2026-03-02 11:00:00" in words
    assert "at most 5 % on average are chance" in words
    assert "Silence is no proof where the use differs" in words
    assert "After work on a brake or an overload device come the tests" in words
    assert "Never bridge or bypass" in words
    assert max(map(len, done.out.splitlines())) <= 80


def test_it_says_how_long_to_watch(april: Path, capsys: Capture) -> None:
    done = ran(capsys, "compare", april, "--at", AT, "--until", "2026-03-02T15:00")
    words = " ".join(done.out.split())
    assert "No change shown" in words
    assert "the work on the machine, 2026-03-02 11:00:00 to 2026-03-02 15:00:00" in words
    # 2.9957 / (6.2006 / 120) = 57.98 starts in all (Garwood's lower limit for 12: common tables); of the raises, one in
    # 120 s from 20 010 s on, 16 begin at 32 400 s or later; that they lie on one day makes 42 more three days
    assert "watch 42 more starts, about 3 working days at the present use, before silence means anything" in words


def test_two_logs_and_json(april: Path, tmp_path: Path, capsys: Capture) -> None:
    one = write_log(tmp_path / "before.csv", merged(off(*HOIST), BEFORE))
    two = write_log(tmp_path / "after.csv", merged([(19_000, name, 0.0) for name in HOIST], AFTER))
    done = ran(capsys, "compare", one, "--after", two, "--json", "-", "--moved", "hoist.raise:hoist.lower")
    found = json.loads(done.out)
    assert (done.status, found["contract"], found["at"]) == (0, 1, None)
    assert [(row["pattern"], row["verdict"]) for row in found["patterns"]] == [("drop_out", "gone")]
    assert [file["name"] for file in found["after"]["files"]] == ["after.csv"]
    assert found["exchanges"] == ["hoist.raise:hoist.lower"]
    target = tmp_path / "comparison.json"
    assert ran(capsys, "compare", april, "--at", AT, "--json", target, "--quiet") == (0, "", "")
    assert json.loads(target.read_bytes())["at"] == "2026-03-02T11:00:00.000+00:00"
    assert target.read_text("utf-8") == eventlens.compare(april, at=AT).to_json()


def test_exchanged_parts_are_told(april: Path, capsys: Capture) -> None:
    done = ran(capsys, "compare", april, "--at", AT, "--moved", "hoist.raise:hoist.lower")
    words = " ".join(done.out.split())
    assert "hoist.raise with hoist.lower, drop-out: cannot be told hoist.raise" in words
    assert "no use of one place before the exchange" in words


@pytest.mark.parametrize(
    ("options", "says"),
    [
        ((), "wanted the instant of the repair, or a log after it, got neither; give one of them."),
        (
            ("--at", AT, "--after", "LOG"),
            "wanted one log and an instant, or two logs, got both; leave one of them out.",
        ),
        (("--at", "soon"), "wanted an instant as 2026-04-15 10:00, got 'soon'; write year, month, day and time"),
        (("--at", "2026-05-01"), "wanted an instant within the log, got 2026-05-01 00:00:00; choose one within"),
        (("--at", AT, "--until", "2026-03-02T10:00"), "wanted an end of the work not before its beginning"),
        (("--at", AT, "--moved", "hoist.rise:trolley.left"), "got 'hoist.rise'; did you mean 'hoist.raise'?"),
        (
            ("--at", AT, "--confidence", "95"),
            "wanted a confidence between 0 and 1, got 95.0; give a share such as 0.95.",
        ),
        (("--at", AT, "--json", "LOG"), "wanted a file of its own for --json, got one of the inputs"),
    ],
)
def test_errors_are_one_sentence(options: tuple[str, ...], says: str, april: Path, capsys: Capture) -> None:
    done = ran(capsys, "compare", april, *(str(april) if option == "LOG" else option for option in options))
    assert (done.status, done.out) == (1, "")
    assert done.err.count("\n") == 1
    assert says in done.err
