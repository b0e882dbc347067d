"""Pictures of the tests: colours of a PNG, of a figure or of a screen."""

from __future__ import annotations

import base64
import struct
import zlib
from typing import Any

import numpy as np
import numpy.typing as npt
import plotly.graph_objects as go

Pixels = npt.NDArray[np.uint8]
"""(rows, columns, red, green, blue and opacity)."""


def read_png(data: bytes) -> Pixels:
    """The pixels of a PNG of eight bits a channel without interlacing (ISO/IEC 15948)."""
    at, chunks = 8, {b"IDAT": b""}
    while at < len(data):
        (length,) = struct.unpack(">I", data[at : at + 4])
        name, body = data[at + 4 : at + 8], data[at + 8 : at + 8 + length]
        chunks[name] = chunks.get(name, b"") + body
        at += 12 + length
    width, height, depth, kind = struct.unpack(">IIBB", chunks[b"IHDR"][:10])
    assert depth == 8
    channels = {2: 3, 3: 1, 6: 4}[kind]
    raw = np.frombuffer(zlib.decompress(chunks[b"IDAT"]), np.uint8).reshape(height, 1 + width * channels)
    rows = _unfiltered(raw, channels).reshape(height, width, channels)
    if kind == 3:
        palette = np.frombuffer(chunks[b"PLTE"], np.uint8).reshape(-1, 3)
        opaque = np.frombuffer(chunks[b"tRNS"], np.uint8)
        return np.concatenate([palette[rows[..., 0]], opaque[rows]], axis=-1)
    if kind == 2:
        return np.concatenate([rows, np.full((height, width, 1), 255, np.uint8)], axis=-1)
    return rows


def _unfiltered(raw: Pixels, step: int) -> Pixels:
    """Rows as they were before filtering (ISO/IEC 15948, 9.2)."""
    if (raw[:, 0] == 2).all():
        return np.cumsum(raw[:, 1:], axis=0, dtype=np.uint8)
    above = np.zeros(raw.shape[1] - 1, np.int64)
    rows = []
    for kind, *rest in raw.tolist():
        row = np.array(rest, np.int64)
        if kind == 2:
            row += above
        elif kind in (1, 3, 4):
            for n in range(len(row)):
                left = int(row[n - step]) if n >= step else 0
                corner = int(above[n - step]) if n >= step else 0
                row[n] += {1: left, 3: (left + int(above[n])) // 2}.get(kind, _nearest(left, int(above[n]), corner))
                row[n] &= 255
        above = row & 255
        rows.append(above)
    return np.array(rows, np.uint8)


def _nearest(left: int, above: int, corner: int) -> int:
    guess = left + above - corner
    return min((left, above, corner), key=lambda one: abs(guess - one))


def colour_of(text: str) -> tuple[int, int, int]:
    """'#rrggbb' as numbers."""
    red, green, blue = bytes.fromhex(text.removeprefix("#"))
    return red, green, blue


def picture_of(figure: go.Figure) -> Pixels | None:
    """The picture of the lanes in a figure; None where it has none."""
    found: list[Any] = [one for one in figure.layout.images if one.name == "picture"]
    return read_png(base64.b64decode(found[0].source.partition(",")[2])) if found else None
