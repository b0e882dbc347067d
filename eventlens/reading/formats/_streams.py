"""Packed streams unpacked in small bites: gzip, bz2, xz, zstd, also several streams one after the other."""

from __future__ import annotations

import bz2
import lzma
import zipfile
import zlib
from collections.abc import Callable, Generator
from types import MappingProxyType
from typing import BinaryIO, Final, Literal, Protocol

import zstandard

MAGICS: Final = MappingProxyType(
    {"gzip": b"\x1f\x8b\x08", "bz2": b"BZh", "xz": b"\xfd7zXZ\x00", "zstd": b"\x28\xb5\x2f\xfd"}
)
DAMAGED: Final = (zlib.error, lzma.LZMAError, zstandard.ZstdError, zipfile.BadZipFile, OSError, EOFError, ValueError)
"""What the unpackers raise for bytes that are not theirs."""
End = Literal["whole", "cut", "more"]
"""Whole, broken off, or followed by bytes that are no packed data."""

_IN: Final = 1 << 12
"""Bytes in at once: few, because zstd cannot be told to stop (one bite swells to 175 MB at the worst)."""
_OUT: Final = 1 << 20
_MEMORY: Final = 1 << 28
"""Bytes of memory that an xz or zstd stream may ask for (common practice, no source)."""


class _Decoder(Protocol):
    @property
    def eof(self) -> bool: ...
    @property
    def needs_input(self) -> bool: ...
    @property
    def unused_data(self) -> bytes: ...

    def decompress(self, data: bytes, max_length: int) -> bytes: ...


class _Gzip:
    def __init__(self) -> None:
        self._inner = zlib.decompressobj(wbits=31)
        self._full = False

    @property
    def eof(self) -> bool:
        return self._inner.eof

    @property
    def needs_input(self) -> bool:
        return not self._inner.unconsumed_tail and not self._full

    @property
    def unused_data(self) -> bytes:
        return self._inner.unused_data

    def decompress(self, data: bytes, max_length: int) -> bytes:
        out = self._inner.decompress(self._inner.unconsumed_tail + data, max_length)
        self._full = len(out) == max_length
        return out


class _Zstd:
    needs_input = True

    def __init__(self) -> None:
        self._inner = zstandard.ZstdDecompressor(max_window_size=_MEMORY).decompressobj()

    @property
    def eof(self) -> bool:
        return self._inner.eof

    @property
    def unused_data(self) -> bytes:
        return self._inner.unused_data

    def decompress(self, data: bytes, max_length: int) -> bytes:
        return self._inner.decompress(data)


_DECODERS: Final[MappingProxyType[str, Callable[[], _Decoder]]] = MappingProxyType(
    {
        "gzip": _Gzip,
        "bz2": bz2.BZ2Decompressor,
        "xz": lambda: lzma.LZMADecompressor(lzma.FORMAT_XZ, memlimit=_MEMORY),
        "zstd": _Zstd,
    }
)


def unpack(kind: str, file: BinaryIO) -> Generator[bytes, None, End]:
    """The unpacked bytes in chunks; returns how the stream ended. Raises one of DAMAGED."""
    magic, make = MAGICS[kind], _DECODERS[kind]
    decoder, data = make(), file.read(_IN)
    while True:
        if decoder.eof:
            rest = decoder.unused_data
            while not (rest := rest.lstrip(b"\0")) and (more := file.read(_IN)):
                rest = more
            if not rest:
                return "whole"
            rest += file.read(len(magic))
            if not rest.startswith(magic):
                return "more"
            decoder, data = make(), rest
        elif decoder.needs_input and not data:
            data = file.read(_IN)
            if not data:
                return "cut"
        out = decoder.decompress(data, _OUT)
        data = b""
        if out:
            yield out
