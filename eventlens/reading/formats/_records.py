"""Flat records of texts, made from parsed JSON, each with the line on which it begins."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import polars as pl

from eventlens import schema
from eventlens.reading.formats._bounds import check_width
from eventlens.reading.formats._table import unique_names
from eventlens.reading.raw import TEXT_KEPT

BROKEN: Final = "no JSON record"
NOT_A_RECORD: Final = "JSON, but no record"
TOO_LONG: Final = "record is too long"
MISFIT: Final = "more cells than the header has names"

_BATCH: Final = 20_000
Cells = dict[str, str | None]


class Pairs(list[tuple[str, Any]]):
    """An object as it stands, names that come twice too."""


@dataclass
class Records:
    """Records found so far."""

    path: Path
    first_line: int = 1
    blank: int = 0
    notes: list[str] = field(default_factory=list)
    header: list[str] | None = None
    """Names of the cells where records are arrays."""
    _names: dict[str, None] = field(default_factory=dict)
    _batch: list[Cells] = field(default_factory=list)
    _frames: list[pl.DataFrame] = field(default_factory=list)
    _lines: list[int] = field(default_factory=list)
    _refused: list[tuple[int, str, str]] = field(default_factory=list)
    _twice: int | None = None

    def add(self, value: Any, line: int, text: str) -> None:
        """One record: an object, or an array of cells."""
        if isinstance(value, Pairs):
            cells: Cells = {}
            self._flatten(value, "", cells, line)
        elif isinstance(value, list):
            found = self._by_position(value, line, text)
            if found is None:
                return
            cells = found
        else:
            self.refuse(line, NOT_A_RECORD, text)
            return
        if any(cell is not None for cell in cells.values()):
            self._keep(cells, line)
        else:
            self.blank += 1

    @property
    def count(self) -> int:
        """Records taken and set aside."""
        return len(self._lines) + len(self._refused)

    def refuse(self, line: int, reason: str, text: str) -> None:
        """Sets something aside."""
        self._refused.append((line, reason, text.strip()[:TEXT_KEPT]))

    def _by_position(self, value: list[Any], line: int, text: str) -> Cells | None:
        texts = [_text(cell) for cell in value]
        if self.header is None:
            named = bool(value) and all(isinstance(cell, str) and not _is_number(cell) for cell in value)
            plain = named and not any(re.match(r"\d{1,4}[-./:]\d", cell) for cell in value)
            self.header = [cell or "" for cell in texts] if plain else []
            if plain:
                self.first_line = line + 1
                return None
        if self.header and len(texts) > len(self.header):
            self.refuse(line, MISFIT, text)
            return None
        names = self.header or [f"column_{at + 1}" for at in range(len(texts))]
        return {name: cell for name, cell in zip(names, texts, strict=False) if cell is not None}

    def _flatten(self, pairs: Pairs, prefix: str, cells: Cells, line: int) -> None:
        for key, value in pairs:
            name = prefix + key.strip()
            if isinstance(value, Pairs):
                self._flatten(value, name + ".", cells, line)
                continue
            if name in cells:
                number = 2
                while f"{name}_{number}" in cells:
                    number += 1
                if self._twice is None:
                    self._twice = line
                    self.notes.append(
                        f"A record holds '{name[:60]}' twice (first in line {line}): the second is in '{name[:60]}_2'."
                    )
                name = f"{name}_{number}"
            cells[name] = _text(value)

    def _keep(self, cells: Cells, line: int) -> None:
        if not cells.keys() <= self._names.keys():
            self._names.update(dict.fromkeys(cells))
            check_width(len(self._names), self.path)
        self._batch.append(cells)
        self._lines.append(line)
        if len(self._batch) == _BATCH:
            self._close()

    def _close(self) -> None:
        if not self._batch:
            return
        try:
            self._frames.append(self._table())
        except UnicodeEncodeError:  # half a character, written as an escape
            self._names = {_encodable(name): None for name in self._names}
            self._batch = [
                {_encodable(name): cell and _encodable(cell) for name, cell in cells.items()} for cells in self._batch
            ]
            self._frames.append(self._table())
        self._batch = []

    def _table(self) -> pl.DataFrame:
        columns = {name: [cells.get(name) for cells in self._batch] for name in self._names}
        return pl.DataFrame(columns, schema=dict.fromkeys(self._names, pl.String))

    def frame(self) -> pl.DataFrame:
        """All records; names in the order in which they came."""
        self._close()
        found = pl.concat(self._frames, how="diagonal") if self._frames else pl.DataFrame()
        return found.rename(dict(zip(found.columns, unique_names(found.columns), strict=True)))

    def begin(self) -> int:
        """First line that holds data."""
        return min([self.first_line, *self._lines[:1], *(line for line, _, _ in self._refused[:1])])

    def lines(self) -> pl.Series:
        """Line of each record."""
        return pl.Series(self._lines, dtype=schema.ROW)

    def rejected(self) -> pl.DataFrame:
        """schema.REJECTED."""
        rows = [{"row": line, "reason": why, "text": text} for line, why, text in self._refused]
        return pl.DataFrame(rows, schema=schema.REJECTED.schema)


def _encodable(text: str) -> str:
    return text.encode("utf-8", "replace").decode()


def _is_number(cell: str) -> bool:
    return re.fullmatch(r"[-+]?\d+(?:[.,]\d+)?", cell) is not None


def _text(value: Any) -> str | None:
    """A cell as the text that stood in the file (numbers), or its plain text."""
    if value is None or isinstance(value, str):
        return value
    if isinstance(value, bool):
        return "true" if value else "false"
    return json.dumps(_plain(value), ensure_ascii=False)


def _plain(value: Any) -> Any:
    if isinstance(value, Pairs):
        return {key: _plain(inner) for key, inner in value}
    return [_plain(inner) for inner in value] if isinstance(value, list) else value
