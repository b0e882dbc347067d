"""Guards the accounts under random damage, and that a log cut anywhere into files reads like the whole."""

from __future__ import annotations

import tempfile
from datetime import datetime, timedelta
from pathlib import Path

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from polars.testing import assert_frame_equal
from reading_logs import balanced, profile, write

from eventlens.errors import ReadingError
from eventlens.reading import Log, read

NAMES = ("RUN", "TRIP", "FB", "OTHER")
BEGIN = datetime(2024, 5, 13, 6)
HEADER = "time;signal;value"


@st.composite
def rows(draw: st.DrawFn, late: bool = True) -> list[str]:
    """Rows of a log in the order of time; stamps may be equal, or a little late."""
    gap = st.sampled_from((0, 100, 1500, 60_000, *([-700] if late else [])))
    gaps = draw(st.lists(gap, min_size=1, max_size=25))
    found, at = [], 0
    for gap in gaps:
        at = max(at + gap, 0)
        stamp = (BEGIN + timedelta(milliseconds=at)).isoformat(sep=" ", timespec="milliseconds")
        found.append(f"{stamp};{draw(st.sampled_from(NAMES))};{draw(st.sampled_from('01'))}")
    return found


DAMAGE = st.sampled_from(
    (
        lambda row: row,
        lambda row: row,
        lambda row: row,
        lambda row: row[: len(row) // 2],
        lambda row: row + ";more;cells",
        lambda row: row + ";",
        lambda row: "",
        lambda row: "   ",
        lambda row: ";;",
        lambda row: row.replace(";", ';"', 1),
        lambda row: '"' + row.replace(";", '";"') + '"',
        lambda row: row.replace("2024", "2O24"),
        lambda row: row[:-1] + "maybe",
        lambda row: row[:-1],
        lambda row: row[:-1] + '"quoted\nvalue"',
        lambda row: "\x00\x00\x00",
        lambda row: row + "\r",
        lambda row: row.replace("RUN", "RÜN"),
    )
)


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_every_row_is_taken_set_aside_or_blank(data: st.DataObject) -> None:
    good = data.draw(rows())
    damaged = [data.draw(DAMAGE)(row) for row in good]
    text = "\n".join([HEADER, f"{BEGIN.isoformat(sep=' ')}.000;RUN;0", *damaged]) + data.draw(
        st.sampled_from(("\n", ""))
    )
    with tempfile.TemporaryDirectory() as folder:
        try:
            log = read(write(Path(folder), text), profile())
        except ReadingError:
            return  # nothing left to read: said, not silent
    balanced(log)
    lines = text.removesuffix("\n").split("\n")
    # a quoted value over two lines is one row, so rows are physical lines less those (counted on the text)
    absorbed = sum("quoted" in line for line in lines)
    rejected_text = log.rejected["text"].to_list()
    assert len(lines) - 1 - absorbed <= log.files[0].rows <= len(lines) - 1
    for row, text_there in zip(log.rejected["row"], rejected_text, strict=True):
        assert lines[row - 1].split(";")[0][:10].strip('"\r') in text_there  # the physical line is the right one
    for event in log.events.rows(named=True):
        if event["row"] in log.rejected["row"]:
            assert event["value"] is None  # the row names a signal, which is unknown from the row before on
            continue
        line = lines[event["row"] - 1]
        assert event["time"].replace(tzinfo=None).isoformat(sep=" ", timespec="milliseconds") in line


def same(one: Log, other: Log) -> None:
    """Equal but for `files`."""
    for table in ("events", "segments", "holes", "clock_steps", "names", "rejected"):
        assert_frame_equal(getattr(one, table), getattr(other, table))
    for fact in ("layout", "timezone", "step_s", "rhythm_s", "duplicates", "reordered", "notes"):
        assert getattr(one, fact) == getattr(other, fact), fact


@settings(max_examples=100, deadline=None)
@given(st.data())
def test_a_log_cut_anywhere_reads_like_the_whole(data: st.DataObject) -> None:
    newest_first = data.draw(st.booleans())
    good = data.draw(rows(late=not newest_first))
    lines = [f"{BEGIN.isoformat(sep=' ')}.000;RUN;0", *good]
    lines += data.draw(st.sampled_from(((), ("",), ("2024-05-13;cut",), ("2024-05-14 08:00:00.000;RUN;perhaps",))))
    lines = lines[::-1] if newest_first else lines
    cuts = sorted(data.draw(st.sets(st.integers(1, len(lines)), max_size=4)) - {len(lines)})
    # a cut within an instant that holds a row twice looks like an export that repeats the end of the one before
    again = {line[:23] for line in lines if lines.count(line) > 1}
    cuts = [cut for cut in cuts if lines[cut][:23] != lines[cut - 1][:23] or lines[cut][:23] not in again]
    # and so does a part that begins with a row that an earlier or a later one holds too, as late rows bring about
    cuts = [cut for cut in cuts if not set(lines[:cut]) & set(lines[cut:])]
    parts = [lines[a:b] for a, b in zip([0, *cuts], [*cuts, len(lines)], strict=True)]
    with_header = data.draw(st.booleans())
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        try:
            whole = read(write(folder, "\n".join([HEADER, *lines]) + "\n", "whole.csv"), profile())
        except ReadingError:
            return
        paths = []
        for number, part in enumerate(parts):
            head = [HEADER] if with_header or number == 0 else []
            paths.append(write(folder, "\n".join([*head, *part]) + "\n", f"part{number}.csv"))
        pieces = read(data.draw(st.permutations(paths)), profile())
    balanced(pieces)
    same(whole, pieces)


@pytest.mark.parametrize("size", [1, 7, 100, 999])
def test_a_sampled_log_cut_into_equal_files_reads_like_the_whole(size: int, tmp_path: Path) -> None:
    lines = []
    for at in (*range(301), *range(400, 1000)):  # with a hole
        stamp = (BEGIN + timedelta(milliseconds=100 * at)).isoformat(sep=" ", timespec="milliseconds")
        lines.append(f"{stamp},{at // 7 % 2},{at * 0.5}")
    header = "stamp,RUN,SPD"
    whole = read(write(tmp_path, "\n".join([header, *lines])), profile())
    paths = [
        write(tmp_path, "\n".join([header, *lines[at : at + size]]) + "\n" * (at + size < len(lines)), f"part{at}.csv")
        for at in range(0, len(lines), size)
    ]
    if size == 1:
        paths = [*paths[:100], write(tmp_path, "\n".join([header, *lines[100:]]), "rest.csv")]
    pieces = read(paths[::-1], profile())
    assert whole.holes.height == 1
    same(whole, pieces)


def test_the_careful_path_gives_what_the_fast_one_gives(tmp_path: Path) -> None:
    lines = [f"2024-05-13 06:00:{at:02}.000;{NAMES[at % 4]};{at // 4 % 2}" for at in range(60)]
    plain = read(write(tmp_path, "\n".join([HEADER, *lines]) + "\n"), profile())
    quoted = ['"' + line.replace(";", '";"') + '"' if at % 3 else line for at, line in enumerate(lines)]
    careful = read(write(tmp_path, "\n".join([HEADER, *quoted]) + "\n", "quoted.csv"), profile())
    same(plain, careful)


def test_the_callers_files_are_read_alike_twice(tmp_path: Path) -> None:
    path = write(tmp_path, f"{HEADER}\n2024-05-13 06:00:00;RUN;1\n2024-05-13 06:00:01;RUN;x\n")
    one, other = read(path, profile()), read(path, profile())
    same(one, other)
    assert one.files == other.files
    assert isinstance(one.events, pl.DataFrame)
