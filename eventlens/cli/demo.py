"""The demonstration as an archive, for `eventlens dashboard --demo`.

It is built while its pages are served already, the latest weeks of every machine first, as many parts at a time as
there are cores. What was built once is kept in the user's cache folder, under a name that stands for everything it
rests on, and is taken from there if it still is what was put there.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
import threading
from collections.abc import Iterator
from contextlib import suppress
from multiprocessing import get_context
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from eventlens.archive import Archive

WEEKS: Final = 12
"""As `eventlens sample` writes: as long as the stories need."""
PARTS: Final = 3
"""Parts in which the weeks of a machine come, the latest first: of twelve weeks four at a time, as many as a trend
needs, so that there is soon something to see."""
WRITTEN_DOWN: Final = {
    "SLAB-1": {"exchanged": ["2026-04-27T06:00 relay of raise"]},
    "SAW-3": {"repair": ["2026-04-20T06:00 brake lining renewed"]},
}
"""What the people of the demonstration wrote down: the work that its stories tell (weeks 9 and 8 from 2026-W10 on)."""
MOST_WORKERS: Final = 6
"""Each takes some hundred megabytes."""
MANIFEST: Final = "manifest.json"
_KEY: Final = re.compile(r"[0-9a-f]{32}")
Task = tuple[Path, int, range]


class Demonstration:
    """The demonstration in a folder, which is filled in the background."""

    def __init__(self, folder: Path, weeks: int = WEEKS, cache: Path | None = None) -> None:
        """cache: where what is built stays for the next time; None: nowhere."""
        self._folder, self._weeks, self._cache = folder, weeks, cache
        self._stage: str | None = "the demonstration begins"
        self._pool: Any = None
        self._stopped = threading.Event()
        self._thread = threading.Thread(target=self._build, name="demonstration", daemon=True)

    @property
    def archive(self) -> Archive:
        """The archive, whether it is there yet or not."""
        import eventlens

        return eventlens.Archive(self._folder / "archive")

    def start(self) -> None:
        """Takes it from the cache, or begins to build it."""
        if self._cache is not None and taken(self._cache / key(self._weeks), self._folder / "archive"):
            self._stage = None
            return
        self._thread.start()

    def stage(self) -> str | None:
        """What is being built, or why nothing is; None: it is all there."""
        return self._stage

    def wait(self) -> None:
        """Until it is all there, or given up."""
        if self._thread.ident is not None:
            self._thread.join()

    def stop(self) -> None:
        """Ends the building wherever it is."""
        self._stopped.set()
        if self._pool is not None:
            self._pool.terminate()

    def _build(self) -> None:
        tasks = list(parts(self._folder, self._weeks))
        workers = min(MOST_WORKERS, os.cpu_count() or 1, len(tasks))
        self._say(0, len(tasks))
        try:
            with get_context("spawn").Pool(workers) as pool:
                self._pool = pool
                for done, _ in enumerate(pool.imap_unordered(keep, tasks), 1):
                    if self._stopped.is_set():
                        return
                    self._say(done, len(tasks))
            if self._cache is not None:
                store(self._folder / "archive", self._cache, key(self._weeks))
            self._stage = None
        except Exception as fault:  # nobody else would tell it
            self._stage = f"the demonstration could not be built ({type(fault).__name__}: {fault})"

    def _say(self, done: int, of: int) -> None:
        self._stage = f"the demonstration is being simulated, {done} of {of} parts are there"


def parts(folder: Path, weeks: int) -> Iterator[Task]:
    """What there is to do: the latest weeks of every machine, then those before."""
    from eventlens.simulation.yard import STORIES

    size = -(-weeks // PARTS)
    for last in range(weeks, 0, -size):
        for number in range(len(STORIES)):
            yield folder, number, range(max(1, last - size + 1), last + 1)


def keep(task: Task) -> None:
    """Simulates weeks of one machine (its place in the yard), adds its dumps to the archive and reviews them."""
    import eventlens
    from eventlens.simulation import demonstration
    from eventlens.simulation.yard import STORIES

    folder, number, weeks = task
    name = STORIES[number].machine.id
    logs = folder / f"logs-{weeks.start}"
    demonstration.write_machine(logs, number, weeks)
    home, archive = logs / name, eventlens.Archive(folder / "archive")
    dumps = sorted(home.glob("*.csv"))
    told = WRITTEN_DOWN.get(name)
    archive.add(dumps, home / "machine.toml", home / "profile.toml", notes=told, who="demonstration")
    archive.bring_up_to_date(name)
    shutil.rmtree(home, ignore_errors=True)


# --- the cache


def cache_folder() -> Path:
    """Where this system keeps what programs can make again."""
    import platformdirs

    return platformdirs.user_cache_path("eventlens", appauthor=False) / "demonstration"


def key(weeks: int) -> str:
    """What stands for everything that the demonstration rests on: the program itself, and what stores its tables."""
    import deltalake
    import polars as pl

    import eventlens

    root = Path(eventlens.__file__).parent
    said = hashlib.sha256(f"{weeks} {PARTS} {pl.__version__} {deltalake.__version__}".encode())
    for path in sorted(root.rglob("*")):
        if path.suffix in (".py", ".toml"):
            said.update(str(path.relative_to(root)).encode() + b"\0" + path.read_bytes())
    return said.hexdigest()[:32]


def manifest(folder: Path) -> dict[str, str]:
    """SHA-256 of every file below a folder, by its path in it."""
    files = (path for path in sorted(folder.rglob("*")) if path.is_file())
    return {path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def store(archive: Path, cache: Path, name: str) -> None:
    """Keeps a copy of the archive, whole or not at all, and lets go of those that rest on another program."""
    rough = cache / f"{name}.{os.getpid()}"
    with suppress(OSError):  # without it the next start takes longer, nothing else
        shutil.copytree(archive, rough / "archive")
        (rough / MANIFEST).write_text(json.dumps(manifest(rough / "archive")), "utf-8")
        for old in cache.iterdir():
            if _KEY.fullmatch(old.name) and old.name != name:
                shutil.rmtree(old, ignore_errors=True)
        os.replace(rough, cache / name)
    shutil.rmtree(rough, ignore_errors=True)


def taken(kept: Path, target: Path) -> bool:
    """Whether a kept archive is what was put there; then a copy of it lies at the target."""
    try:
        wanted = json.loads((kept / MANIFEST).read_text("utf-8"))
        shutil.copytree(kept / "archive", target)
        if manifest(target) == wanted:
            return True
    except (OSError, ValueError, shutil.Error):
        pass
    shutil.rmtree(target, ignore_errors=True)
    shutil.rmtree(kept, ignore_errors=True)
    return False
