"""Guards packed files: any container in any packing is the same log, bounds hold, nothing escapes, breaks are said."""

from __future__ import annotations

import bz2
import gzip
import hashlib
import io
import lzma
import sys
import zipfile
import zlib
from collections.abc import Callable
from pathlib import Path

import pytest
import zstandard
from containers import KINDS, delimited, sample
from polars.testing import assert_frame_equal
from reading_logs import balanced, profile, write

from eventlens.errors import ReadingError
from eventlens.reading import read
from eventlens.reading.files import read_raws
from eventlens.reading.formats import _bounds, _streams
from eventlens.reading.profile import Profile

Packer = Callable[[bytes], bytes]


def zipped(*members: tuple[str, bytes], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    sink = io.BytesIO()
    with zipfile.ZipFile(sink, "w", method) as archive:
        for name, content in members:
            archive.writestr(name, content)
    return sink.getvalue()


def in_zip(data: bytes) -> bytes:
    return zipped(("dump", data))


STREAMS: dict[str, Packer] = {
    "gzip": gzip.compress,
    "bz2": bz2.compress,
    "xz": lzma.compress,
    "zstd": zstandard.ZstdCompressor(write_checksum=True).compress,
}
PACKERS: dict[str, Packer] = {**STREAMS, "zip": in_zip}
LINES = delimited(sample(600))


@pytest.mark.parametrize("packer", PACKERS)
@pytest.mark.parametrize("kind", KINDS)
def test_any_container_in_any_packing(packer: str, kind: str, tmp_path: Path) -> None:
    content = KINDS[kind](sample())
    plain = read_raws([write(tmp_path, content, "plain")], Profile())[0]
    packed = read_raws([write(tmp_path, PACKERS[packer](content), "log")], Profile())[0]  # no telling name
    assert_frame_equal(packed.frame, plain.frame)
    assert (packed.lines.to_list(), packed.container) == (plain.lines.to_list(), plain.container)


@pytest.mark.parametrize("packer", STREAMS)
def test_the_fingerprint_is_that_of_the_file_that_is_named(packer: str, tmp_path: Path) -> None:
    path = write(tmp_path, STREAMS[packer](LINES), "log.gz")
    file = read(path, profile()).files[0]
    assert (file.name, file.sha256) == ("log.gz", hashlib.sha256(path.read_bytes()).hexdigest())


def test_a_member_is_named_by_archive_and_member(tmp_path: Path) -> None:
    file = read(write(tmp_path, zipped(("a/b.csv", LINES)), "log.zip"), profile()).files[0]
    assert (file.name, file.sha256) == ("log.zip: a_b.csv", hashlib.sha256(LINES).hexdigest())


@pytest.mark.parametrize("packer", STREAMS)
@pytest.mark.parametrize("tail", [b"", b"\0" * 1000])
def test_streams_one_after_the_other(packer: str, tail: bytes, tmp_path: Path) -> None:
    data = b"".join(STREAMS[packer](LINES[at : at + 5000]) for at in range(0, len(LINES), 5000))
    log = read(write(tmp_path, data + tail, "log"), profile())
    assert log.files[0].rows == 600
    assert not any("passed over" in note for note in log.notes)


def test_other_bytes_after_the_end_are_said(tmp_path: Path) -> None:
    log = read(write(tmp_path, gzip.compress(LINES) + b"signature", "log"), profile())
    assert log.files[0].rows == 600
    assert "Bytes after the end of the gzip data in 'log' were passed over." in log.notes


@pytest.mark.parametrize("packer", STREAMS)
def test_a_stream_that_breaks_off_gives_what_came_before(packer: str, tmp_path: Path) -> None:
    # poorly packed, so that every unpacker hands out something before the break; bz2 and zstd do so by blocks
    rows = delimited(sample(40_000))
    whole = STREAMS[packer](rows)
    log = read(write(tmp_path, whole[: len(whole) * 9 // 10], "log"), profile())
    balanced(log)
    assert 0 < log.files[0].rows < 40_000
    assert any(f"The {packer} file 'log' breaks off" in note for note in log.notes)
    taken = log.files[0].taken
    assert taken > 0.3 * log.files[0].rows


@pytest.mark.parametrize("packer", STREAMS)
def test_a_stream_that_breaks_off_before_its_first_row(packer: str, tmp_path: Path) -> None:
    with pytest.raises(ReadingError, match="breaks off before its first row"):
        read(write(tmp_path, STREAMS[packer](LINES)[:12], "log"), profile())


@pytest.mark.parametrize("packer", PACKERS)
def test_a_damaged_file_is_refused(packer: str, tmp_path: Path) -> None:
    data = bytearray(PACKERS[packer](LINES))
    at = len(data) // 2
    data[at : at + 4] = bytes(255 - byte for byte in data[at : at + 4])
    with pytest.raises(ReadingError, match="damaged"):
        read(write(tmp_path, bytes(data), "log"), profile())


def test_a_wrong_check_sum_is_refused(tmp_path: Path) -> None:
    data = bytearray(gzip.compress(LINES))
    data[-8] ^= 1
    with pytest.raises(ReadingError, match="wanted a whole gzip file, got a damaged one"):
        read(write(tmp_path, bytes(data), "log"), profile())


@pytest.mark.parametrize("size", [4, 100, -30])
def test_a_zip_archive_that_breaks_off_is_refused(size: int, tmp_path: Path) -> None:
    with pytest.raises(ReadingError, match="wanted a whole zip archive, got one that is damaged or breaks off"):
        read(write(tmp_path, in_zip(LINES)[:size], "log"), profile())


@pytest.mark.parametrize("packer", PACKERS)
def test_nothing_packed_is_said(packer: str, tmp_path: Path) -> None:
    with pytest.raises(ReadingError, match=r"nothing in it|no file in it"):
        read(write(tmp_path, PACKERS[packer](b""), "log"), profile())


def test_several_parts_in_one_archive(tmp_path: Path) -> None:
    header, *lines = LINES.decode().splitlines(keepends=True)
    parts = [("log10.csv", header + "".join(lines[400:])), ("log2.csv", header + "".join(lines[:400]))]
    members = [(name, text.encode()) for name, text in parts]
    log = read(write(tmp_path, zipped(("logs/", b""), *members), "log.zip"), profile())
    balanced(log)
    assert [(file.name, file.rows) for file in log.files] == [("log.zip: log2.csv", 400), ("log.zip: log10.csv", 200)]
    plain = read(write(tmp_path, LINES, "log.csv"), profile())
    assert_frame_equal(log.events, plain.events)


def test_what_else_lies_in_an_archive_is_passed_over_and_said(tmp_path: Path) -> None:
    data = zipped(
        ("README.txt", b"Export of the gateway.\nAsk the office.\n"),
        ("__MACOSX/._log.csv", b"\0\5\26\7"),
        (".DS_Store", b"\0\0\0\1Bud1"),
        ("picture.png", b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 4),
        ("empty.csv", b""),
        ("log.csv", LINES),
    )
    log = read(write(tmp_path, data, "log.zip"), profile())
    assert [file.rows for file in log.files] == [600]
    said = " ".join(log.notes)
    assert "'log.zip: README.txt' holds no stamps: passed over" in said
    assert "'log.zip: picture.png' holds no stamps: passed over" in said
    assert "Empty files in the archive: 1." in said


def test_a_damaged_part_is_not_passed_over(tmp_path: Path) -> None:
    data = zipped(("a.csv", LINES), ("b.parquet", KINDS["parquet"](sample())[:300]))
    with pytest.raises(ReadingError, match=r"log\.zip: b\.parquet: wanted a whole Parquet file"):
        read(write(tmp_path, data, "log.zip"), profile())


def test_an_encrypted_archive_is_said(tmp_path: Path) -> None:
    data = bytearray(in_zip(LINES))
    for mark, flags in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):  # bit 0 of the flags: encrypted
        data[data.index(mark) + flags] |= 1
    with pytest.raises(ReadingError, match="wanted an archive that is not encrypted, got one with a password"):
        read(write(tmp_path, bytes(data), "log.zip"), profile())


@pytest.mark.parametrize(
    "name", ["../../escaped.csv", "/escaped.csv", "C:\\escaped.csv", "a\x00b", "x" * 3000, "\x1b[2J"]
)
def test_no_path_in_an_archive_leads_anywhere(name: str, tmp_path: Path) -> None:
    folder = tmp_path / "one" / "two"
    folder.mkdir(parents=True)
    before = {str(path) for path in tmp_path.rglob("*")}
    path = write(folder, zipped((name, LINES)), "log.zip")
    log = read(path, profile())
    assert log.files[0].rows == 600
    assert log.files[0].name.isprintable()
    assert {str(found) for found in tmp_path.rglob("*")} - before == {str(path)}
    assert not Path("/escaped.csv").exists()


def test_the_temporary_folder_is_gone_afterwards(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "temp"))
    (tmp_path / "temp").mkdir()
    read(write(tmp_path, gzip.compress(LINES), "log"), profile())
    with pytest.raises(ReadingError):
        read(write(tmp_path, gzip.compress(b"\0\1\2\3" * 99), "log"), profile())
    assert list((tmp_path / "temp").iterdir()) == []


def wrapped(times: int) -> bytes:
    data = LINES
    for at in range(times):
        data = in_zip(data) if at % 2 else gzip.compress(data)
    return data


def test_packed_files_inside_one_another(tmp_path: Path) -> None:
    deepest = _bounds.DEEPEST
    assert read(write(tmp_path, wrapped(deepest), "log"), profile()).files[0].rows == 600
    with pytest.raises(ReadingError, match="got more than 3 packed files inside one another"):
        read(write(tmp_path, wrapped(deepest + 1), "log"), profile())


def test_the_number_of_members_is_bounded(tmp_path: Path) -> None:
    members = [(f"{at}.csv", b"x") for at in range(_bounds.MOST_MEMBERS + 1)]
    with pytest.raises(ReadingError, match="wanted at most 1000 files, got 1001 files"):
        read(write(tmp_path, zipped(*members), "log.zip"), profile())


@pytest.mark.parametrize("packer", PACKERS)
def test_a_bomb_is_refused_by_its_ratio(packer: str, tmp_path: Path) -> None:
    lines = b"2026-03-02 06:00:00;RUN;1\n" * 40_000  # 1 MB, and a hundred times as much
    bomb = in_zip(lines * 100) if packer == "zip" else PACKERS[packer](lines) * 100  # streams end to end are one
    with pytest.raises(ReadingError, match="got one that swells to more than 200 times its size"):
        read(write(tmp_path, bomb, "log"), profile())


def test_a_bomb_in_a_spreadsheet_is_refused(tmp_path: Path) -> None:
    data = KINDS["xlsx"](sample())
    sink = io.BytesIO(data)
    with zipfile.ZipFile(sink, "a", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/media/bomb", b"\0" * (64 << 20))
    with pytest.raises(ReadingError, match="swells to more than 200 times"):
        read(write(tmp_path, sink.getvalue(), "log.xlsx"), profile())


def test_a_short_dump_of_one_line_is_no_bomb(tmp_path: Path) -> None:
    rows = b"time;tag;state\n" + b"2026-03-02 06:00:00;RUN;1\n" * 100_000
    assert len(rows) / len(gzip.compress(rows)) > _bounds.MOST_RATIO
    assert read(write(tmp_path, gzip.compress(rows), "log"), profile()).files[0].rows == 100_000


def test_the_size_after_unpacking_is_bounded_and_can_be_set(tmp_path: Path) -> None:
    path = write(tmp_path, gzip.compress(LINES), "log")
    assert read(path, profile(unpacked_gb=len(LINES) / 1e9)).files[0].rows == 600
    with pytest.raises(ReadingError, match=r"of unpacked data, got more; .* raise \[log\] unpacked_gb"):
        read(path, profile(unpacked_gb=(len(LINES) - 1) / 1e9))


def test_the_size_counts_all_members_together(tmp_path: Path) -> None:
    path = write(tmp_path, zipped(("a", LINES), ("b", LINES)), "log.zip")
    with pytest.raises(ReadingError, match="of unpacked data, got more"):
        read(path, profile(unpacked_gb=1.5 * len(LINES) / 1e9))


def test_a_member_that_lies_about_its_size_is_refused(tmp_path: Path) -> None:
    data = bytearray(in_zip(LINES))
    for mark, size in ((b"PK\x03\x04", 22), (b"PK\x01\x02", 24)):
        at = data.index(mark) + size
        data[at : at + 4] = (100).to_bytes(4, "little")
    with pytest.raises(ReadingError, match="wanted a whole zip archive, got a damaged one"):
        read(write(tmp_path, bytes(data), "log.zip"), profile())


@pytest.mark.parametrize("kind", ["delimited", "xlsx", "sqlite"])
def test_standard_input(kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    content = KINDS[kind](sample())

    class Stdin:
        buffer = io.BytesIO(content)

    monkeypatch.setattr(sys, "stdin", Stdin())
    file = read("-", profile()).files[0]
    assert (file.name, file.rows, file.sha256) == ("stdin", 12, hashlib.sha256(content).hexdigest())


def test_errors_from_standard_input_and_members_carry_their_names(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Stdin:
        buffer = io.BytesIO(b"\0\1\2\3" * 50)

    monkeypatch.setattr(sys, "stdin", Stdin())
    with pytest.raises(ReadingError, match=r"^stdin: wanted one of"):
        read("-", profile())
    path = write(tmp_path, zipped(("a.csv", b"\0\1\2\3" * 50)), "log.zip")
    with pytest.raises(ReadingError, match=r"log\.zip: a\.csv: wanted one of"):
        read(path, profile())


def test_the_unpacker_gives_small_pieces() -> None:
    data = zlib.compressobj(wbits=31)
    packed = data.compress(b"\0" * (40 << 20)) + data.flush()
    sizes = [len(chunk) for chunk in _streams.unpack("gzip", io.BytesIO(packed))]
    assert sum(sizes) == 40 << 20
    assert max(sizes) <= 1 << 20


def test_a_path_that_is_not_there_is_left_to_the_reader(tmp_path: Path) -> None:
    with pytest.raises(ReadingError, match="no such file"):
        read(tmp_path / "none", profile())
