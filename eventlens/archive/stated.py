"""What people wrote down, as it counts in the review of a period.

- `shifts`: of several the set that held for the largest part of the log; before the first entry the machine file's.
- `earlier_hours`: the last entry before the end of the log gives the life calculation its hours of full load
  ([life] used_before_h), less what the log itself holds before the entry (by running time). What was used between an
  entry and a log that begins later is in neither, and that is said; trends add it from the weeks between.
- `check`: an outcome tells of the machine as it stood at the visit, until the next repair or exchange. So it goes into
  the causes of a period that contains the visit, and of one that begins after it, before that work and not more than
  HOLDS after the visit. One that no likely cause asks about counts for nothing, and that is said.
- `repair`, `exchanged`, `note`: stand in the history of a period that contains them, the last work before it too.
  Work within the period is held against what went wrong before and after it (the evidence `after_work`).

Without entries nothing is changed: the review is that of the dumps.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Final

import polars as pl

from eventlens.errors import EventlensError
from eventlens.machine import Machine, Work
from eventlens.reading import Log
from eventlens.result import Review, Statement

WORK: Final = ("repair", "exchanged")
HOLDS: Final = timedelta(days=28)
"""So long what a check showed is taken to hold for later periods: contacts and linings age (judgement: a month)."""


@dataclass(frozen=True)
class Said:
    """One entry."""

    at: datetime
    kind: str
    text: str
    id: str = ""


def counting(entries: pl.DataFrame | None, start: datetime | None, end: datetime | None) -> list[Said]:
    """The entries that count in the review of [start, end), by time; entries: tables.ENTRIES of one machine."""
    if entries is None or entries.is_empty():
        return []
    rows = entries.filter(pl.col("kind") != "machine").sort("at", "kind", "text").select("at", "kind", "text", "id")
    every = [Said(*row) for row in rows.iter_rows()]
    before = [one for one in every if end is None or one.at < end]
    work = [one for one in every if one.kind in WORK]
    found = [one for one in before if one.kind != "check" and (start is None or one.at >= start)]
    found += [one for one in before if one.kind == "check" and _holds(one, work, start)]
    if start is not None:
        for kinds in (WORK, ("shifts",), ("earlier_hours",)):
            found += [one for one in before if one.kind in kinds and one.at < start][-1:]
    return sorted(found, key=lambda one: (one.at, one.kind, one.text))


def _holds(check: Said, work: Sequence[Said], start: datetime | None) -> bool:
    """Whether what a check showed still tells of the machine when a period begins."""
    if start is None or check.at >= start:
        return True
    done = next((one.at for one in work if one.at > check.at), None)
    return start - check.at <= HOLDS and (done is None or start < done)


def with_shifts(machine: Machine, said: Sequence[Said], log: Log) -> tuple[Machine, Said | None]:
    """The machine with the shifts that held for most of the log, and the entry they are from (None: its file)."""
    sets = [one for one in said if one.kind == "shifts"]
    begins = [log.start, *(min(max(one.at, log.start), log.end) for one in sets), log.end]
    spans = [later - earlier for earlier, later in pairwise(begins)]
    longest = max(range(len(spans)), key=lambda number: (spans[number], number))
    if longest == 0:
        return machine, None
    chosen = sets[longest - 1]
    times = tuple(chosen.text.replace(",", " ").split())
    work = Work.model_validate({**machine.work.model_dump(), "shifts": times})
    return machine.model_copy(update={"work": work}), chosen


def apply(found: Review, said: Sequence[Said], shifts: Said | None) -> Review:
    """The review with what was said of the machine, and its history. shifts: the entry whose shifts it has."""
    told = dict.fromkeys(said, "")
    for one in said:
        if one.kind == "shifts":
            told[one] = "these shifts are taken" if one == shifts else "held for a smaller part of the log: not taken"
    # causes ask when work was done, and the outcome of a check goes to a likely cause: so work is told first
    found = replace(found, history=tuple(Statement(one.at, one.kind, one.text, told[one]) for one in said))
    found = _with_hours(found, said, told)
    for one in said:
        if one.kind == "check":
            found = _with_check(found, one, told)
    history = tuple(Statement(one.at, one.kind, one.text, told[one]) for one in said)
    return replace(found, history=history)


def _with_check(found: Review, check: Said, told: dict[Said, str]) -> Review:
    try:
        more = found.with_checks([check.text])
    except EventlensError:
        told[check] = "counts for nothing here: no likely cause of this period asks for it"
        return found
    new = [cause for (_, cause) in more.checked if (_, cause) not in found.checked]
    told[check] = f"counts for the cause {new[0]}" if new else "said before: counts once"
    return more


def _with_hours(found: Review, said: Sequence[Said], told: dict[Said, str]) -> Review:
    """The review of a machine that had done the stated hours of full load when the log began."""
    hours = [one for one in said if one.kind == "earlier_hours"]
    if not hours:
        return found
    earlier = [one for one in hours if one.at <= found.log.start]
    chosen = (earlier or hours)[-1]
    before, meaning = (
        float(chosen.text),
        "hours of full load before the log; what was used since the entry is not in it",
    )
    if not earlier:
        used = _used_until(found, chosen.at)
        before, meaning = max(0.0, before - used), f"less {used:.3g} that the log holds before it"
    told.update(dict.fromkeys(hours, "another entry counts") | {chosen: meaning})
    life = found.machine.life.model_copy(update={"used_before_h": before})
    machine = found.machine.model_copy(update={"life": life})
    return replace(found, machine=machine, hours_stated_at=chosen.at)


def _used_until(found: Review, at: datetime) -> float:
    """Hours of full load of the hoist that the log holds before an instant, by its running time."""
    life = found.life.get("hoist")
    runs = found.runs.filter(pl.col("motion") == "hoist")
    whole = float(runs["duration_s"].sum())
    if life is None or life.period is None or not whole:
        return 0.0
    return life.period.in_log_h * float(runs.filter(pl.col("start") < at)["duration_s"].sum()) / whole
