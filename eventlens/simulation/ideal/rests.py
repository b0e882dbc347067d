"""Rests of the whole machine, within what the logger saw of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from eventlens.signals import MOTIONS
from eventlens.simulation.ideal.intervals import Interval, View, overlapping
from eventlens.simulation.truth import Span

IDLE_S = 30 * 86400.0


def long(
    view: View, carried: Sequence[str], stretches: Sequence[Interval], limits: Mapping[str, float]
) -> Iterator[Span]:
    """Nothing that is logged runs for longer than the interval after which rules ask for an inspection."""
    longest = limits.get("idle_longest_s", IDLE_S)
    runs = sorted(
        run
        for motion, ways in MOTIONS.items()
        for way in ways
        if f"{motion}.{way}.contactor" in carried
        for run in view.on(f"{motion}.{way}.contactor")
    )
    joined: list[Interval] = []
    for start, end in runs:
        if joined and start <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(joined[-1][1], end))
        else:
            joined.append((start, end))
    for begin, finish in stretches:
        at = begin
        for start, end in (*overlapping(joined, begin, finish), (finish, finish)):
            if start - at > longest:
                yield Span("idle_too_long", None, at, start, start - at - longest)
            at = max(at, end)
