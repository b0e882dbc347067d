"""What was followed lies in an archive, each line once, whoever dies when."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

import eventlens
from eventlens.live import Batch, Keeper
from eventlens.live.keep import machine_in
from eventlens.live.spool import Spool
from eventlens.live.tail import Cut, offset_of
from tests.live.sources import HEADER, Dying, Killed
from tests.live.stories import morning


@cache
def lines() -> list[str]:
    """A log with its header; made when a test asks for it, not when tests are collected."""
    return [HEADER, *morning(400)]


@pytest.fixture
def machine(tmp_path: Path) -> Path:
    path = tmp_path / "machine.toml"
    path.write_text('[machine]\nid = "DOCK-5"\n')
    return path


@pytest.fixture
def spool(tmp_path: Path) -> Iterator[Spool]:
    found = Spool(tmp_path / "state")
    found.take(Batch("".join(lines()).encode(), {"at": 1}, "log.csv"))
    yield found
    found.close()


def cut_at(spool: Spool, line: int) -> Cut:
    path = spool.paths[0]
    return Cut(0, line, offset_of(path, line), len(HEADER), line - 2, None, None)  # type: ignore[arg-type]


def kept(tmp_path: Path) -> list[int]:
    """The lines in the archive, as those of the whole record."""
    events = eventlens.Archive(tmp_path / "history").events("DOCK-5")
    return [lines().index(line, 1) for line in _written(events)]


def _written(events: object) -> Iterator[str]:
    for time, signal, value in events.select("time", "signal", "value").iter_rows():  # type: ignore[attr-defined]
        yield f"{time.isoformat()},{signal},{value:g}\n"


def mapped() -> list[int]:
    return [at for at, line in enumerate(lines()) if at and ",heartbeat," not in line]


def test_pieces_are_added_up_to_the_cut_and_the_rest_at_the_end(spool: Spool, machine: Path, tmp_path: Path) -> None:
    keeper = Keeper(str(tmp_path / "history"), str(machine))
    assert keeper.some(spool, None, [2]) == 0
    assert keeper.some(spool, cut_at(spool, 150), [2]) == 1
    assert keeper.some(spool, cut_at(spool, 150), [2]) == 0
    assert kept(tmp_path) == [at for at in mapped() if at < 149]
    assert keeper.some(spool, cut_at(spool, 250), [2]) == 1
    assert keeper.all(spool, [2]) == 1
    assert kept(tmp_path) == mapped()


@pytest.mark.parametrize("death", [1, 2, 3, 4])
def test_a_kill_between_the_steps_adds_nothing_twice(
    death: int, spool: Spool, machine: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    keeper = Keeper(str(tmp_path / "history"), str(machine))
    monkeypatch.setattr(spool, "_step", Dying(death))
    with pytest.raises(Killed):
        keeper.some(spool, cut_at(spool, 150), [2])
    spool.close()
    again = Spool(tmp_path / "state")
    keeper.some(again, cut_at(again, 250), [2])  # the cut has moved on meanwhile: the piece has not
    keeper.some(again, cut_at(again, 250), [2])
    again.close()
    assert kept(tmp_path) == [at for at in mapped() if at < 249]


def test_a_file_of_which_only_the_head_came_is_no_dump(spool: Spool, machine: Path, tmp_path: Path) -> None:
    spool.take(Batch(HEADER.encode(), {"at": 2}, "log.csv"))
    assert Keeper(str(tmp_path / "history"), str(machine)).all(spool, [2, 2]) == 1


def test_the_machine_is_a_file_or_a_name_of_the_archive(spool: Spool, machine: Path, tmp_path: Path) -> None:
    assert machine_in(None, None).id == eventlens.Machine().id
    assert machine_in(str(machine), None).id == "DOCK-5"
    history = str(tmp_path / "history")
    assert machine_in("DOCK-5", history).id == "DOCK-5"  # there is no archive yet
    machine.write_text('[machine]\nid = "DOCK-5"\ngroup = "M5"\n')
    Keeper(history, str(machine)).all(spool, [2])
    assert machine_in("DOCK-5", history).machine.group == "M5"
