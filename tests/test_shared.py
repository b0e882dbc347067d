"""Guards work that processes of a run share: all is there, nothing is done twice, a death costs nothing but time."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from functools import partial
from pathlib import Path

import pytest

from tests.shared import shared

NAMES = [f"piece {n}" for n in range(6)]
OTHER = """
import sys
from pathlib import Path
from tests.test_shared import all_of, wait_for
print(all_of(Path(sys.argv[1]), slow=True))
"""


def piece(folder: Path, name: str, slow: bool) -> str:
    """Leaves a line for each time it is done."""
    with (folder / "done").open("a") as file:
        file.write(f"{name}\n")
    if slow:
        wait_for(folder / "go on")
    return f"{name} done"


def wait_for(path: Path, text: str = "") -> None:
    """Until there is a file with this in it: a file is there before what is written into it."""
    until = time.monotonic() + 60
    while not (path.exists() and text in path.read_text()):
        assert time.monotonic() < until
        time.sleep(0.01)


def all_of(folder: Path, *, slow: bool) -> list[str]:
    return shared(folder, {name: partial(piece, folder, name, slow) for name in NAMES})


def test_two_processes_do_each_piece_once_and_both_get_all(tmp_path: Path) -> None:
    wanted = [f"{name} done" for name in NAMES]
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    command = [sys.executable, "-c", OTHER, str(tmp_path)]
    with subprocess.Popen(command, env=environment, stdout=subprocess.PIPE, text=True) as other:
        wait_for(
            tmp_path / "done", f"{NAMES[0]}\n"
        )  # it is at the first piece, and stays there until the others are done
        assert shared(tmp_path, {name: partial(piece, tmp_path, name, False) for name in NAMES[1:]}) == wanted[1:]
        assert (tmp_path / "done").read_text().split("\n")[:-1] == NAMES
        (tmp_path / "go on").touch()
        assert all_of(tmp_path, slow=False) == wanted
        told, _ = other.communicate()
    assert told == f"{wanted}\n"
    assert sorted((tmp_path / "done").read_text().split("\n")[:-1]) == NAMES


def test_a_piece_that_fails_is_done_by_the_next(tmp_path: Path) -> None:
    def dies() -> str:
        raise KeyError("dead")

    with pytest.raises(KeyError, match="dead"):
        shared(tmp_path, {"one": dies})
    assert shared(tmp_path, {"one": lambda: "alive"}) == ["alive"]
    assert shared(tmp_path, {"one": dies}) == ["alive"]
