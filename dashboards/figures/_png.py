"""A picture of few colours as the text that stands in a figure for it."""

from __future__ import annotations

import base64
import struct
import zlib
from collections.abc import Sequence
from typing import Final

import numpy as np
import numpy.typing as npt

from dashboards.figures.theme import CLEAR

_UP: Final = 2
"""Filter that holds each row against the one above (ISO/IEC 15948, 9.2): rows that repeat take no room."""


def data_uri(rows: npt.NDArray[np.uint8], colours: Sequence[str]) -> str:
    """Rows of numbers of colours (each '#rrggbb', or CLEAR) as a picture: PNG (ISO/IEC 15948) in a data URI."""
    height, width = rows.shape
    filtered = np.full((height, width + 1), _UP, np.uint8)
    filtered[:, 1:] = np.diff(rows, axis=0, prepend=np.zeros((1, width), np.uint8))
    palette = b"".join(bytes.fromhex("000000" if one == CLEAR else one.removeprefix("#")) for one in colours)
    opaque = bytes(0 if one == CLEAR else 255 for one in colours)
    parts = (
        (b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 3, 0, 0, 0)),  # one byte a pixel, by palette
        (b"PLTE", palette),
        (b"tRNS", opaque),
        (b"IDAT", zlib.compress(filtered.tobytes(), 1)),
        (b"IEND", b""),
    )
    body = b"".join(
        struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data)) for name, data in parts
    )
    return "data:image/png;base64," + base64.b64encode(b"\x89PNG\r\n\x1a\n" + body).decode()
