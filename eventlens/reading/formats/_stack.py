"""Columns of text that grow piece by piece in temporary files, and are mapped in one piece in the end (see `spill`).

A column is kept as Arrow lays out texts: a view of 16 bytes for each cell (its length and, up to 12 bytes, the text
itself; of a longer one its first 4 bytes, the number of the data buffer and the place in it), and data buffers. Columns
whose texts are listed take two bytes a cell: they stay in memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from tempfile import TemporaryDirectory
from types import TracebackType
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import polars as pl
import pyarrow as pa

from eventlens.spill import mapped

MOST_COLUMNS: Final = 64
"""Each column has two files open or more; systems allow a program a thousand or so."""
_WITHIN: Final = 12
"""Texts of so many bytes stand in their view."""
_BUFFER: Final = 1 << 30
"""A data buffer is not longer; places in it are numbers of 31 bits."""


class _Column:
    """One column."""

    def __init__(self, folder: Path, number: int) -> None:
        self._folder, self._number = folder, number
        self._views = (folder / f"{number}.views").open("wb")
        self._sizes: list[int] = []
        self._known: list[npt.NDArray[np.bool_]] = []
        self._nulls = 0

    def add(self, cells: pl.Series) -> None:
        array: Any = cells.to_arrow(compat_level=pl.CompatLevel.newest())
        _, views, *data = array.buffers()
        view = np.frombuffer(views, np.int32).reshape(-1, 4)[array.offset : array.offset + len(cells)].copy()
        known = cells.is_not_null().to_numpy()
        view[~known] = 0
        places = np.array([self._append(buffer) for buffer in data], np.int32).reshape(-1, 2)
        long = view[:, 0] > _WITHIN
        buffer, begin = places[view[long, 2]].T if len(places) else (0, 0)
        view[long, 3] += begin
        view[long, 2] = buffer
        self._views.write(view.data)
        self._known.append(known)
        self._nulls += cells.null_count()

    def _append(self, buffer: Any) -> tuple[int, int]:
        """Which data buffer the bytes went into, and where they begin in it."""
        if not self._sizes or self._sizes[-1] + len(buffer) > _BUFFER:
            self._sizes.append(0)
        place = len(self._sizes) - 1, self._sizes[-1]
        with self._data(place[0]).open("ab") as file:
            file.write(buffer)
        self._sizes[-1] += len(buffer)
        return place

    def _data(self, number: int) -> Path:
        return self._folder / f"{self._number}.{number}"

    def close(self) -> None:
        self._views.close()

    def whole(self) -> pl.Series:
        """All cells; no file is needed by its name any more."""
        self.close()
        known = np.concatenate(self._known)
        bits = pa.py_buffer(np.packbits(known, bitorder="little")) if self._nulls else None
        data = [pa.py_buffer(mapped(self._data(number))) for number, size in enumerate(self._sizes) if size]
        views = pa.py_buffer(mapped(self._folder / f"{self._number}.views"))
        found: Any = pl.from_arrow(pa.Array.from_buffers(pa.string_view(), len(known), [bits, views, *data]))
        return found  # type: ignore[no-any-return]


class _Listed:
    """One column whose texts are listed."""

    def __init__(self) -> None:
        self._parts: list[pl.Series] = []

    def add(self, cells: pl.Series) -> None:
        self._parts.append(cells)

    def close(self) -> None:
        pass

    def whole(self) -> pl.Series:
        """All cells."""
        return pl.concat(self._parts, rechunk=True)


class Stack:
    """A table of texts that grows by pieces; a context that takes its files away. One piece alone stays in memory."""

    def __init__(self, names: Sequence[str]) -> None:
        self._names = names
        self._only: pl.DataFrame | None = None
        self._columns: list[_Column | _Listed] = []

    def add(self, piece: pl.DataFrame) -> None:
        """More rows below those that are there; OSError where the disk has no room for them."""
        if self._only is None:
            self._only = piece
            return
        if not self._columns:
            self._folder = TemporaryDirectory(prefix="eventlens-", ignore_cleanup_errors=True)
            folder = Path(self._folder.name)
            is_text = [dtype == pl.String for dtype in piece.dtypes]
            self._columns = [_Column(folder, at) if text else _Listed() for at, text in enumerate(is_text)]
            self._lay_down(self._only)
            self._only = piece.clear()
        self._lay_down(piece)

    def _lay_down(self, piece: pl.DataFrame) -> None:
        for name, column in zip(self._names, self._columns, strict=True):
            column.add(piece[name].rechunk())

    def whole(self) -> pl.DataFrame:
        """All rows, in one piece."""
        if not self._columns:
            return self._only if self._only is not None else pl.DataFrame(schema=dict.fromkeys(self._names, pl.String))
        return pl.DataFrame(
            [column.whole().alias(name) for name, column in zip(self._names, self._columns, strict=True)]
        )

    def __enter__(self) -> Stack:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        for column in self._columns:
            column.close()
        if self._columns:
            self._folder.cleanup()
