"""What happens to logs on their way: each damage turns a simulated dump into one that is read like any other.

The dump is written as text (stamp, name, value), damaged there, and read with a profile: reading is part of what
is scored. Where the damage changes what a reader could still see (a clock that steps), the truth is moved with it.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

import polars as pl

import eventlens
from eventlens.reading.log import Log
from eventlens.reading.profile import Profile, as_profile
from eventlens.simulation import Scenario, Simulated, simulate

LOST: Final = 0.01
"""Share of rows that are lost, or written twice."""
STEP_S: Final = 3600.0
SET_BY_S: Final = {"set back": -STEP_S, "set forward": STEP_S}
"""Damages that set the clock, and by how much [s]."""
BOUNCE_S: Final = 0.005
CONTACTS: Final = ("stop.emergency", "overload.trip", "hoist.raise.limit", "hoist.lower.limit", "hoist.motor.hot")
"""Contacts that are often wired to be closed when all is well."""
MAY_BE_MISSING: Final = (
    *CONTACTS,
    "hoist.brake.released",
    "hoist.fast.command",
    "hoist.fast.contactor",
    "hoist.raise.slowdown",
    "supply.control",
    "hoist.lower.command",
    "trolley.left.contactor",
)

Dump = pl.DataFrame
"""time, name, value: the rows as they are written, in their order."""
Damage = Callable[[Dump, Simulated, random.Random], Dump]


def _rows(dump: Dump, share: float, rng: random.Random) -> pl.Series:
    """Which rows a damage strikes: each with the same chance."""
    return pl.Series([rng.random() < share for _ in range(dump.height)], dtype=pl.Boolean)


def jitter(dump: Dump, simulated: Simulated, rng: random.Random) -> Dump:
    """Every stamp is off by up to one step; the rows stand in the order of their stamps."""
    step = round(simulated.recording.step_s * 1e6)
    moved = pl.Series([rng.choice((-step, 0, step)) for _ in range(dump.height)])
    return dump.with_columns(pl.col("time") + pl.duration(microseconds=moved)).sort("time", maintain_order=True)


def lost(dump: Dump, simulated: Simulated, rng: random.Random) -> Dump:
    """One row in a hundred is missing."""
    return dump.filter(~_rows(dump, LOST, rng))


def doubled(dump: Dump, simulated: Simulated, rng: random.Random) -> Dump:
    """One row in a hundred stands twice."""
    twice = _rows(dump, LOST, rng)
    return dump.with_columns(n=1 + twice.cast(pl.Int64)).select(pl.all().repeat_by("n").explode()).drop("n")


def set_back(dump: Dump, simulated: Simulated, rng: random.Random) -> Dump:
    """The clock is set back by an hour in the middle of the work."""
    at = middle(simulated)
    return dump.with_columns(
        pl.when(pl.col("time") > at).then(pl.col("time") - _step()).otherwise("time").alias("time")
    )


def set_forward(dump: Dump, simulated: Simulated, rng: random.Random) -> Dump:
    """The clock is set forward by an hour in the middle of the work."""
    at = middle(simulated)
    return dump.with_columns(
        pl.when(pl.col("time") > at).then(pl.col("time") + _step()).otherwise("time").alias("time")
    )


def missing(dump: Dump, simulated: Simulated, rng: random.Random) -> Dump:
    """One signal is not logged."""
    return dump.filter(pl.col("name") != rng.choice(MAY_BE_MISSING))


def inverted(dump: Dump, simulated: Simulated, rng: random.Random) -> Dump:
    """Contacts that are closed when all is well are logged as they are."""
    return dump.with_columns(
        pl.when(pl.col("name").is_in(CONTACTS)).then(1 - pl.col("value")).otherwise("value").alias("value")
    )


def neighbour(dump: Dump, simulated: Simulated, rng: random.Random) -> Dump:
    """A second machine's signals stand in the same log, under names of their own."""
    days = max(round(simulated.length_s / 86400), 1)
    other = simulate(
        Scenario(start=simulated.scenario.start),
        seed=rng.randrange(10**6),
        days=days,
        step_s=simulated.recording.step_s,
    )
    on = [pl.col("time").is_between(*stretch) for stretch in simulated.recording.segments.select("start", "end").rows()]
    rows = (
        _dump(other)
        .filter(pl.any_horizontal(on))
        .with_columns(name=pl.format("M2 {}", pl.col("name").str.replace_all(".", " ", literal=True)))
    )
    return pl.concat([dump, rows]).sort("time", maintain_order=True)


def bounce(dump: Dump, simulated: Simulated, rng: random.Random) -> Dump:
    """The brake's confirmation bounces for 5 ms at each change: a sample falls into it now and then."""
    step = timedelta(seconds=simulated.recording.step_s)
    edges = _rows(dump, min(BOUNCE_S / simulated.recording.step_s, 1.0), rng) & (dump["name"] == "hoist.brake.released")
    struck = dump.filter(edges)
    back = struck.with_columns(time=pl.col("time") + step, value=1 - pl.col("value"))
    again = struck.with_columns(time=pl.col("time") + 2 * step)
    return pl.concat([dump, back, again]).sort("time", maintain_order=True)


_HOW: Final[dict[str, Damage]] = {
    "jitter": jitter,
    "lost": lost,
    "doubled": doubled,
    "set back": set_back,
    "set forward": set_forward,
    "missing": missing,
    "inverted": inverted,
    "neighbour": neighbour,
    "bounce": bounce,
}
DAMAGES: Final = tuple(_HOW)
_SET: Final = ("starts_per_hour_high", "cyclic_duration_high", "idle_too_long", "frozen_signal")
BLURRED: Final = {"set back": _SET, "set forward": _SET, "lost": ("cyclic_duration_high",)}
"""Patterns whose windows a damage cuts into others: neither truth nor finding is scored."""


def damaged(simulated: Simulated, kind: str, rng: random.Random) -> tuple[Log, pl.DataFrame]:
    """The log as read from a damaged dump, and the truth by its clock."""
    rows = _HOW[kind](_dump(simulated), simulated, rng)
    truth = simulated.truth
    if kind in SET_BY_S:
        truth = _moved(simulated, SET_BY_S[kind])
    elif kind == "missing":
        names = set(rows["name"])
        left = tuple(name for name in simulated.scenario.signals if name in names)
        without = replace(simulated, scenario=replace(simulated.scenario, signals=left))
        truth = without.at_step(simulated.recording.step_s).truth
    return read(rows, _profile(simulated, inverted_contacts=kind == "inverted")), truth


def read(dump: Dump, profile: Profile) -> Log:
    """The dump written as text and read."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "log.csv"
        dump.select(pl.col("time").dt.strftime("%Y-%m-%dT%H:%M:%S%.6fZ"), "name", "value").write_csv(path)
        return eventlens.read(path, profile)


def as_dump(simulated: Simulated) -> tuple[Dump, Profile]:
    """The rows as they are written, and the profile that reads them."""
    return _dump(simulated), _profile(simulated, inverted_contacts=False)


def _dump(simulated: Simulated) -> Dump:
    return simulated.recording.records.select("time", "name", pl.col("value").round(3))


def _profile(simulated: Simulated, *, inverted_contacts: bool) -> Profile:
    lines = [
        '[log]\nlayout = "changes"\ntime = "time"\nname = "name"\nvalue = "value"\nheartbeat = "heartbeat"\n[signals]'
    ]
    for signal in simulated.scenario.signals:
        turned = inverted_contacts and signal in CONTACTS
        lines.append(f'"{signal}" = {{ signal = "{signal}"{", invert = true" if turned else ""} }}')
    with TemporaryDirectory() as folder:
        path = Path(folder) / "profile.toml"
        path.write_text("\n".join(lines) + "\n", "utf-8")
        return as_profile(path)


def middle(simulated: Simulated) -> datetime:
    """An instant in the middle of the first shift."""
    begin, end = simulated.scenario.shifts[0]
    return simulated.start + timedelta(hours=(begin + end) / 2)


def _step() -> pl.Expr:
    return pl.duration(seconds=STEP_S)


def _moved(simulated: Simulated, by_s: float) -> pl.DataFrame:
    """The truth by a clock that was set: what lies across the step cannot be seen as one; the step itself can.

    by_s: by how much it was set, forward above zero [s].
    """
    at = middle(simulated)
    truth = simulated.truth.filter((pl.col("end") <= at) | (pl.col("start") > at))
    later = pl.col("start") > at
    moved = [pl.when(later).then(pl.col(c) + pl.duration(seconds=by_s)).otherwise(c).alias(c) for c in ("start", "end")]
    times = simulated.recording.records["time"]
    last, first = times.filter(times <= at).max(), times.filter(times > at).min() + timedelta(seconds=by_s)
    step = pl.DataFrame({"pattern": ["clock_step"], "start": [last], "end": [first if by_s > 0 else last]}).cast(
        {"start": truth.schema["start"], "end": truth.schema["end"]}
    )
    return pl.concat([truth.with_columns(moved), step], how="diagonal")
