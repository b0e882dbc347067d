"""Functions that are lost: tries in vain, in a row or in a large share, of what the recorder noted as failed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from eventlens.signals import MOTIONS
from eventlens.simulation.ideal.intervals import View
from eventlens.simulation.truth import Span

ROW = 3
TRIES = 20
SHARE = 0.2


def functions(view: View, failed: Sequence[Span]) -> Iterator[Span]:
    """failed: spans of commands that were held in vain (no_start, fast_not_reached), noted by the machine itself."""
    for motion, ways in MOTIONS.items():
        vain = [span for span in failed if span.motion == motion]
        for way in ways:
            own = [s for s in vain if s.pattern == "no_start" and view.is_on(f"{motion}.{way}.command", s.start)]
            yield from _lost(motion, own, [a for a, _ in view.on(f"{motion}.{way}.contactor")])
        fast = [s for s in vain if s.pattern == "fast_not_reached"]
        yield from _lost(motion, fast, [a for a, _ in view.on(f"{motion}.fast.contactor")])


def _lost(motion: str, failed: Sequence[Span], worked: Sequence[float]) -> Iterator[Span]:
    if len(failed) + len(worked) >= TRIES and len(failed) > SHARE * (len(failed) + len(worked)):
        yield from (_as_lost(motion, span) for span in failed)
        return
    tries = sorted([(span.start, span) for span in failed] + [(at, None) for at in worked], key=lambda one: one[0])
    row: list[Span] = []
    for _, span in [*tries, (0.0, None)]:
        if span is not None:
            row.append(span)
            continue
        if len(row) >= ROW:
            yield from (_as_lost(motion, one) for one in row)
        row = []


def _as_lost(motion: str, span: Span) -> Span:
    return Span("lost_function", motion, span.start, span.end, span.margin_s)
