"""The same dump twice, overlapping dumps, parts in any order: one archive. Real repeats stay."""

from __future__ import annotations

import random
from pathlib import Path
from tempfile import TemporaryDirectory

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eventlens import Archive, ArchiveError, ReadingError
from tests.archive.stories import lines, parts, row, stamp, state, told, wanted, write

ROWS = lines()


def test_what_was_added_is_there(tmp_path: Path) -> None:
    dump = write(tmp_path / "night.csv", ROWS)
    archive = Archive(tmp_path / "history")
    done = archive.add(dump, "DOCK-5")
    assert [found.name for found in done.dumps.new] == ["night.csv"]
    assert done.dumps.months == ("2026-03", "2026-04")
    assert told(archive).equals(wanted([dump]))
    # counted by hand: 3 rows at the start, 6 for each of 80 runs, 4 more after 11 of them (3, 10, ..., 73)
    assert archive.events("DOCK-5").height == 3 + 80 * 6 + 11 * 4 == done.dumps.events
    # each event leads back to its row
    there = archive.events("DOCK-5").row(100, named=True)
    said = dump.read_text().splitlines()[there["line"] - 1]
    assert (there["name"], said.split(",")[1]) == ("night.csv", there["signal"])


def test_the_same_dump_twice_changes_nothing(tmp_path: Path) -> None:
    dump = write(tmp_path / "night.csv", ROWS)
    copy = write(tmp_path / "copy of night.csv", ROWS)
    archive = Archive(tmp_path / "history")
    archive.add(dump, "DOCK-5")
    before, version = state(archive), archive.lake.opened("record").version()
    for again in (dump, copy):
        done = archive.add([again, again], "DOCK-5")
        assert (done.dumps.new, len(done.dumps.known)) == ((), 1)
    after = state(archive)
    assert all(before[name].equals(after[name]) for name in before)
    assert archive.lake.opened("record").version() == version
    assert archive.lake.opened("dumps").version() == 1


@settings(max_examples=6, deadline=None)
@given(
    borders=st.sets(st.integers(20, len(ROWS) - 20), min_size=1, max_size=3),
    overlap=st.sampled_from([0, 7, 40]),
    seed=st.integers(0, 99),
)
def test_parts_in_any_order_make_the_same_archive(borders: set[int], overlap: int, seed: int) -> None:
    with TemporaryDirectory() as name:
        folder = Path(name)
        files = parts(folder, ROWS, sorted(borders), overlap)
        at_once, bit_by_bit = Archive(folder / "one"), Archive(folder / "other")
        at_once.add(files, "DOCK-5")
        shuffled = random.Random(seed).sample(files, len(files))
        for file in shuffled:
            bit_by_bit.add(file, "DOCK-5")
        one, other = state(at_once), state(bit_by_bit)
        assert all(one[table].equals(other[table]) for table in one)
        assert told(bit_by_bit).equals(wanted(files))
        # where a file ends between two real repeats and the next begins with the second, no reader can know of both
        if overlap or not any(ROWS[border - 1] == ROWS[border] for border in borders):
            assert told(bit_by_bit).equals(wanted([write(folder / "whole.csv", ROWS)]))


def test_real_repeats_survive_where_dumps_overlap(tmp_path: Path) -> None:
    trip = [row(500, "overload.trip", 1)] * 3
    rows = [*lines(1), *trip, row(501, "overload.trip", 0), *[row(600 + t, "rope.slack", t % 2) for t in range(6)]]
    at = rows.index(trip[0])
    first, second = write(tmp_path / "a.csv", rows[: at + 4]), write(tmp_path / "b.csv", rows[at:])
    for name, order in (("one", [first, second]), ("other", [second, first])):
        archive = Archive(tmp_path / name)
        for file in order:
            archive.add(file, "DOCK-5")
        trips = archive.events("DOCK-5").filter(pl.col("signal") == "overload.trip")
        assert trips["value"].to_list() == [1.0, 1.0, 1.0, 0.0]


def test_rows_that_are_not_understood_are_kept_with_their_reason(tmp_path: Path) -> None:
    rows = [*ROWS[:50], "31.02.2026 never,hoist.raise.command,1", *ROWS[50:]]
    files = parts(tmp_path, rows, [200], 160)  # the second holds the row too
    archive = Archive(tmp_path / "history")
    for file in files[::-1]:
        archive.add(file, "DOCK-5")
    aside = archive.set_aside("DOCK-5")
    assert aside["text"].to_list() == ["31.02.2026 never,hoist.raise.command,1"]
    name, line, text = aside.select("name", "line", "text").row(0)
    assert (tmp_path / name).read_text().splitlines()[line - 1] == text
    imports = archive.imports()
    assert (imports["rows"] == imports["taken"] + imports["rejected"] + imports["blank"]).all()
    assert imports["set_aside"].sum() == 1


def test_a_dump_that_cannot_be_read_keeps_the_others_out_too(tmp_path: Path) -> None:
    good, bad = write(tmp_path / "good.csv", ROWS), tmp_path / "bad.csv"
    bad.write_text("time,signal,value\n2026-04-01 06:00:00,K7,1\n")
    archive = Archive(tmp_path / "history")
    with pytest.raises(ReadingError, match=rf"{bad}.*names 'K7'; write a profile"):
        archive.add([good, bad], "DOCK-5")
    assert archive.imports().is_empty()
    archive.add(good, "DOCK-5")
    assert told(archive).equals(wanted([good]))


def test_another_profile_reads_a_dump_anew(tmp_path: Path) -> None:
    dump = write(tmp_path / "night.csv", [line.replace("fault.reset", "K9") for line in ROWS])
    profile = tmp_path / "p.toml"
    profile.write_text('[log]\ntimezone = "UTC"\n[signals]\nK9 = "fault.reset"\n')
    archive = Archive(tmp_path / "history")
    archive.add(dump, "DOCK-5")
    assert "fault.reset" not in set(archive.events("DOCK-5")["signal"])
    done = archive.add(dump, "DOCK-5", profile)
    assert len(done.dumps.new) == 1
    assert told(archive).equals(wanted([dump], profile))
    assert archive.imports()["profile"].unique().to_list() == ["p.toml"]
    assert archive.contents()["dumps"].to_list() == [1, 1]


def test_stamps_that_mean_another_month_beside_other_dumps_are_said(tmp_path: Path) -> None:
    def day(written: str) -> list[str]:
        return [f"{written} 06:00:{second:02},hoist.raise.contactor,{second % 2}" for second in range(20)]

    # alone 03/04 is read as 3 April; 03/25 in the other shows that the month comes first, so that it is 4 March
    one = write(tmp_path / "a.csv", day("03/04/2026"))
    other = write(tmp_path / "b.csv", [*day("03/25/2026"), *day("04/03/2026")])
    archive = Archive(tmp_path / "history")
    archive.add(one, "DOCK-5")
    with pytest.raises(ArchiveError, match=r"'a.csv', got records in 2026-03 .* alone lie in 2026-04; state time_"):
        archive.add(other, "DOCK-5")
    assert archive.contents().select("month", "dumps", "events").rows() == [("2026-04", 1, 20)]
    stated = tmp_path / "p.toml"
    stated.write_text('[log]\ntime_format = "%m/%d/%Y %H:%M:%S"\n')
    archive.add([one, other], "DOCK-5", stated)
    assert archive.contents().select("month", "dumps", "events").rows() == [("2026-03", 2, 40), ("2026-04", 1, 20)]


def test_machines_do_not_mix_whatever_they_are_called(tmp_path: Path) -> None:
    dump = write(tmp_path / "night.csv", ROWS)
    other = write(tmp_path / "other.csv", [row(1, "hoist.raise.contactor", 1), row(2, "hoist.raise.contactor", 0)])
    archive = Archive(tmp_path / "history")
    odd = "Säge 3/'x' = %2F\"; DROP"
    archive.add(dump, "DOCK-5")
    archive.add(other, odd)
    archive.add(dump, odd)
    assert archive.machines() == sorted(["DOCK-5", odd])
    assert told(archive).equals(wanted([dump]))
    assert archive.events(odd).height == archive.events("DOCK-5").height + 2
    assert archive.verify().faults == ()


def test_a_month_is_read_alone(tmp_path: Path) -> None:
    archive = Archive(tmp_path / "history")
    archive.add(write(tmp_path / "night.csv", ROWS), "DOCK-5")
    for gone in (tmp_path / "history" / "record").glob("machine=*/month=2026-04/kind=event/*.parquet"):
        gone.unlink()
    # April's files are away; March is read all the same
    march = archive.events("DOCK-5", "2026-03-31T20:00Z", "2026-03-31T23:00Z")
    assert march.height == sum(line < stamp(3 * 3600) for line in ROWS)
    with pytest.raises(ArchiveError):
        archive.events("DOCK-5")
