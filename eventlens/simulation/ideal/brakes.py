"""Brakes: late to release or to apply, confirmed at rest, confirmation lost in mid-run."""

from __future__ import annotations

from collections.abc import Iterator

from eventlens.signals import MOTIONS
from eventlens.simulation.ideal.intervals import OPEN, View, covering, covers, first_after, overlapping
from eventlens.simulation.truth import Span

RELEASE_S = 0.5
APPLY_S = 0.5
REST_S = 2.0
LOST_S = 0.05
"""A contact bounces for a few milliseconds."""
DROPS_OUT_S = 0.5
"""A loss that ends the run within this is a drop-out."""


def late(view: View, motion: str) -> Iterator[Span]:
    """Late release after each closing of a contactor, late setting after each stop."""
    confirmed = view.on(f"{motion}.brake.released")
    if not confirmed:
        return
    running = view.energised(motion)
    for place, (start, end) in enumerate(running):
        begin = start
        if before := covering(confirmed, start):  # still on from the stop before: it may fall and come again
            begin = before[1] if before[1] < end else OPEN
        coming = first_after(confirmed, begin)
        if coming and coming[0] <= end and coming[0] - begin > RELEASE_S:
            yield Span("brake_release_late", motion, start, coming[0], coming[0] - begin - RELEASE_S)
        following = running[place + 1][0] if place + 1 < len(running) else OPEN
        setting = covering(confirmed, end)
        if setting and setting[1] < following and APPLY_S < (late_s := setting[1] - end) <= REST_S:
            yield Span("brake_apply_late", motion, end, setting[1], min(late_s - APPLY_S, REST_S - late_s))


def at_rest(view: View, motion: str) -> Iterator[Span]:
    """The confirmation is on although nothing is energised."""
    running = view.energised(motion)
    for start, end in view.on(f"{motion}.brake.released"):
        longest, begin = 0.0, start
        for a, b in overlapping(running, start, end):
            longest, begin = max(longest, a - begin), max(begin, b)
        longest = max(longest, end - begin)
        if longest > REST_S and end < OPEN:
            yield Span("brake_confirmed_at_rest", motion, start, end, longest - REST_S)


def lost(view: View, motion: str) -> Iterator[Span]:
    """It falls in mid-run, and the run goes on."""
    confirmed = view.on(f"{motion}.brake.released")
    commands = [view.on(f"{motion}.{way}.command") for way in MOTIONS[motion]]
    running = view.energised(motion)
    for _, falling in confirmed:
        run = covering(running, falling)
        if run is None or not any(covers(of_way, falling) for of_way in commands):
            continue
        coming = first_after(confirmed, falling)
        again = coming[0] if coming else OPEN
        end = min(again, run[1])
        # a loss that ends the run although the button is held is a drop-out
        ends_run = again >= run[1] and any(covers(of_way, run[1]) for of_way in commands)
        if end - falling <= LOST_S or falling > run[1] - LOST_S or (ends_run and run[1] - falling < DROPS_OUT_S):
            continue
        yield Span("brake_confirmation_lost", motion, falling, end, end - falling - LOST_S)
