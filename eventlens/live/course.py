"""How far somebody who follows is, for another thread to read: single values, each put in place as a whole."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from eventlens.live.sources import Batch

_BLOCK: Final = 1 << 20


class Course:
    """What came, and what is being done with it."""

    def __init__(self, paths: Sequence[Path], trouble: Callable[[], str]) -> None:
        """paths: the record that is there already; trouble: what stands between it and the source now."""
        self.trouble = trouble
        self.lines = sum(_lines_in(path) for path in paths)
        self.came: datetime | None = None
        self.record_end: datetime | None = None
        self.looking: datetime | None = None
        self.told = 0

    def took(self, batch: Batch) -> None:
        """A batch is on the disk."""
        if batch.text:
            self.lines += batch.text.count(b"\n")
            self.came = batch.came or datetime.now(UTC)

    @contextmanager
    def look(self) -> Iterator[None]:
        """It is being looked at."""
        self.looking = datetime.now(UTC)
        try:
            yield
        finally:
            self.looking = None


def _lines_in(path: Path) -> int:
    with path.open("rb") as file:
        return sum(block.count(b"\n") for block in iter(lambda: file.read(_BLOCK), b""))
