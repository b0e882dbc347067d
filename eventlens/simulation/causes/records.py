"""Causes in the controller's inputs, its log and its clock."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import timedelta
from functools import partial

import polars as pl

from eventlens.simulation.causes.machine import Trouble
from eventlens.simulation.causes.plan import Course, Plan
from eventlens.simulation.logger import Recording

SCAN_S = 0.02
"""One scan of the controller with the bad card [s]."""


class _BadCard(Trouble):
    """Inputs of one card are read as off for one scan, now and then while the machine runs."""

    def __init__(self, card: tuple[str, ...], per_s: Course, warmth: float) -> None:
        self._card, self._per_s, self._warmth = card, per_s, warmth

    def changed(self, signal: str, on: bool) -> None:
        if signal in ("hoist.raise.contactor", "hoist.lower.contactor") and on:
            self._wait()

    def _wait(self) -> None:
        rate = self._per_s.at(self.day) * (1.0 + self._warmth * self.crane.winding.heat)
        if rate > 0.0:
            run = self.crane.drives["hoist"].runs
            self.crane.engine.after(self.rng.expovariate(rate), partial(self._lose, run))

    def _lose(self, run: int) -> None:
        drive = self.crane.drives["hoist"]
        if drive.runs == run and drive.direction is not None:
            live = [name for name in self._card if self.crane.true[name]]
            if live:
                self.crane.open_wire([self.rng.choice(live)], SCAN_S)
            self._wait()


def _lose_stretches(recording: Recording, rng: random.Random) -> Recording:
    """Buffers of records are lost."""
    records = recording.records
    for _ in range(rng.randint(2, 6)):
        at = rng.randrange(records.height // 10, records.height * 9 // 10)
        gone = records["time"][at]
        until = gone + timedelta(minutes=rng.uniform(20.0, 60.0))
        records = records.filter(~pl.col("time").is_between(gone, until))
    return replace(recording, records=records)


def controller_log(rng: random.Random, days: int) -> Plan:
    """An input card, the scan or the memory of the controller."""
    card = ("hoist.brake.released", "hoist.raise.contactor", "hoist.lower.contactor", "hoist.fast.contactor")
    per_s = Course(rng.uniform(0.0, 0.5) * days, rng.uniform(0.004, 0.01), rng.uniform(0.01, 0.04), days)
    return Plan(
        (_BadCard(card[: rng.randint(1, 4)], per_s, rng.uniform(0.0, 10.0)),),
        control={"scan_s": SCAN_S, "brake_loss_s": rng.uniform(0.1, 0.2), "supervised_share": 0.0},
        record=_lose_stretches if rng.random() < 0.6 else None,
    )


def _step_clock(recording: Recording, rng: random.Random) -> Recording:
    """The clock is set back, and forward, by hand or by itself."""
    records = recording.records
    for _ in range(rng.randint(2, 4)):
        at = rng.randrange(records.height // 10, records.height * 9 // 10)
        step = timedelta(seconds=rng.choice((-3600.0, -rng.uniform(300.0, 5000.0), rng.uniform(60.0, 900.0))))
        moved = pl.when(pl.int_range(pl.len()) > at).then(pl.col("time") + step).otherwise("time")
        records = records.with_columns(moved.alias("time"))
    first = rng.randrange(records.height // 10, records.height * 9 // 10)
    back = pl.when(pl.int_range(pl.len()) > first).then(pl.col("time") - timedelta(seconds=3600)).otherwise("time")
    return replace(recording, records=records.with_columns(back.alias("time")))


def clock(rng: random.Random, days: int) -> Plan:
    """The controller's clock steps."""
    return Plan(motion=None, record=_step_clock)


CAUSES = {"controller_log": controller_log, "clock": clock}
"""Cause -> what it makes of a machine or of its record."""
