"""Guards the way of a dump that was brought in into the archive that is shown: what is said, and who may."""

from __future__ import annotations

import shutil
import time
from pathlib import Path

import pytest

import dashboards
from dashboards.data import Source, source_of
from dashboards.data.adding import adding_to
from dashboards.intake import Intake
from dashboards.pages.bring import into
from dashboards.pages.bring.callbacks import Desk
from dashboards.shelf import MACHINE, Shelf, ShelfError
from eventlens.archive import Archive
from tests.dashboards.histories import dump, kept
from tests.dashboards.test_intake import HE, bring, ended
from tests.dashboards.test_shell import links, text_of

PLATE = '[machine]\nid = "DOCK-5"\n'


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("kept")
    kept(folder)
    return folder


@pytest.fixture
def archive(made: Path, tmp_path: Path) -> Archive:
    """Two machines and two weeks, the dumps beside it."""
    shutil.copytree(made, tmp_path, dirs_exist_ok=True)
    return Archive(tmp_path / "history")


@pytest.fixture
def intake(archive: Archive, tmp_path: Path) -> Intake:
    return Intake(Shelf(tmp_path / "shelf"), adding=adding_to(source_of(archive), own=True, visitors=False))


def reviewed(intake: Intake, path: Path, plate: str = PLATE) -> Desk:
    """A dump that was brought in and reviewed."""
    key = bring(intake, path)
    ended(intake.look(HE, key))
    intake.state(HE, key, MACHINE, plate)
    assert ended(intake.begin(HE, key)).fault is None
    return Desk(intake, HE, key)


def test_it_is_offered_once_it_was_reviewed_and_said_as_the_command_says_it(
    archive: Archive, intake: Intake, tmp_path: Path
) -> None:
    path = dump(tmp_path / "14.csv", 14, dropping=True)
    key = bring(intake, path)
    desk = Desk(intake, HE, key)
    assert into.shown(desk) == (None, True)
    with pytest.raises(ShelfError, match="review it first"):
        intake.add(HE, key, with_plate=True)
    ended(intake.look(HE, key))
    intake.state(HE, key, MACHINE, PLATE)
    ended(intake.begin(HE, key))
    offer = text_of(into.shown(desk)[0])
    assert "DOCK-5" in offer
    assert "which the archive knows" in offer

    into.add(desk, [into.WITH])
    ended(intake.adding_now(HE, key))
    page, ends = into.shown(desk)
    assert ends
    # 20 runs of six rows and three rows at the beginning make 123, and April holds 7.csv too: by hand
    assert "DOCK-5: 1 new dump, 246 events in 2026-04; 0 known already; 1 new entry." in text_of(page)
    assert "14.csv: 123 rows, 123 understood." in text_of(page)
    assert links(page) == ["/weeks?machine=DOCK-5", "/review?machine=DOCK-5&week=2026-W16"]
    assert archive.stored_weeks("DOCK-5").height == 3
    assert archive.verify().faults == ()


def test_what_the_archive_holds_is_said_also_after_a_restart(archive: Archive, intake: Intake, tmp_path: Path) -> None:
    (tmp_path / "again").mkdir()
    desk = reviewed(intake, dump(tmp_path / "again" / "7.csv", 7, dropping=False))
    before = archive.imports().height
    page = text_of(into.shown(desk)[0])
    assert "DOCK-5: the archive holds this dump already." in page
    later = Intake(Shelf(tmp_path / "shelf"), adding=intake.adding)
    assert text_of(into.shown(Desk(later, HE, desk.dump))[0]) == page
    job = ended(intake.add(HE, desk.dump, with_plate=False))
    assert job.result == ("DOCK-5: 0 new dumps; 1 known already; 0 new entries",)
    assert archive.imports().height == before


def test_rows_that_another_dump_holds_are_counted_once(archive: Archive, intake: Intake, tmp_path: Path) -> None:
    old = tmp_path / "DOCK-5" / "7.csv"
    longer = tmp_path / "longer.csv"
    more = dump(tmp_path / "more.csv", 8, dropping=False).read_text("utf-8").splitlines()[1:]
    longer.write_text("\n".join([*old.read_text("utf-8").splitlines(), *more]) + "\n", "utf-8")
    desk = reviewed(intake, longer)
    ended(intake.add(HE, desk.dump, with_plate=False))
    page = text_of(into.shown(desk)[0])
    assert "longer.csv: 246 rows, 246 understood." in page
    assert "123 rows stand in another dump of the machine too: counted once." in page


def test_another_machine_file_goes_in_when_it_is_wanted_only(archive: Archive, intake: Intake, tmp_path: Path) -> None:
    plate = tmp_path / "machine.toml"
    plate.write_text(f'{PLATE}group = "M5"\n', "utf-8")
    archive.add((), plate)
    desk = reviewed(intake, dump(tmp_path / "14.csv", 14, dropping=False))
    assert "holds another machine file" in text_of(into.shown(desk)[0])
    into.add(desk, [])
    ended(intake.adding_now(HE, desk.dump))
    files = archive.entries("DOCK-5").filter(kind="machine")
    assert files["text"].to_list() == [plate.read_text("utf-8")]


def test_a_machine_without_a_name_is_not_added(intake: Intake, tmp_path: Path) -> None:
    desk = reviewed(intake, dump(tmp_path / "14.csv", 14, dropping=False), '[machine]\nid = "machine"\n')
    assert "once the machine has a name" in text_of(into.shown(desk)[0])
    into.add(desk, [])
    job = ended(intake.adding_now(HE, desk.dump))
    assert "wanted the name of the machine" in str(job.fault)


@pytest.mark.parametrize(
    ("own", "visitors", "may"), [(True, False, True), (False, False, False), (False, True, True), (True, True, True)]
)
def test_who_may_add(archive: Archive, own: bool, visitors: bool, may: bool) -> None:
    assert (adding_to(source_of(archive), own=own, visitors=visitors) is not None) is may


def test_without_an_archive_nothing_can_be_added(tmp_path: Path) -> None:
    nothing: Source = source_of(None)
    intake = Intake(Shelf(tmp_path), adding=adding_to(nothing, own=True, visitors=True))
    desk = reviewed(intake, dump(tmp_path / "14.csv", 14, dropping=False))
    assert into.shown(desk) == (None, True)
    with pytest.raises(ShelfError, match="nothing was added"):
        intake.add(HE, desk.dump, with_plate=True)


def test_a_page_of_another_site_cannot_add(archive: Archive, tmp_path: Path) -> None:
    client = dashboards.create_app(archive, folder=tmp_path / "brought").server.test_client()
    asked = client.post("/_dash-update-component", json={}, headers={"Origin": "http://elsewhere.example"})
    assert asked.status_code == 403
    assert archive.imports().height == 4


def test_weeks_of_another_writer_come_by_themselves(archive: Archive, tmp_path: Path) -> None:
    source = source_of(archive)
    source.history()
    Archive(archive.address).add(dump(tmp_path / "14.csv", 14, dropping=False), "DOCK-5")
    until = time.monotonic() + 60
    while source.weeks_of("DOCK-5") != ["2026-W14", "2026-W15", "2026-W16"]:
        assert time.monotonic() < until
    while source.working() is not None:
        assert time.monotonic() < until
