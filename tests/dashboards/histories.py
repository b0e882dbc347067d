"""Weeks of several machines to look at: written by hand, and a small archive of real dumps."""

from __future__ import annotations

import atexit
import shutil
import tempfile
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path

import polars as pl

from dashboards.data import History
from eventlens import schema
from eventlens.archive import Archive
from eventlens.archive.tables import ENTRIES, REVIEWS, WEEKLY
from eventlens.trends import Weeks, trends_of
from tests.archive.stories import row, write
from tests.trends.tables import FIRST, counted, timed, together, week

QUIET = [2, 1, 3, 2, 1, 2, 3, 2, 2, 1, 3, 2]
GROWS = [1, 2, 1, 2, 1, 2, 1, 2, 40, 44, 47, 52]
"""Drop-outs in each of twelve weeks of a thousand starts."""
DROP_OUT = "drop_out/hoist"
NAMES = ("DOCK-5", "SLAB-1")
"""The machines of the small archive; SLAB-1 drops out in its second week."""


@cache
def weekly() -> Weeks:
    """SAW-3 drops out more and more, SLAB-1 as ever; a release time grows; SPARE-6 has hardly any log."""
    return together(
        counted("SAW-3", GROWS),
        counted("SLAB-1", QUIET),
        counted("SPARE-6", [0, 1], first=9, uses=20.0),
        timed("SAW-3", [0.20 + 0.02 * n for n in range(12)]),
        timed("SLAB-1", [0.20] * 12),
    )


@cache
def history() -> History:
    """`weekly` as the pages get it; the last week of SLAB-1 has no review."""
    return history_of(weekly(), silent=("SLAB-1", week(11)))


@cache
def yard() -> History:
    """SAW-3 among eleven sisters in order: enough of them for it to lie beyond the limits."""
    sisters = [counted(f"SLAB-{n}", [n % 3, *QUIET[1:]]) for n in range(1, 12)]
    return history_of(together(counted("SAW-3", GROWS), *sisters))


def history_of(weeks: Weeks, silent: tuple[str, str] | None = None) -> History:
    """What the pages get; silent: machine and week without a review."""
    monday = datetime(2025, 12, 15, tzinfo=UTC)
    period = {"start": monday, "end": monday + timedelta(days=7), "key": "", "made": monday}
    stored = pl.DataFrame(
        [
            {"machine": machine, "week": name, "why": "nothing was recorded" if (machine, name) == silent else None}
            | period
            for machine, name in weeks.counts.select("machine", "week").unique().sort("machine", "week").rows()
        ],
        schema={name: dtype for name, dtype in REVIEWS.schema.items() if name not in ("review", *WEEKLY)},
    )
    entry = {"machine": "SAW-3", "id": "1", "kind": "repair", "at": monday, "name": None, "who": "test"}
    entries = pl.DataFrame([entry | {"text": "<b>brake</b> adjusted", "added": monday}], schema=ENTRIES.schema)
    return History(trends_of(weeks), weeks, stored, entries)


@cache
def aging() -> History:
    """SAW-3 uses 4 h of full load in each of twelve weeks, 1200 of its 1600 h before them; SLAB-1 has no group."""
    days = [
        {
            "machine": "SAW-3",
            "week": week(number),
            "day": f"{FIRST + timedelta(weeks=number, days=day)}",
            "weekday": day + 1,
            "observed": 1.0,
            "full_load_h": 0.8 if day < 5 else 0.0,
            "duration_h": 1600.0,
            "stated_h": 1200.0,
            "stated_at": None,
            "until": datetime(2026, 3, 9, tzinfo=UTC),
            "how": "measured",
            "source": "FEM 9.511",
            "confidence": "from memory",
        }
        for number in range(12)
        for day in range(7)
    ]
    life = pl.DataFrame(days, schema=schema.WEEK_LIFE.schema)
    return history_of(replace(weekly(), life=life))


def dump(path: Path, days: int, dropping: bool) -> Path:
    """Two hours of a hoist some days after a Tuesday evening; where it is dropping, three of its runs are cut."""
    shift = days * 86_400.0
    rows = [row(shift, f"hoist.{name}", 0) for name in ("raise.command", "lower.command", "brake.released")]
    for number in range(20):
        t, way = shift + 10 + number * 360, "raise" if number % 2 == 0 else "lower"
        held = 4.0 if dropping and number in (4, 8, 12) else 9.0
        rows += [
            row(t, f"hoist.{way}.command", 1),
            row(t + 0.05, f"hoist.{way}.contactor", 1),
            row(t + 0.2, "hoist.brake.released", 1),
            row(t + held, f"hoist.{way}.contactor", 0),
            row(t + held + 0.1, "hoist.brake.released", 0),
            row(t + 9.0, f"hoist.{way}.command", 0),
        ]
    return write(path, rows)


def kept(folder: Path) -> Archive:
    """An archive of two machines and two weeks of each: 2026-W14 and 2026-W15."""
    shutil.copytree(_kept(), folder, dirs_exist_ok=True)
    return Archive(folder / "history")


@cache
def _kept() -> Path:
    """The same, made once in a process: adding takes longer than copying."""
    folder = Path(tempfile.mkdtemp(prefix="eventlens-kept-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    archive = Archive(folder / "history")
    for name in NAMES:
        (folder / name).mkdir()
        dumps = [dump(folder / name / f"{days}.csv", days, dropping=name == "SLAB-1" and days == 7) for days in (0, 7)]
        archive.add(dumps, name, notes={"repair": ["2026-04-03T10:00 relay of raise"]} if name == "SLAB-1" else None)
    archive.bring_up_to_date()
    return folder


def months(folder: Path) -> Archive:
    """Ten weeks of two machines, 2026-W14 to W23; SLAB-1 drops out three times in each of the last four."""
    archive = Archive(folder / "yard")
    for name in NAMES:
        (folder / f"months-{name}").mkdir()
        dumps = [
            dump(folder / f"months-{name}" / f"{n}.csv", 7 * n, dropping=name == "SLAB-1" and n >= 6) for n in range(10)
        ]
        archive.add(dumps, name)
    archive.bring_up_to_date()
    return archive
