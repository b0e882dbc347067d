"""The same log in any number of pieces gives the same review, byte for byte but for `source`."""

from __future__ import annotations

import itertools
import json
import os
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import eventlens
from eventlens import result, spill, wiring
from eventlens.duty import windings
from eventlens.machine import Machine
from eventlens.motion import states
from eventlens.reading.formats import delimited
from eventlens.simulation import Faults, Scenario, simulate
from eventlens.threads import in_threads
from tests.logs import at

HEADER = "time,signal,value"
MACHINE = Machine.model_validate({"machine": {"id": "DOCK-5", "group": "M3"}})


@pytest.fixture(scope="module")
def lines() -> list[str]:
    """A simulated morning with faults, as lines of a delimited log whose names map themselves; seeded."""
    faults = Faults(loose_relay={"hoist.raise": 0.05}, timer_missing=0.1, confirm_missing=0.02, holes_per_day=10.0)
    scenario = Scenario(faults=faults, habits={"jog": 0.5, "snatch": 0.3, "too_heavy": 0.05})
    events = simulate(scenario, seed=5, step_s=0.01).events.head(4000)
    rows = events.select("time", "signal", "value").rows()
    beats = [f"{at(0).replace(hour=4).isoformat()},heartbeat,1"]
    return [*beats, *(f"{time.isoformat()},{signal},{value:g}" for time, signal, value in rows)]


def reviewed(folder: Path, pieces: list[list[str]], *, repeat_header: bool, backwards: bool = False) -> str:
    """The review's JSON without `source`, of the pieces as files (given in any order)."""
    paths = []
    for number, piece in enumerate(pieces):
        head = [HEADER] if repeat_header or number == 0 else []
        path = folder / f"part{number}.csv"
        path.write_text("\n".join([*head, *piece]) + "\n")
        paths.append(path)
    review = eventlens.review(paths[::-1] if backwards else paths, machine=MACHINE)
    done = json.loads(review.to_json())
    del done["source"]
    return json.dumps(done)


@pytest.fixture(scope="module")
def whole(lines: list[str], tmp_path_factory: pytest.TempPathFactory) -> str:
    return reviewed(tmp_path_factory.mktemp("whole"), [lines], repeat_header=True)


def test_the_log_is_worth_cutting(whole: str) -> None:
    done = json.loads(whole)
    found = {finding["pattern"] for finding in done["findings"]}
    assert {"jogging", "drop_out"} <= found
    assert len(found) >= 4
    assert done["motions"]["hoist"]["starts"] > 100


@settings(max_examples=15, deadline=None)
@given(cuts=st.sets(st.integers(1, 4000), max_size=4), repeat_header=st.booleans(), backwards=st.booleans())
def test_any_cut_gives_the_same_review(
    lines: list[str], whole: str, cuts: set[int], repeat_header: bool, backwards: bool
) -> None:
    borders = [0, *sorted(cuts), len(lines)]
    pieces = [lines[a:b] for a, b in itertools.pairwise(borders) if b > a]
    with TemporaryDirectory() as folder:
        cut = reviewed(Path(folder), pieces, repeat_header=repeat_header, backwards=backwards and repeat_header)
    assert cut == whole


SIDE_BY_SIDE = "from eventlens import threads; threads.FEW = 0; from eventlens.cli import main; main()"
"""The program, with work side by side however short the log is."""


def test_any_number_of_threads_gives_the_same_bytes(lines: list[str], tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text("\n".join([HEADER, *lines]))
    told = []
    for number in ("1", "4"):  # read when the libraries are loaded
        command = [sys.executable, "-c", SIDE_BY_SIDE, "review", path, "--json", "-"]
        environment = {**os.environ, "POLARS_MAX_THREADS": number}
        told.append(subprocess.run(command, env=environment, capture_output=True, check=True).stdout)
    assert json.loads(told[0])["findings"]
    assert told[0] == told[1]


@settings(max_examples=10, deadline=None)
@given(piece=st.integers(50, 200_000), records=st.integers(1, 4000), files=st.integers(1, 3))
def test_a_long_log_is_reviewed_as_a_short_one(
    lines: list[str], whole: str, piece: int, records: int, files: int
) -> None:
    """However small the pieces of text and of states that are worked on at once, and with every table in a file."""
    with TemporaryDirectory() as folder, pytest.MonkeyPatch.context() as patch:
        patch.setattr(delimited, "LONG", 0)
        patch.setattr(delimited, "PIECE", piece)
        patch.setattr(states, "AT_ONCE", records)
        patch.setattr(windings, "AT_ONCE", records)
        patch.setattr(spill, "LONG", 0)
        patch.setattr(spill, "MANY", 0)
        opened: list[Path] = []
        patch.setattr(spill, "mapped", lambda path, real=spill.mapped: opened.append(path) or real(path))
        parts = [lines[at * len(lines) // files : (at + 1) * len(lines) // files] for at in range(files)]
        assert reviewed(Path(folder), parts, repeat_header=False) == whole
    assert len(opened) > 10  # events, states, runs, what patterns share


def test_of_a_long_log_what_takes_most_memory_goes_in_turn(
    lines: list[str], whole: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    looked, completed = [], []
    monkeypatch.setattr(
        wiring, "in_threads", lambda do, items, rows: looked.append(len(items)) or in_threads(do, items, rows)
    )
    monkeypatch.setattr(
        result, "in_threads", lambda do, items, rows: completed.append(rows) or in_threads(do, items, rows)
    )
    for many in (len(lines) + 1, 0):
        monkeypatch.setattr(spill, "MANY", many)
        assert reviewed(tmp_path, [lines], repeat_header=True) == whole
    assert looked[0] - looked[1] == 3  # windings, lifts, counts are not beside patterns
    assert completed[0] > completed[1] == 0  # nor causes beside life and kinds of work


def test_reviewing_twice_gives_the_same_bytes(lines: list[str], tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text("\n".join([HEADER, *lines]))
    assert eventlens.review(path, machine=MACHINE).to_json() == eventlens.review(path, machine=MACHINE).to_json()
