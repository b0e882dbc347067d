"""Where an archive may lie, and what is said where it cannot be opened."""

from __future__ import annotations

import shutil
from pathlib import Path

import polars as pl
import pytest

from eventlens import Archive, ArchiveError
from eventlens.archive.lake import Lake
from eventlens.archive.place import address
from eventlens.archive.tables import RECORD
from tests.archive.stories import lines, told, wanted, write


@pytest.mark.parametrize(
    ("given", "wanted"),
    [
        ("s3://bucket/hoists", "s3://bucket/hoists"),
        (Path("s3://bucket/hoists"), "s3://bucket/hoists"),  # a path folds the slashes
        (Path("file:///data/hoists"), "file:///data/hoists"),
        ("/data/hoists", "/data/hoists"),
        ("az://container/hoists", "az://container/hoists"),
    ],
)
def test_addresses(given: str | Path, wanted: str) -> None:
    assert address(given) == wanted


def test_an_address_does_as_well_as_a_folder(tmp_path: Path) -> None:
    night = write(tmp_path / "night.csv", lines(9))
    by_address = Archive(f"file://{tmp_path}/history")
    by_address.add(night, "DOCK-5")
    assert told(Archive(tmp_path / "history")).equals(told(by_address))
    assert told(by_address).equals(wanted([night]))
    assert by_address.verify().faults == ()
    assert Archive("memory:///hoists").lake.table("record") is None


def test_an_archive_begins_beside_those_who_follow_into_it(tmp_path: Path) -> None:
    (tmp_path / "history" / "following" / "DOCK-5-1").mkdir(parents=True)
    archive = Archive(tmp_path / "history")
    archive.add(write(tmp_path / "night.csv", lines(9)), "DOCK-5")
    assert archive.verify().faults == ()


def test_an_older_archive_opens(tmp_path: Path) -> None:
    """An archive of form 0, as one without the columns segment and modified_ns would have been, is read and goes on."""
    night, more = write(tmp_path / "night.csv", lines(9)), write(tmp_path / "more.csv", lines(20))
    archive = Archive(tmp_path / "new")
    archive.add(night, "DOCK-5")
    old = Lake(tmp_path / "old")
    from deltalake import write_deltalake

    for name in ("record", "dumps"):
        at = archive.lake.opened(name)
        frame = pl.DataFrame(at.to_pyarrow_table()).drop("segment", "blank", strict=False)
        partitions = at.metadata().partition_columns
        write_deltalake(f"{old.root}/{name}", frame, partition_by=partitions, description="eventlens archive, form 0")
    found = Archive(tmp_path / "old")
    assert told(found).equals(told(archive))
    assert found.imports()["blank"].to_list() == [None]
    assert found.review().to_json() == archive.review().to_json()
    found.add(more, "DOCK-5")
    archive.add(more, "DOCK-5")
    assert told(found).equals(told(archive))
    assert found.verify().faults == ()


def test_a_newer_archive_is_refused(tmp_path: Path) -> None:
    archive = Archive(tmp_path / "history")
    night = write(tmp_path / "night.csv", lines(9))
    archive.add(night, "DOCK-5")
    archive.lake.opened("record").alter.set_table_description("eventlens archive, form 99")
    for use in (archive.verify, lambda: archive.add(night, "DOCK-5"), archive.contents):
        with pytest.raises(
            ArchiveError, match=r"wanted an archive of form 1 or older, got form 99; open it with the newer"
        ):
            use()


def test_places_that_are_no_archive(tmp_path: Path) -> None:
    night = write(tmp_path / "night.csv", lines(9))
    with pytest.raises(ArchiveError, match=r"wanted an archive, got nothing there; check the path"):
        Archive(tmp_path / "nowhere").verify()
    with pytest.raises(ArchiveError, match=r"wanted an archive or an empty folder, got a folder with 'night.csv'"):
        Archive(tmp_path).add(night, "DOCK-5")
    with pytest.raises(ArchiveError, match=r"wanted a folder for the archive, got a file"):
        Archive(night).add(night, "DOCK-5")
    other = Lake(tmp_path / "other")
    from deltalake import write_deltalake

    write_deltalake(f"{other.root}/record", RECORD.empty().head(0).with_columns(machine=pl.lit("x")))
    with pytest.raises(ArchiveError, match=r"wanted an archive of eventlens, got a table 'record' of something else"):
        Archive(other.root).contents()


def test_nothing_is_opened_before_it_is_asked_for(tmp_path: Path) -> None:
    assert repr(Archive(tmp_path / "x")) == f"Archive('{tmp_path}/x')"
    assert not (tmp_path / "x").exists()


def test_the_version_changes_with_every_change_by_whomever_and_with_no_look(tmp_path: Path) -> None:
    here, elsewhere = Archive(tmp_path / "history"), Archive(tmp_path / "history")
    assert set(here.version()) == {None}  # nothing is there yet
    elsewhere.add(write(tmp_path / "night.csv", lines(9)), "DOCK-5")
    seen = [here.version()]
    elsewhere.add(machine="DOCK-5", notes={"repair": ["2026-04-14 new relay"]})
    seen.append(here.version())
    elsewhere.bring_up_to_date()
    seen.append(here.version())
    here.trends()
    here.stored_results()
    elsewhere.add(tmp_path / "night.csv", "DOCK-5")  # a repeat
    elsewhere.bring_up_to_date()
    assert here.version() == seen[-1]
    assert len(set(seen)) == 3


def test_the_version_of_an_archive_that_was_replaced_is_its_own(tmp_path: Path) -> None:
    here = Archive(tmp_path / "history")
    here.add(write(tmp_path / "night.csv", lines(9)), "DOCK-5")
    here.add(write(tmp_path / "more.csv", lines(20)), "DOCK-5")
    here.version()
    shutil.rmtree(tmp_path / "history")
    assert set(here.version()) == {None}


def test_a_table_that_is_not_in_a_folder_is_followed(tmp_path: Path) -> None:
    at, night = "memory:///followed", write(tmp_path / "night.csv", lines(9))
    assert set(Archive(at).version()) == {None}
    followed = _Elsewhere(tmp_path / "history")
    Archive(tmp_path / "history").add(night, "DOCK-5")
    first = followed.versions()
    Archive(tmp_path / "history").add(write(tmp_path / "more.csv", lines(20)), "DOCK-5")
    assert first[0] is not None
    assert followed.versions() != first


class _Elsewhere(Lake):
    """An archive that is followed as one on an object store is: commit by commit."""

    def _folder(self) -> Path | None:
        return None
