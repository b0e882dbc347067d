"""Takes what a source gives into a real spool, as whoever follows does."""

from __future__ import annotations

import csv
import io
import time
from collections.abc import Callable
from pathlib import Path

from eventlens.live.sources import Source, open_source
from eventlens.live.sources._base import Following
from eventlens.live.spool import Spool
from eventlens.reading import Profile, load_profile

PATIENCE_S = 60.0
"""A busy machine takes as many times longer as it has more to do; only a test that fails waits for all of it."""


class Followed:
    """A source and its spool."""

    def __init__(self, address: str, folder: Path, profile: str | None = None, wait_s: float = 0.0) -> None:
        self.folder, self.notes = folder, list[str]()
        self.profile = Profile()
        if profile is not None:
            folder.mkdir(parents=True, exist_ok=True)
            (folder / "profile.toml").write_text(profile, "utf-8")
            self.profile = load_profile(folder / "profile.toml")
        self.source: Source = open_source(address, Following(self.profile, wait_s))
        self.spool = Spool(folder / "state")
        self.source.resume(self.spool.snapshot.position)

    def take(self, within_s: float = 0.05, *, keep: bool = True) -> bool:
        """One batch into the spool; keep=False: it dies before the source is told. Whether there was text."""
        batch = self.source.more(within_s)
        self.spool.take(batch)
        if batch.position is not None and keep:
            self.source.kept(batch.position)
        self.notes += batch.notes
        return bool(batch.text)

    def until(self, done: Callable[[Followed], bool], *, keep: bool = True) -> Followed:
        """Takes until something is so."""
        end = time.monotonic() + PATIENCE_S
        while not done(self):
            assert time.monotonic() < end, (self.text(), self.notes)
            self.take(keep=keep)
        return self

    def until_it_fails(self) -> None:
        """Takes until the source raises; AssertionError where it does not."""
        self.until(lambda _: False)

    def until_rows(self, number: int, *, keep: bool = True) -> Followed:
        return self.until(lambda followed: len(followed.rows()) >= number, keep=keep)

    def until_note(self, part: str) -> Followed:
        return self.until(lambda followed: any(part in note for note in followed.notes))

    def until_subscribed(self) -> Followed:
        return self.until(lambda followed: bool((followed.spool.snapshot.position or {}).get("topics")))

    def for_s(self, seconds: float) -> Followed:
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            self.take()
        return self

    def text(self) -> str:
        return "".join(path.read_text("utf-8") for path in self.spool.paths)

    def rows(self) -> list[dict[str, str]]:
        """The rows of the record."""
        return list(csv.DictReader(io.StringIO(self.text())))

    def values(self) -> list[tuple[str, str]]:
        """Name and value of the rows with an instant."""
        return [(row["signal"], row["value"]) for row in self.rows() if row["time"]]

    def close(self) -> None:
        self.source.close()
        self.spool.close()


Follow = Callable[..., Followed]
"""Follows an address: (address, profile, wait_s)."""
