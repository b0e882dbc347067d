"""Contactors: late, stuck, without command, both at once, the other way without a pause."""

from __future__ import annotations

from collections.abc import Iterator

from eventlens.signals import MOTIONS, opposite
from eventlens.simulation.ideal.intervals import OPEN, Interval, View, first_after, overlapping, touches
from eventlens.simulation.truth import Span

LATE_S = 0.3
DWELL_S = 1.0
AGAIN_S = 0.5
STUCK_S = 1.0
ANSWER_S = 0.5
UNCOMMANDED_S = 0.05
OPPOSED_S = 0.03
REVERSAL_S = 0.30


def late(view: View, motion: str) -> Iterator[Span]:
    """The command is held, and the contactor closes late, with nothing that explains it."""
    for way in MOTIONS[motion]:
        closing = view.on(f"{motion}.{way}.contactor")
        for pressed, released in view.on(f"{motion}.{way}.command"):
            answer = first_after(closing, pressed)
            if answer is None or answer[0] > released or answer[0] - pressed <= LATE_S:
                continue
            if not touches(closing, pressed - AGAIN_S, pressed) and not _blocked(view, motion, way, pressed, answer[0]):
                yield Span("contactor_late", motion, pressed, answer[0], answer[0] - pressed - LATE_S)


def _blocked(view: View, motion: str, way: str, pressed: float, closed: float) -> bool:
    """Whether anything refused the direction from a while before the press to the closing."""
    other = opposite(motion, way)
    names = [
        f"{motion}.{way}.limit",
        f"{motion}.motor.hot",
        f"{motion}.{other}.command",
        f"{motion}.{other}.contactor",
        "stop.emergency",
        "supply.phase_fault",
        *(("overload.trip", "overload.fault") if way == "raise" else ("rope.slack",)),
    ]
    begin = pressed - DWELL_S
    if any(view.touches(name, begin, closed) for name in names):
        return True
    supply = view.on("supply.control")
    dark = bool(supply) and not any(a <= begin and b >= closed for a, b in supply)
    return dark or view.is_on(f"{motion}.brake.released", pressed)


def stuck(view: View, motion: str) -> Iterator[Span]:
    """A contactor stays on after its command; the fast output after both of its commands."""
    for way in MOTIONS[motion]:
        commands = view.on(f"{motion}.{way}.command")
        yield from _stuck(motion, view.on(f"{motion}.{way}.contactor"), commands)
    asked = sorted(
        (max(a, c), min(b, d))
        for a, b in view.on(f"{motion}.fast.command")
        for way in MOTIONS[motion]
        for c, d in overlapping(view.on(f"{motion}.{way}.command"), a, b)
    )
    yield from _stuck(motion, view.on(f"{motion}.fast.contactor"), asked)


def _stuck(motion: str, closed: list[Interval], commands: list[Interval]) -> Iterator[Span]:
    for start, end in closed:
        if end == OPEN or not touches(commands, start - ANSWER_S, start + 1e-6):
            continue
        for _, released in overlapping(commands, start - ANSWER_S, end):
            if released >= end:
                continue
            again = first_after(commands, released)
            waited = min(end, again[0] if again else OPEN) - released
            if waited > STUCK_S:
                yield Span("contactor_stuck", motion, released, end, waited - STUCK_S)
                break


def uncommanded(view: View, motion: str) -> Iterator[Span]:
    """A contactor closes without its command."""
    for kind in (*MOTIONS[motion], "fast"):
        commands = view.on(f"{motion}.{kind}.command")
        for start, end in view.on(f"{motion}.{kind}.contactor"):
            if end == OPEN or start <= 0.0 or end - start <= UNCOMMANDED_S:
                continue
            if not touches(commands, start - ANSWER_S, min(start + UNCOMMANDED_S, end)):
                yield Span("contactor_uncommanded", motion, start, end, end - start - UNCOMMANDED_S)


def opposed(view: View, motion: str) -> Iterator[Span]:
    """Both directions at once."""
    first, second = (view.on(f"{motion}.{way}.contactor") for way in MOTIONS[motion])
    for a, b in first:
        for c, d in overlapping(second, a, b):
            begin, end = max(a, c), min(b, d)
            if end - begin > OPPOSED_S and end < OPEN:
                yield Span("opposed_directions", motion, begin, end, end - begin - OPPOSED_S)


def reversals(view: View, motion: str) -> Iterator[Span]:
    """The other direction follows before the motion has come to rest."""
    ended, last = -OPEN, ""
    for start, end, way in view.contactors(motion):
        if last and way != last and 0 <= start - ended < REVERSAL_S:
            yield Span("reversal_without_pause", motion, ended, start, REVERSAL_S - (start - ended))
        if end >= ended:
            ended, last = end, way
