"""Contacts that chatter, and a common supply that dips."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from eventlens.signals import MOTIONS, motion_of
from eventlens.simulation.ideal.intervals import OPEN, Interval, View
from eventlens.simulation.truth import Span

PAIRS = 3
WINDOW_S = 1.0
BOUNCE_S = 0.02
FALLS_S = 0.10
"""Contactors have opened this long after their supply went."""
KINDS = ("command", "contactor", "limit", "slowdown")


def chatter(view: View) -> list[Span]:
    """Of the signals of one motion that toggle together only the first in the chain: command, contactor, brake."""
    found: list[Span] = []
    for motion, ways in MOTIONS.items():
        chain = [f"{motion}.{way}.command" for way in ways] + [f"{motion}.{way}.contactor" for way in ways]
        chain += [f"{motion}.brake.released", f"{motion}.fast.contactor"]
        bursts: list[Interval] = []
        for signal in chain:
            for start, end in _bursts(view.on(signal)):
                if not any(start <= b + 0.5 and end >= a for a, b in bursts):
                    found.append(Span("chatter", motion, start, end))
                    bursts.append((start, end))
        for way in ways:
            for kind in ("limit", "slowdown"):
                found += [Span("chatter", motion, a, b) for a, b in _bursts(view.on(f"{motion}.{way}.{kind}"))]
    found += [
        Span("chatter", motion_of(s), a, b) for s in ("stop.emergency", "rope.slack") for a, b in _bursts(view.on(s))
    ]
    return found


def _bursts(on: list[Interval]) -> Iterator[Interval]:
    """First to last toggle of each burst of pairs that are faster than a hand."""
    on = _settled(on)
    burst: Interval | None = None
    for place in range(len(on) - PAIRS + 1):
        start, end = on[place][0], on[place + PAIRS - 1][1]
        if end - start > WINDOW_S:
            continue
        if burst and start <= burst[1]:
            burst = (burst[0], end)
        else:
            if burst:
                yield burst
            burst = (start, end)
    if burst:
        yield burst


def _settled(on: list[Interval]) -> list[Interval]:
    """The intervals without the bounces of a contact: two short states or more in a row, beside a change that stays."""
    changes = [at for interval in on for at in interval]
    kept, place = [], 0
    while place < len(changes):
        end = place
        while end + 1 < len(changes) and changes[end + 1] - changes[end] <= BOUNCE_S:
            end += 1
        row = end - place  # so many short states follow each other
        if row >= 2 and changes[end] - changes[place] <= 2 * BOUNCE_S:
            kept += [changes[place]] if row % 2 == 0 else [changes[place], changes[end]]
        else:
            kept += changes[place : end + 1]
        place = end + 1
    return list(zip(kept[::2], kept[1::2], strict=True))


def common_drop_outs(view: View) -> list[Span]:
    """The control supply goes, and opens something."""
    supply = view.on("supply.control")
    found = []
    for (_, gone), (back, _) in pairwise(supply):
        opened = [b for motion in MOTIONS for _, b, _ in view.contactors(motion) if gone <= b <= gone + FALLS_S]
        if opened and back < OPEN:
            found.append(Span("common_drop_out", None, gone, back))
    return found
