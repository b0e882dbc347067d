"""Guards all containers alike: each knows its own and no other's, gives the same log, keeps its accounts."""

from __future__ import annotations

import os
import random
from datetime import UTC, datetime
from pathlib import Path

import polars as pl
import pytest
from containers import BEGIN, KINDS, TEXTS, WRITERS, delimited, sample
from polars.testing import assert_frame_equal
from reading_logs import balanced, profile, write

from eventlens import schema
from eventlens.errors import ReadingError
from eventlens.reading import Log, inspect, read
from eventlens.reading.formats import formats, read_raw
from eventlens.reading.profile import Profile

FORMAT_OF = {kind: name for name, kinds in WRITERS.items() for kind in kinds}
LINES = {  # row of the first record as the container counts it: counted by hand on the writers
    "delimited": 2,
    "json array": 2,
    "xlsx": 4,
}

WRITTEN = datetime(2026, 3, 5, tzinfo=UTC)
"""A day after the samples; nothing else tells the year of the older syslog."""


def log_of(folder: Path, content: bytes, **log: object) -> Log:
    found = read(write(folder, content, "dump"), profile(**log))
    balanced(found)
    return found


def first_that_accepts(path: Path) -> str | None:
    with path.open("rb") as file:
        head = file.read(1 << 16)
    return next((f.NAME for f in formats() if f.sniff(path, head)), None)


def test_every_format_has_samples() -> None:
    assert {f.NAME for f in formats()} == set(WRITERS)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("name", WRITERS)
def test_a_format_accepts_its_own_and_refuses_every_other(name: str, kind: str, tmp_path: Path) -> None:
    path = write(tmp_path, KINDS[kind](sample()), "dump")
    asked = {f.NAME: f for f in formats()}[name]
    accepted = asked.sniff(path, path.read_bytes())
    own = FORMAT_OF[kind] == name
    if getattr(asked, "LAST", False):  # takes any text that no other format wants
        assert accepted == (kind in TEXTS)
    else:
        assert accepted == own
    assert first_that_accepts(path) == FORMAT_OF[kind]


def test_no_format_accepts_random_bytes(tmp_path: Path) -> None:
    rng = random.Random(7)
    for _ in range(200):
        path = write(tmp_path, rng.randbytes(rng.randint(40, 3000)), "dump")
        assert first_that_accepts(path) is None


@pytest.mark.parametrize("kind", KINDS)
def test_docstrings_show_samples(kind: str) -> None:
    module = {f.NAME: f for f in formats()}[FORMAT_OF[kind]]
    assert len((module.__doc__ or "").splitlines()) > 2


@pytest.mark.parametrize("kind", sorted(set(KINDS) - {"old syslog"}))
def test_the_same_log_in_every_container(kind: str, tmp_path: Path) -> None:
    rows = sample(40)
    plain, found = log_of(tmp_path, delimited(rows)), log_of(tmp_path, KINDS[kind](rows))
    assert found.events.height == 40
    assert_frame_equal(
        found.events.select("time", "signal", "value", "segment"),
        plain.events.select("time", "signal", "value", "segment"),
    )
    assert found.names["name"].to_list() == ["FB", "RUN"]
    file = found.files[0]
    assert (file.rows, file.taken, file.rejected, file.blank) == (40, 40, 0, 0)
    assert found.events["row"][0] == LINES.get(kind, 1)


def test_the_older_syslog_keeps_all_but_the_year(tmp_path: Path) -> None:
    raw = read_raw(write(tmp_path, KINDS["old syslog"](sample(4)), "dump"), Profile())
    assert raw.frame["time"].to_list() == ["Mar  2 06:00:00", "Mar  2 06:00:00", "Mar  2 06:00:01", "Mar  2 06:00:01"]
    assert raw.frame.select("host", "app", "process", "tag", "state").row(3) == ("hoist1", "plc", "311", "FB", "1")


@pytest.mark.parametrize(
    ("name", "stated", "written", "year", "by"),
    [
        ("dump", None, (2026, 3, 5), 2026, "by the day on which the file was written"),
        ("dump", None, (2027, 1, 5), 2026, "by the day on which the file was written"),  # March 2027 was still to come
        ("dump_20240303", None, (2026, 3, 5), 2024, "from the name of the file"),
        ("dump_20240303", 2021, (2026, 3, 5), 2021, "as the profile states"),
    ],
)
def test_the_year_of_the_older_syslog(
    name: str, stated: int | None, written: tuple[int, int, int], year: int, by: str, tmp_path: Path
) -> None:
    path = write(tmp_path, KINDS["old syslog"](sample(40)), name)
    os.utime(path, (datetime(*written, tzinfo=UTC).timestamp(),) * 2)
    log = read(path, profile(year=stated))
    assert log.start == datetime(year, 3, 2, 6, tzinfo=UTC)
    assert any(f"The stamps have no year: the first row is taken to be of {year} ({by})" in note for note in log.notes)


@pytest.mark.parametrize("kind", KINDS)
def test_inspection_names_the_container(kind: str, tmp_path: Path) -> None:
    path = write(tmp_path, KINDS[kind](sample()), "dump")
    os.utime(path, (WRITTEN.timestamp(), WRITTEN.timestamp()))
    found = inspect(path)
    assert found.container == FORMAT_OF[kind]
    begin = BEGIN.replace(microsecond=0) if kind == "old syslog" else BEGIN  # its stamps have neither year nor fraction
    assert (found.layout, found.start.replace(tzinfo=None)) == ("changes", begin)


@pytest.mark.parametrize("kind", KINDS)
def test_a_file_cut_anywhere_is_read_or_refused_and_never_invents(kind: str, tmp_path: Path) -> None:
    rows = sample(40)
    whole = KINDS[kind](rows)
    wanted = read_raw(write(tmp_path, whole, "whole"), Profile()).frame
    step = max(len(whole) // 60, 1)
    for size in range(1, len(whole), step):
        path = write(tmp_path, whole[:size], "dump")
        try:
            raw = read_raw(path, Profile())
        except ReadingError:
            continue
        shared = [name for name in wanted.columns if name in raw.frame.columns]
        if raw.container != FORMAT_OF[kind] or set(raw.frame.columns) < set(wanted.columns) or kind == "delimited":
            continue  # so short that it is not told any more
        assert raw.frame.height <= 40
        assert raw.frame.select(shared).head(-1).equals(wanted.select(shared).head(max(raw.frame.height - 1, 0)))


@pytest.mark.parametrize("kind", KINDS)
def test_an_empty_file_is_said(kind: str, tmp_path: Path) -> None:
    with pytest.raises(ReadingError, match="got an empty file"):
        log_of(tmp_path, KINDS[kind](sample())[:0])


@pytest.mark.parametrize("kind", TEXTS)
@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16"])
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_byte_order_marks_and_line_ends(kind: str, encoding: str, end: str, tmp_path: Path) -> None:
    text = KINDS[kind](sample()).decode().replace("\n", end)
    if kind == "xes":
        text = text.replace('encoding="UTF-8"', f'encoding="{encoding.removesuffix("-sig").upper()}"')
    found = read_raw(write(tmp_path, text.encode(encoding), "dump"), Profile())
    plain = read_raw(write(tmp_path, KINDS[kind](sample()), "dump"), Profile())
    assert found.container == FORMAT_OF[kind]
    assert_frame_equal(found.frame, plain.frame)
    assert (found.rows, found.lines.to_list()) == (plain.rows, plain.lines.to_list())


@pytest.mark.parametrize("kind", sorted(set(TEXTS) - {"xes"}))
def test_letters_of_another_encoding(kind: str, tmp_path: Path) -> None:
    rows = [(time, "Störung" if name == "RUN" else name, value) for time, name, value in sample()]
    content = KINDS[kind](rows).replace(rb"\u00f6", "ö".encode()).decode().encode("cp1252")
    found = read_raw(write(tmp_path, content, "dump"), Profile())
    assert "Störung" in found.frame["tag"].to_list()
    assert "cp1252" in " ".join(found.notes)


def test_xml_in_a_wrong_encoding_is_said(tmp_path: Path) -> None:
    rows = [(time, "Störung", value) for time, _, value in sample()]
    with pytest.raises(ReadingError, match="wanted whole XML with events, got not well-formed"):
        read_raw(write(tmp_path, KINDS["xes"](rows).decode().encode("cp1252"), "dump"), Profile())


def test_files_of_several_containers_make_one_log(tmp_path: Path) -> None:
    rows = sample(48)
    kinds = ["xlsx", "parquet", "json lines", "sqlite", "delimited", "arrow stream"]
    paths = [write(tmp_path, KINDS[kind](rows[8 * at : 8 * at + 8]), f"part{at}") for at, kind in enumerate(kinds)]
    mixed = read(paths[::-1], profile())
    balanced(mixed)
    plain = log_of(tmp_path, delimited(rows))
    assert_frame_equal(
        mixed.events.select("time", "signal", "value", "segment"),
        plain.events.select("time", "signal", "value", "segment"),
    )
    assert [file.rows for file in mixed.files] == [8] * 6
    assert mixed.events.schema == schema.EVENTS.schema


SPARSE = [(0, "RUN", 0), (1, "RUN", 1), (2, "FB", 1), (3, "RUN", 0)]


def test_a_name_that_one_file_of_json_lacks_is_an_empty_cell(tmp_path: Path) -> None:
    lines = [f'{{"time": "2026-03-02 06:00:0{at}", "{name}": {value}}}\n' for at, name, value in SPARSE]
    first, second = write(tmp_path, "".join(lines[:2]), "a"), write(tmp_path, "".join(lines[2:]), "b")
    log = read([first, second], profile(empty="unchanged", layout="samples"))
    balanced(log)
    runs = log.events.filter(pl.col("signal") == "hoist.raise.contactor")
    assert runs["value"].to_list() == [0, 1, 0]
