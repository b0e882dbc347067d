"""A simulated morning as the text of a log, whole and in an order in which records come late."""

from __future__ import annotations

import random
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import polars as pl

import eventlens
from eventlens.live import Lines, Message
from eventlens.machine import Machine
from eventlens.result import Review
from eventlens.simulation import Faults, Scenario, simulate
from tests.live.sources import HEADER

MACHINE = Machine.model_validate({"machine": {"id": "DOCK-5", "group": "M3"}})
KEY = ["pattern", "motion", "signal", "direction", "start", "end", "certainty"]


@cache
def morning(events: int = 2500, seed: int = 5) -> tuple[str, ...]:
    """The lines of a log without its header, with faults and holes; names map themselves."""
    rows = _records(seed).head(events).select("time", "name", "value").rows()
    return tuple(f"{time.isoformat()},{name},{value:g}\n" for time, name, value in rows)


@cache
def _records(seed: int) -> pl.DataFrame:
    """What the logs of all lengths begin with."""
    faults = Faults(
        loose_relay={"hoist.raise": 0.05}, timer_missing=0.1, confirm_missing=0.02, holes_per_day=10.0, stray=1.0
    )
    scenario = Scenario(faults=faults, habits={"jog": 0.5, "snatch": 0.3, "too_heavy": 0.05, "cycles_per_h": 20})
    records = simulate(scenario, seed=seed, step_s=0.01).recording.records
    first = records.filter(pl.col("name") == "hoist.raise.contactor")["time"][2]
    return records.filter(pl.col("time") > first)


def late(lines: tuple[str, ...], by_s: float, seed: int) -> tuple[str, ...]:
    """The same records, each up to so many seconds later in the file than its stamp says."""
    rng = random.Random(seed)
    stamps = pl.Series([line.split(",", 1)[0] for line in lines]).str.to_datetime(time_zone="UTC").dt.epoch("us") / 1e6
    order = sorted(range(len(lines)), key=[stamp + rng.uniform(0, by_s) for stamp in stamps].__getitem__)
    return tuple(lines[at] for at in order)


def set_back(lines: tuple[str, ...], at: int, by_s: float) -> tuple[str, ...]:
    """The same records by a clock that was set back before one of them."""
    late_lines = [line.split(",", 1) for line in lines[at:]]
    moved = [datetime.fromisoformat(stamp) - timedelta(seconds=by_s) for stamp, _ in late_lines]
    new = (f"{stamp.isoformat()},{rest}" for stamp, (_, rest) in zip(moved, late_lines, strict=True))
    return (*lines[:at], *new)


def text_of(lines: tuple[str, ...]) -> bytes:
    """With the header."""
    return (HEADER + "".join(lines)).encode()


def reviewed(text: bytes, folder: Path) -> Review:
    """The review of a text as one dump."""
    path = folder / "log.csv"
    path.write_bytes(text)
    return eventlens.review(path, machine=MACHINE)


def net(messages: list[Message]) -> list[str]:
    """What was told and holds, an entry for each occurrence."""
    held: dict[str, dict[str, Any]] = {}
    for number, message in enumerate(messages, 1):
        assert message.number == number
        assert (message.told == "found") == (message.id not in held), message
        if message.told == "withdrawn":
            del held[message.id]
        else:
            held[message.id] = message.occurrence
    return sorted(said(one) for one in held.values())


def occurrences(review: Review, *, possible: bool) -> list[str]:
    """The occurrences of a review, as `net` has them."""
    found = review.occurrences.to_dicts()
    return sorted(said(one) for one in found if possible or one["certainty"] == "certain")


def said(one: dict[str, Any]) -> str:
    """An occurrence in figures that do not depend on the order of a sum."""
    figures = [None if one[name] is None else round(one[name], 4) for name in ("measured", "limit")]
    return " ".join(str(part) for part in (*(one[name] for name in KEY), *figures))


def told_in(state: Path) -> list[Message]:
    """The journal of a state folder."""
    lines = Lines(state / "told.jsonl")
    messages = list(lines.after())
    lines.close()
    return messages
