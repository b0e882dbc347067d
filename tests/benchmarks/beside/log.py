"""A long invented working life of a hoist in order but for a few faults of known kinds, written piece by piece.

Six to eight records for each run at a step of 10 ms. Runs never overlap and each brake sets before the next start, so
that plain SQL can tell what happened; nothing else is made easy.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt
import polars as pl
import pyarrow.parquet as pq

FORMAT: Final = "%Y-%m-%d %H:%M:%S%.3f"
BEGIN: Final = datetime(2026, 3, 2, 6, tzinfo=UTC)
NAMES: Final = ("S1", "S2", "K1", "K2", "K3", "B3")
RUNS_A_PIECE: Final = 250_000
EVENTS_A_RUN: Final = 7.6
"""What comes out, to ask for runs by events."""

PROFILE: Final = """
[log]
layout = "changes"
time = "Time"
name = "Tag"
value = "State"
timezone = "UTC"
[signals]
S1 = "hoist.raise.command"
S2 = "hoist.lower.command"
K1 = "hoist.raise.contactor"
K2 = "hoist.lower.contactor"
K3 = "hoist.fast.contactor"
B3 = "hoist.brake.released"
"""
MACHINE: Final = '[machine]\nid = "LONG-LIFE"\ngroup = "M5"\n'

Whole = npt.NDArray[np.int64]


@dataclass
class Hand:
    """Where one piece left off: the time of day never goes back, and the hook hangs where it hung."""

    at_ms: int = 0
    lowering: bool = False


def pieces(events: int, seed: int = 1) -> Iterator[pl.DataFrame]:
    """About this many events in order, as (ms, name, state), some hundred thousand runs at a time."""
    rng, hand = np.random.default_rng(seed), Hand()
    rest = pl.DataFrame({"ms": [0] * 6, "name": list(NAMES), "state": [0] * 6}, schema=_SCHEMA)
    runs = max(round(events / EVENTS_A_RUN), 1)
    for first in range(0, runs, RUNS_A_PIECE):
        piece = _piece(rng, min(RUNS_A_PIECE, runs - first), hand)
        yield piece if first else pl.concat([rest, piece])


def write(folder: Path, events: int) -> int:
    """Writes log.csv, log.parquet, profile and machine file into the folder; returns the number of events."""
    height, writer = 0, None
    with (folder / "log.csv").open("wb") as text:
        for piece in pieces(events):
            instant = pl.lit(BEGIN).dt.cast_time_unit("us") + pl.duration(milliseconds=pl.col("ms"))
            frame = piece.select(instant.alias("Time"), Tag="name", State="state")
            frame.with_columns(pl.col("Time").dt.strftime(FORMAT)).write_csv(
                text, separator=";", include_header=not height
            )
            table = frame.to_arrow()
            writer = writer or pq.ParquetWriter(folder / "log.parquet", table.schema)
            writer.write_table(table)
            height += frame.height
    if writer:
        writer.close()
    (folder / "profile.toml").write_text(PROFILE)
    (folder / "machine.toml").write_text(MACHINE)
    return height


_SCHEMA: Final = pl.Schema({"ms": pl.Int64(), "name": pl.String(), "state": pl.Int64()})


def _piece(rng: np.random.Generator, n: int, hand: Hand) -> pl.DataFrame:
    """The events of n runs after those before."""

    def drawn(low: int, high: int) -> Whole:
        return rng.integers(low // 10, high // 10, n) * 10

    def some(share: float) -> npt.NDArray[np.bool_]:
        return rng.random(n) < share

    fidgety = np.repeat(rng.random(n // 8 + 1) < 0.05, 8)[:n]
    jog = np.where(fidgety, some(0.8), some(0.05))
    dropped = some(0.0005) & ~jog
    against = some(0.005)
    against[1:] &= ~dropped[:-1]
    hold = np.where(jog, drawn(300, 800), drawn(1500, 8000))
    close = drawn(20, 60)
    release = close + np.where(~jog & some(0.003), drawn(530, 900), drawn(100, 200))
    fast = close + np.where(some(0.005), drawn(20, 80), np.where(some(0.005), drawn(150, 280), drawn(400, 440)))
    opened = np.where(dropped, release + 200, hold + 20)
    let_go = np.where(dropped, opened + 400 + drawn(0, 400), hold)
    pause = np.where(against, drawn(170, 240), np.where(jog & fidgety, drawn(500, 2200), drawn(3000, 30000)))
    over = np.maximum(opened, let_go)
    press = hand.at_ms + np.cumsum(pause + np.concatenate(([0], over[:-1])))
    lowering = (hand.lowering + np.cumsum(np.where(against, 1, some(0.5)))) % 2 == 1
    hand.at_ms, hand.lowering = int(press[-1] + over[-1]), bool(lowering[-1])

    in_fast, always = ~jog & ~dropped, np.full(n, True)
    command, contactor = np.where(lowering, "S2", "S1"), np.where(lowering, "K2", "K1")
    edges = [
        (np.zeros(n, np.int64), command, 1, always),
        (close, contactor, 1, always),
        (release, np.full(n, "B3"), 1, always),
        (fast, np.full(n, "K3"), 1, in_fast),
        (hold - 50, np.full(n, "K3"), 0, in_fast),
        (let_go, command, 0, always),
        (opened, contactor, 0, always),
        (opened + drawn(50, 150), np.full(n, "B3"), 0, always),
    ]
    parts = [
        pl.DataFrame({"ms": press + after, "name": name, "state": np.full(n, state)}, schema=_SCHEMA).filter(
            pl.Series(kept)
        )
        for after, name, state, kept in edges
    ]
    return pl.concat(parts).sort("ms", maintain_order=True)
