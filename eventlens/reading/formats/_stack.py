"""Tables that grow piece by piece in temporary files, and are mapped in one piece in the end (see `spill`).

A column is kept as Arrow lays it out. Numbers and instants stand one after the other. Of a text there is a view of 16
bytes for each cell (its length and, up to 12 bytes, the text itself; of a longer one its first 4 bytes, the number of
the data buffer and the place in it), and data buffers. Columns whose texts are listed take four bytes a cell at most
and truth values a bit: they stay in memory.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from types import TracebackType
from typing import Any, Final

import numpy as np
import polars as pl
import pyarrow as pa

from eventlens.spill import mapped

MOST_COLUMNS: Final = 64
"""Each column has two files open or more; systems allow a program a thousand or so."""
_WITHIN: Final = 12
"""Texts of so many bytes stand in their view."""
_BUFFER: Final = 1 << 30
"""A data buffer is not longer; places in it are numbers of 31 bits."""


class NoRoomError(OSError):
    """The disk has no room for a table."""


@contextmanager
def _needs_room() -> Iterator[None]:
    try:
        yield
    except OSError as fault:
        raise NoRoomError(*fault.args) from fault


class _Fixed:
    """One column whose cells are of one width."""

    def __init__(self, folder: Path, number: int) -> None:
        self._folder, self._number = folder, number
        self._cells = self._file("cells").open("wb")
        self._known: list[pl.Series] = []
        self._type: Any = None

    def add(self, cells: pl.Series) -> None:
        """More cells below those that are there, in one piece."""
        # without its name: one with a zero byte in it, as damage makes them, cannot be handed over
        array: Any = cells.alias("").to_arrow(compat_level=pl.CompatLevel.newest())
        self._type = array.type
        self._cells.write(self._laid_out(array))
        self._known.append(cells.is_not_null())

    def _laid_out(self, array: Any) -> memoryview:
        """The bytes of the cells; those of a null are anything."""
        width = array.type.byte_width
        return memoryview(array.buffers()[1])[array.offset * width : (array.offset + len(array)) * width]

    def _file(self, what: object) -> Path:
        return self._folder / f"{self._number}.{what}"

    def close(self) -> None:
        self._cells.close()

    def whole(self) -> pl.Series:
        """All cells; no file is needed by its name any more."""
        self.close()
        known = pl.concat(self._known)
        bits = None if known.all() else pa.py_buffer(np.packbits(known.to_numpy(), bitorder="little"))
        buffers = [pa.py_buffer(mapped(path)) for path in self._files()] if len(known) else [pa.py_buffer(b"")]
        found: Any = pl.from_arrow(pa.Array.from_buffers(self._type, len(known), [bits, *buffers]))
        return found  # type: ignore[no-any-return]

    def _files(self) -> list[Path]:
        """What the cells lie in."""
        return [self._file("cells")]


class _Texts(_Fixed):
    """One column of texts: its cells are views."""

    def __init__(self, folder: Path, number: int) -> None:
        super().__init__(folder, number)
        self._sizes: list[int] = []

    def _laid_out(self, array: Any) -> memoryview:
        _, views, *data = array.buffers()
        view = np.frombuffer(views, np.int32).reshape(-1, 4)[array.offset : array.offset + len(array)].copy()
        if array.null_count:
            view[array.is_null().to_numpy(zero_copy_only=False)] = 0
        long = view[:, 0] > _WITHIN
        if len(data) == 1 and long.any():  # which may be that of a longer column, of which these are a part
            first = int(view[long, 3].min())
            data = [memoryview(data[0])[first : int((view[long, 3] + view[long, 0]).max())]]
            view[long, 3] -= first
        places = np.array([self._append(buffer) for buffer in data], np.int32).reshape(-1, 2)
        buffer, begin = places[view[long, 2]].T if len(places) else (0, 0)
        view[long, 3] += begin
        view[long, 2] = buffer
        return view.data

    def _append(self, buffer: Any) -> tuple[int, int]:
        """Which data buffer the bytes went into, and where they begin in it."""
        if not self._sizes or (self._sizes[-1] and self._sizes[-1] + len(buffer) > _BUFFER):
            self._sizes.append(0)
        place = len(self._sizes) - 1, self._sizes[-1]
        with self._file(place[0]).open("ab") as file:
            file.write(buffer)
        self._sizes[-1] += len(buffer)
        return place

    def _files(self) -> list[Path]:
        return [self._file("cells"), *(self._file(number) for number, size in enumerate(self._sizes) if size)]


class _Narrow:
    """One column that stays in memory."""

    def __init__(self) -> None:
        self._parts: list[pl.Series] = []

    def add(self, cells: pl.Series) -> None:
        self._parts.append(cells)

    def close(self) -> None:
        pass

    def whole(self) -> pl.Series:
        """All cells."""
        return pl.concat(self._parts, rechunk=True)


def _column(dtype: pl.DataType, folder: Path, number: int) -> _Fixed | _Narrow:
    """An empty column for cells of a type."""
    if dtype == pl.String:
        return _Texts(folder, number)
    return _Fixed(folder, number) if dtype.is_numeric() or isinstance(dtype, pl.Datetime) else _Narrow()


class Stack:
    """A table that grows by pieces of the same columns; a context that takes its files away. One piece alone stays in
    memory. Columns: texts (plain or listed), numbers, instants, truth values."""

    def __init__(self, names: Sequence[str] = ()) -> None:
        """names: the columns of a table without any piece."""
        self._names = names
        self._only: pl.DataFrame | None = None
        self._columns: dict[str, _Fixed | _Narrow] = {}

    @_needs_room()
    def add(self, piece: pl.DataFrame) -> None:
        """More rows below those that are there, or NoRoomError."""
        if self._only is None:
            self._only = piece
            return
        if not self._columns:
            self._folder = TemporaryDirectory(prefix="eventlens-", ignore_cleanup_errors=True)
            folder = Path(self._folder.name)
            self._columns = {
                column.name: _column(column.dtype, folder, at) for at, column in enumerate(piece.iter_columns())
            }
            self._lay_down(self._only)
            self._only = piece.clear()
        self._lay_down(piece)

    def _lay_down(self, piece: pl.DataFrame) -> None:
        for name, column in self._columns.items():
            column.add(piece[name].rechunk())

    @_needs_room()
    def whole(self) -> pl.DataFrame:
        """All rows, in one piece, or NoRoomError."""
        if not self._columns:
            return self._only if self._only is not None else pl.DataFrame(schema=dict.fromkeys(self._names, pl.String))
        return pl.DataFrame([column.whole().alias(name) for name, column in self._columns.items()])

    def __enter__(self) -> Stack:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        for column in self._columns.values():
            column.close()
        if self._columns:
            self._folder.cleanup()
