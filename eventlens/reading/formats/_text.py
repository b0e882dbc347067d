"""Bytes -> text in UTF-8 with line feeds: byte order mark, strict UTF-8, UTF-16 without a mark, else cp1252."""

from __future__ import annotations

import codecs
import mmap
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from eventlens.errors import ReadingError

_CHUNK: Final = 1 << 20
"""Bytes looked at together: they stay in the processor's cache."""
_MARKS: Final = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_LINE_END: Final = re.compile(rb"\r*\n|\r")
"""A return that was written twice before a line feed ends one line, not two."""
_BLOCK: Final = re.compile(rb"\0{8,}")
"""Memory that was never written, inside a text."""
_CONTROL: Final = bytes(sorted(frozenset(range(32)) - {1, 2, 9, 10, 12, 13, 28, 29, 30, 31}))
"""Without blanks, line ends and those that serve as delimiters."""


@dataclass(frozen=True)
class Text:
    """A text file. `source` is the file itself where its bytes can be used as they are, else converted bytes."""

    source: Path | bytes
    data: bytes | mmap.mmap
    encoding: str
    line_count: int
    has_quote: bool
    ends_with_newline: bool
    notes: tuple[str, ...]

    def head(self, size: int) -> list[str]:
        """The first lines, whole ones only."""
        text = self.data[:size].decode("utf-8", "replace").removeprefix("\ufeff")
        lines = text.split("\n")
        if len(self.data) > size or not lines[-1]:
            lines = lines[:-1] or lines
        return [line.removesuffix("\r") for line in lines]


def is_text(head: bytes) -> bool:
    """Whether the bytes can be the beginning of a text: UTF-16, or few control characters (5 %), zero blocks aside."""
    if _utf16_of(head) or any(head.startswith(mark) for mark, _ in _MARKS):
        return True
    written = _BLOCK.sub(b"", head)
    return bool(written) and len(written) - len(written.translate(None, _CONTROL)) <= 0.05 * len(written)


def lines_of_head(head: bytes) -> list[str]:
    """The lines in the first bytes of a text that hold anything; the last may be cut off."""
    text = head.decode("utf-16" if head[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig", "ignore")
    return [line for line in text.replace("\r", "\n").split("\n") if line.strip("\0 \t")]


def open_text(path: Path, stated: str | None) -> Text:
    """The file as text. `stated` is the encoding that the profile names; a wrong one is a ReadingError."""
    with path.open("rb") as file:
        data = mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ)
    found = _survey(data)
    give_back(data)
    encoding = stated or _encoding_of(data[: 1 << 16], found.is_utf8)
    if encoding in ("utf-8", "utf8") and found.is_utf8:
        if not found.has_zero and not found.lone_returns:
            lines = found.lines + (data[-1:] != b"\n")
            return Text(path, data, "utf-8", lines, found.has_quote, data[-1:] == b"\n", ())
        return _converted(data[:], "utf-8", ())
    decoded, encoding, notes = _decode(data[:], encoding, path, stated is not None)
    return _converted(decoded.encode(), encoding, notes)


def _converted(data: bytes, encoding: str, notes: tuple[str, ...]) -> Text:
    """The text with line feeds and without zero bytes: memory that was never written holds these."""
    zeros = data.count(b"\0")
    if zeros:
        notes = (*notes, f"{zeros} zero bytes in the text are left out.")
        written = data.replace(b"\0", b"")
        cut = not data.endswith((b"\n", b"\r")) and (not written or written.endswith((b"\n", b"\r")))
        data = written + b" " * cut  # a last line of zeros only is a line all the same
    feeds, returns = data.count(b"\n"), data.count(b"\r")
    if returns:
        data = _LINE_END.sub(b"\n", data)
        lone = returns > feeds > 0 and data.count(b"\n") > feeds
        notes = (*notes, "Line ends of several kinds are mixed.") if lone else notes
    ended = data[-1:] == b"\n"
    lines = data.count(b"\n") + (0 if ended or not data else 1)
    return Text(data, data, encoding, lines, b'"' in data, ended, notes)


def last_line_note(text: Text) -> tuple[str, ...]:
    """What is to be said where the text breaks off inside a line."""
    return () if text.ends_with_newline else ("The last line has no line end: its last value may be cut off.",)


def count_byte(data: bytes | mmap.mmap, byte: bytes, start: int = 0) -> int:
    """How often a byte occurs from an offset on."""
    array = np.frombuffer(data, np.uint8)
    wanted = byte[0]
    return sum(int(np.count_nonzero(array[at : at + _CHUNK] == wanted)) for at in range(start, len(array), _CHUNK))


def give_back(data: bytes | mmap.mmap) -> None:
    """Gives back the memory that a mapped file takes; what is looked at again is read again."""
    if isinstance(data, mmap.mmap) and hasattr(mmap, "MADV_DONTNEED"):
        data.madvise(mmap.MADV_DONTNEED)


def offset_of_line(data: bytes | mmap.mmap, line: int) -> int:
    """Where a physical line (from 1) begins; the length of the data if there is no such line."""
    at = 0
    for _ in range(line - 1):
        at = data.find(b"\n", at) + 1
        if at == 0:
            return len(data)
    return at


@dataclass(frozen=True)
class _Survey:
    """What one pass over the bytes shows."""

    is_utf8: bool
    lines: int
    has_quote: bool
    lone_returns: bool
    """A return without a line feed behind it."""
    has_zero: bool


def _survey(data: mmap.mmap) -> _Survey:
    decoder = codecs.getincrementaldecoder("utf-8")("strict")
    valid, plain = True, True
    lines = 0
    has_quote = has_zero = False
    returns = pairs = 0
    before = b""
    for at in range(0, len(data), _CHUNK):
        chunk = data[at : at + _CHUNK]
        lines += count_byte(chunk, b"\n")
        has_quote = has_quote or b'"' in chunk
        has_zero = has_zero or b"\0" in chunk
        if b"\r" in chunk or before == b"\r":
            returns += count_byte(chunk, b"\r")
            pairs += chunk.count(b"\r\n") + (before == b"\r" and chunk[:1] == b"\n")
        before = chunk[-1:]
        plain = plain and chunk.isascii()
        if valid and not plain:
            valid = _decodes(decoder, chunk, at + _CHUNK >= len(data))
    return _Survey(valid, lines, has_quote, returns > pairs, has_zero)


def _decodes(decoder: codecs.IncrementalDecoder, chunk: bytes, last: bool) -> bool:
    try:
        decoder.decode(chunk, last)
    except UnicodeDecodeError:
        return False
    return True


def _encoding_of(head: bytes, valid_utf8: bool) -> str:
    for mark, name in _MARKS:
        if head.startswith(mark):
            return name
    return _utf16_of(head) or ("utf-8" if valid_utf8 else "")


def _utf16_of(head: bytes) -> str | None:
    """UTF-16 without a mark, told by the zero bytes of its plain letters."""
    even, odd = head[0::2].count(0), head[1::2].count(0)
    half = max(len(head) // 2, 1)
    if odd > 0.6 * half and even < 0.1 * half:
        return "utf-16-le"
    if even > 0.6 * half and odd < 0.1 * half:
        return "utf-16-be"
    return None


def _decode(data: bytes, encoding: str, path: Path, stated: bool) -> tuple[str, str, tuple[str, ...]]:
    if encoding:
        try:
            return data.decode(encoding).removeprefix("\ufeff"), encoding, ()
        except LookupError:
            raise ReadingError("a known encoding", f"'{encoding}'", "correct it in the profile", file=path) from None
        except UnicodeDecodeError as fault:
            if stated:
                line = data.count(b"\n", 0, fault.start) + 1
                got = f"the byte 0x{data[fault.start]:02x}"
                raise ReadingError(
                    f"text in {encoding}", got, "correct the encoding in the profile", file=path, line=line
                ) from None
            return data.decode(encoding, "replace"), encoding, (f"Damaged characters in the {encoding} text.",)
    text = data.decode("utf-8", "replace")
    damaged = text.count("\ufffd")
    if sum(character > "\x7f" for character in text) - damaged > damaged:
        return text, "utf-8", ("The text is UTF-8 with damaged characters in it.",)
    note = "The text is not UTF-8: read as cp1252; state [log] encoding in the profile if letters look wrong."
    return data.decode("cp1252", "replace"), "cp1252", (note,)
