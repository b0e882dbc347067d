"""Guards the way from a file that is brought in to its review: stated, remembered, found again after a restart."""

from __future__ import annotations

import io
import time
from pathlib import Path

import pytest

from dashboards.data.dump import NOTHING, Dump, EventlensError, Plate, options
from dashboards.intake import Intake
from dashboards.jobs import Job
from dashboards.shelf import MACHINE, PROFILE, Shelf, ShelfError
from eventlens import signals
from eventlens.machine import load_machine
from eventlens.simulation import Scenario, signals_of, simulate
from eventlens.simulation.dialects import DIALECTS

HE = "visitor-one"
SHE = "visitor-two"


@pytest.fixture(scope="module")
def day(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One day of a machine in order, a row for each change; seeded."""
    simulated = simulate(Scenario(signals=signals_of(("hoist",), load=False)), seed=1, days=1)
    return DIALECTS["changes"].write(simulated.recording, tmp_path_factory.mktemp("day") / "day.csv", "UTC")


def bring(intake: Intake, path: Path, visitor: str = HE) -> str:
    content = path.read_bytes()
    return intake.take(visitor, None, path.name, len(content), io.BytesIO(content), 0)


def ended(job: Job | None) -> Job:
    assert job is not None
    until = time.monotonic() + 60
    while not job.done:
        assert time.monotonic() < until
        time.sleep(0.01)
    return job


def looked(intake: Intake, dump: str) -> Dump:
    job = ended(intake.look(HE, dump))
    assert job.fault is None
    return job.result  # type: ignore[no-any-return]


def test_a_dump_is_looked_at_stated_and_reviewed(day: Path, tmp_path: Path) -> None:
    intake = Intake(Shelf(tmp_path))
    dump = bring(intake, day)
    one = looked(intake, dump)
    intake.state(HE, dump, PROFILE, one.profile_text(one.rows()))
    intake.state(HE, dump, MACHINE, Plate(id="SAW-3", group="M5").to_toml())
    job = ended(intake.begin(HE, dump))
    assert job.fault is None
    assert job.result.facts.machine == "SAW-3"
    assert intake.begin(HE, dump) is job  # made once


def test_a_restart_finds_everything_again(day: Path, tmp_path: Path) -> None:
    first = Intake(Shelf(tmp_path))
    dump = bring(first, day)
    first.state(HE, dump, PROFILE, looked(first, dump).profile_text([]))
    again = Intake(Shelf(tmp_path))
    assert again.reviewing(HE, dump) is None
    assert ended(again.begin(HE, dump)).fault is None


def test_other_statements_make_another_review(day: Path, tmp_path: Path) -> None:
    intake = Intake(Shelf(tmp_path))
    dump = bring(intake, day)
    looked(intake, dump)
    before = ended(intake.begin(HE, dump))
    intake.state(HE, dump, MACHINE, Plate(id="SAW-4").to_toml())
    assert intake.reviewing(HE, dump) is None
    after = ended(intake.begin(HE, dump))
    assert after is not before
    assert after.result.facts.machine == "SAW-4"


def test_the_next_dump_of_the_kind_is_read_as_the_one_before(day: Path, tmp_path: Path) -> None:
    intake = Intake(Shelf(tmp_path))
    first = bring(intake, day)
    one = looked(intake, first)
    assert intake.remembered(HE, one) == (None, None)
    intake.state(HE, first, PROFILE, one.profile_text(one.rows()))
    ended(intake.begin(HE, first))
    profile, machine = intake.remembered(HE, one)
    assert profile is not None
    assert profile.read_text() == one.profile_text(one.rows())
    assert machine is None
    assert intake.remembered(SHE, one) == (None, None)


def test_a_dump_of_another_kind_is_not(day: Path, tmp_path: Path) -> None:
    intake = Intake(Shelf(tmp_path / "shelf"))
    first = bring(intake, day)
    one = looked(intake, first)
    intake.state(HE, first, PROFILE, one.profile_text(one.rows()))
    ended(intake.begin(HE, first))
    other = tmp_path / "other.csv"
    rows = "\n".join(f"2026-04-13 08:00:{s:02};X{s % 3};{s % 2}" for s in range(30))
    other.write_text(f"Time;Name;Value\n{rows}\n", "utf-8")
    assert intake.remembered(HE, looked(intake, bring(intake, other))) == (None, None)


def test_what_is_no_profile_leaves_the_one_before(day: Path, tmp_path: Path) -> None:
    intake = Intake(Shelf(tmp_path))
    dump = bring(intake, day)
    with pytest.raises(EventlensError, match="wanted"):
        intake.state(HE, dump, PROFILE, "[sginals]\n")
    assert intake.stated(HE, dump) == (None, None)
    good = intake.state(HE, dump, PROFILE, '[signals]\n"K11" = "hoist.raise.contactor"\n').read_text()
    with pytest.raises(EventlensError, match="wanted"):
        intake.state(HE, dump, PROFILE, '[signals]\n"K11" = "hoist.rise.contactor"\n')
    profile, _ = intake.stated(HE, dump)
    assert profile is not None
    assert profile.read_text() == good


def test_what_is_no_log_is_said_in_one_sentence(tmp_path: Path) -> None:
    path = tmp_path / "photo.csv"
    path.write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(range(256)))
    intake = Intake(Shelf(tmp_path / "shelf"))
    job = ended(intake.look(HE, bring(intake, path)))
    assert isinstance(job.fault, EventlensError)


def test_nobody_looks_at_what_another_brought_in(day: Path, tmp_path: Path) -> None:
    intake = Intake(Shelf(tmp_path))
    dump = bring(intake, day)
    for call in (intake.look, intake.begin, intake.stated, intake.reviewing, intake.stop):
        with pytest.raises(ShelfError, match="not there"):
            call(SHE, dump)


def test_every_signal_can_be_stated() -> None:
    assert set(options()) == {NOTHING, *signals.ALL}


def test_a_row_turned_round_turns_its_lane(day: Path) -> None:
    one = Dump([day])
    rows = one.rows()
    (row,) = [row for row in rows if row["name"] == "B3"]
    plain = one.around("B3", 1, rows, 500)
    row["invert"] = not row["invert"]
    turned = one.around("B3", 1, rows, 500)
    assert plain is not None
    assert turned is not None

    def states(shown: object) -> list[bool]:
        view = shown.view  # type: ignore[attr-defined]
        place = [lane.signal for lane in view.lanes].index("B3")
        return view.intervals.filter(view.intervals["lane"] == place)["on"].to_list()  # type: ignore[no-any-return]

    assert states(plain)
    assert states(turned) == [not on for on in states(plain)]


def test_changes_are_walked_through_and_begin_anew_after_the_last(day: Path) -> None:
    one = Dump([day])
    rows = one.rows()
    shown = one.around("B3", 1, rows, 500)
    assert shown is not None
    for number in (shown.of + 1, 1 - shown.of):
        same = one.around("B3", number, rows, 500)
        assert same is not None
        assert (same.number, same.at) == (1, shown.at)
    last = one.around("B3", 0, rows, 500)
    assert last is not None
    assert last.number == shown.of
    assert one.around("F5", 1, rows, 500) is None  # it never changes


@pytest.mark.parametrize(
    "plate",
    [
        Plate(),
        Plate(id=' "x"\n[life]', rated_load_kg=3200.0, group="M5", trolley_group="1Am", bridge_group="H4"),
        Plate(id="SAW-3", used_before_h=120.5, load_spectrum="L2", shifts="06:00-14:00, 14:00-22:00"),
    ],
)
def test_the_form_becomes_a_machine_file(plate: Plate, tmp_path: Path) -> None:
    path = tmp_path / "machine.toml"
    path.write_text(plate.to_toml(), "utf-8")
    machine = load_machine(path, [])
    assert machine.id == (plate.id.strip() or "machine")
    assert machine.machine.rated_load_kg == plate.rated_load_kg
    assert machine.life.used_before_h == (plate.used_before_h or 0)
    assert len(machine.work.shifts) == len(plate.shifts.split())
