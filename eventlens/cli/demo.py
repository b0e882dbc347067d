"""The demonstration as an archive, for `eventlens dashboard --demo`: machine by machine, as many at a time as cores."""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor, as_completed
from multiprocessing import get_context
from pathlib import Path
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from eventlens.archive import Archive

WEEKS: Final = 12
"""As `eventlens sample` writes: as long as the stories need."""
WRITTEN_DOWN: Final = {
    "SLAB-1": {"exchanged": ["2026-04-27T06:00 relay of raise"]},
    "SAW-3": {"repair": ["2026-04-20T06:00 brake lining renewed"]},
}
"""What the people of the demonstration wrote down: the work that its stories tell (weeks 9 and 8 from 2026-W10 on)."""
MOST_WORKERS: Final = 6
"""A process for each machine; each takes some hundred megabytes."""


def prepare(folder: Path, tell: Callable[[str], None], weeks: int = WEEKS) -> Archive:
    """An archive of the demonstration in a folder, its weeks reviewed; some minutes of work, shared by the cores."""
    import eventlens
    from eventlens.simulation.yard import STORIES

    names = [story.machine.id for story in STORIES]
    tell(f"simulating and reviewing {weeks} weeks of {len(names)} machines, a minute or two")
    workers = min(MOST_WORKERS, os.cpu_count() or 1)
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        todo = {pool.submit(keep, folder, number, weeks): name for number, name in enumerate(names)}
        for count, done in enumerate(as_completed(todo), 1):
            done.result()
            tell(f"{todo[done]} is ready, {count} of {len(names)}")
    return eventlens.Archive(folder / "archive")


def keep(folder: Path, number: int, weeks: int) -> None:
    """Simulates one machine (its place in the yard), adds its dumps to the archive and reviews its weeks."""
    import eventlens
    from eventlens.simulation import demonstration
    from eventlens.simulation.yard import STORIES

    name = STORIES[number].machine.id
    demonstration.write_machine(folder / "logs", number, range(1, weeks + 1))
    home, archive = folder / "logs" / name, eventlens.Archive(folder / "archive")
    dumps = sorted(home.glob("*.csv"))
    told = WRITTEN_DOWN.get(name)
    archive.add(dumps, home / "machine.toml", home / "profile.toml", notes=told, who="demonstration")
    archive.bring_up_to_date(name)
