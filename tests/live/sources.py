"""Sources for tests: bytes that come in chunks, and a file that is written, rotated and cut off."""

from __future__ import annotations

from collections.abc import Sequence

from eventlens.live import Batch, Position

HEADER = "time,signal,value\n"


class Chunks:
    """Bytes that come in chunks of given sizes, over and over; a position is how far they were given."""

    name = "chunks"
    trouble = ""

    def __init__(self, text: bytes, sizes: Sequence[int], *, ends: bool = True) -> None:
        self.text, self.sizes, self.ends = text, list(sizes), ends
        self.at = self.turn = 0
        self.kept_at: list[int] = []
        self.closed = False

    def resume(self, position: Position | None) -> None:
        self.at = 0 if position is None else int(position["at"])

    def more(self, within_s: float) -> Batch:
        size = self.sizes[self.turn % len(self.sizes)]
        self.turn += 1
        begins = "log.csv" if self.at == 0 else None
        text = self.text[self.at : self.at + size]
        self.at += len(text)
        return Batch(text, {"at": self.at}, begins, ended=self.ends and self.at == len(self.text))

    def kept(self, position: Position) -> None:
        self.kept_at.append(int(position["at"]))

    def close(self) -> None:
        self.closed = True


class Killed(BaseException):
    """The program dies here."""


class Dying:
    """Kills at the n-th durable step; later steps are only counted."""

    def __init__(self, at: int | None) -> None:
        self.at, self.count = at, 0

    def __call__(self, name: str) -> None:
        self.count += 1
        if self.count == self.at:
            raise Killed(name)
