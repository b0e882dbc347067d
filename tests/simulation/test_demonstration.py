"""Guards the demonstration and the sample logs: complete, the same bytes every time, each story in its truth."""

from __future__ import annotations

import json
from datetime import timedelta
from itertools import pairwise
from pathlib import Path

import polars as pl
import pytest

from eventlens.machine import Machine, load_machine
from eventlens.simulation import demonstration
from eventlens.simulation.demonstration import SAMPLES, set_back, week_of, write, write_samples
from eventlens.simulation.yard import STORIES

SAMPLE_LOGS = Path(__file__).parents[2] / "sample_logs"


def _count(number: int, week: int, pattern: str) -> int:
    return week_of(number, week).truth.filter(pl.col("pattern") == pattern).height


def test_one_week_writes_a_dump_profile_plate_and_truth_for_each_machine(tmp_path: Path) -> None:
    told: list[str] = []
    written = write(tmp_path, weeks=1, progress=told.append)
    names = {path.relative_to(tmp_path).as_posix() for path in written}
    files = ("2026-W10.csv", "profile.toml", "machine.toml", "truth.json")
    assert names == {f"{story.machine.id}/{file}" for story in STORIES for file in files} | {"README.txt"}
    assert all(path.stat().st_size > 0 for path in written)
    assert told == [f"{story.machine.id} 2026-W10" for story in STORIES]
    for story in STORIES:
        plate = load_machine(tmp_path / story.machine.id / "machine.toml", [])
        assert isinstance(plate, Machine)
        assert (plate.id, plate.machine.rated_load_kg) == (story.machine.id, story.machine.rated_kg)
    assert "invented" in (tmp_path / "README.txt").read_text("utf-8")


def test_sample_logs_are_small_and_come_from_the_documented_call(tmp_path: Path) -> None:
    written = write_samples(tmp_path)
    assert {path.relative_to(tmp_path) for path in written} == {
        path.relative_to(SAMPLE_LOGS) for path in SAMPLE_LOGS.rglob("*") if path.is_file()
    }
    for path in written:
        assert path.read_bytes() == (SAMPLE_LOGS / path.relative_to(tmp_path)).read_bytes(), path.name
    assert sum(path.stat().st_size for path in written) < 3_000_000


def test_sample_logs_show_one_of_each_layout() -> None:
    chosen = [next(story for story in STORIES if story.machine.id == name) for name, _ in SAMPLES]
    assert {story.dialect for story in chosen} == {"changes", "samples", "words"}


def test_truth_file_lists_pattern_motion_start_end() -> None:
    truth = json.loads((SAMPLE_LOGS / "SLAB-1" / "truth.json").read_text("utf-8"))
    assert {tuple(entry) for entry in truth} == {("pattern", "motion", "start", "end")}
    assert {entry["pattern"] for entry in truth} >= {"drop_out", "no_start"}


@pytest.mark.parametrize(
    ("machine", "pattern", "quiet", "loud"),
    [
        ("SLAB-1", "drop_out", 9, 8),  # the relay is exchanged before week 9
        ("SAW-3", "speed_change_missing", 6, 7),  # the timer is bridged in week 7
        ("SAW-3", "brake_not_confirmed", 8, 7),  # the lining is renewed before week 8
        ("POLISH-4", "starts_per_hour_high", 3, 9),  # worked above its group from week 4 on
        ("DOCK-5", "overload_snatch", 4, 5),  # another crew from week 5 on
    ],
)
def test_each_story_is_in_the_truth(machine: str, pattern: str, quiet: int, loud: int) -> None:
    number = next(at for at, story in enumerate(STORIES) if story.machine.id == machine)
    assert _count(number, quiet, pattern) == 0
    assert _count(number, loud, pattern) >= 3


def test_the_polishing_hoist_works_until_its_motor_trips() -> None:
    number = next(at for at, story in enumerate(STORIES) if story.machine.id == "POLISH-4")
    assert any(run[3] == "motor_hot" for run in week_of(number, 10).runs["hoist"])


def test_the_rough_crew_works_the_late_shift_only() -> None:
    number = next(at for at, story in enumerate(STORIES) if story.machine.id == "DOCK-5")
    snatches = week_of(number, 7).truth.filter(pl.col("pattern") == "overload_snatch")
    hours = snatches["start"].dt.convert_time_zone("Europe/Lisbon").dt.hour()
    assert (hours >= 14).all()


def test_clock_set_back_moves_what_comes_after_it() -> None:
    simulated = week_of(5, 6)
    at = simulated.start + timedelta(days=2, hours=9)
    recording, truth = set_back(simulated.recording, simulated.truth, at, 600.0)
    before, after = simulated.recording.records["time"], recording.records["time"]
    steps = after.diff().drop_nulls()
    assert (steps < timedelta(0)).sum() == 1
    assert ((before - after) == timedelta(seconds=600)).sum() == (before > at).sum() > 0
    step = truth.filter(pl.col("pattern") == "clock_step")
    assert step["start"].to_list() == [before.filter(before <= at).max()]


def test_wrapped_dump_is_out_of_order_once(tmp_path: Path) -> None:
    number = next(at for at, story in enumerate(STORIES) if story.wrapped_week)
    demonstration.write_machine(tmp_path, number, range(10, 11))
    stamps = [line[:23] for line in next(tmp_path.rglob("*.csv")).read_text("utf-8").splitlines()[1:]]
    assert sum(later < earlier for earlier, later in pairwise(stamps)) == 1


def test_the_command_wants_one_directory(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert demonstration.main([]) == 2
    assert demonstration.main(["--samples", str(tmp_path)]) == 0
    assert "SAW-3 2026-W16" in capsys.readouterr().err
