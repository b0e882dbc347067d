"""Small logs of one machine with one fault: an hour or two of work, built by hand."""

from __future__ import annotations

from eventlens.causes.diagnosis import Answer
from eventlens.result import Review
from tests.logs import Records, merged, pulse, run
from tests.patterns.helpers import reviewed

LENGTH = 5.0
"""Length of an ordinary run [s]."""


def work(runs: int, *, begin: float = 100.0, every: float = 30.0) -> list[Records]:
    """Ordinary runs, raise and lower in turn."""
    return [
        run(begin + n * every, begin + n * every + LENGTH, direction=("raise", "lower")[n % 2]) for n in range(runs)
    ]


def dropped(at: float, direction: str = "raise") -> Records:
    """A run that opens 0.6 s after its start with the button held for another second."""
    return run(at, at + 0.6, command=(at - 0.05, at + 1.6), direction=direction)


def answer(review: Review, complaint: str) -> Answer:
    return next(one for one in review.causes.answers if one.complaint == complaint)


def loose_relay(losses: int = 14, runs: int = 100) -> list[Records]:
    """Drop-outs when raising, each gone on with by a fresh press, between ordinary runs of both directions."""
    tries = [(115.0 + n * 180, 118.0 + n * 180) for n in range(losses)]
    return [*work(runs), *(dropped(at) for at, _ in tries), *(run(again, again + LENGTH) for _, again in tries)]


def of(parts: list[Records], **options: object) -> Review:
    return reviewed(merged(*parts), **options)  # type: ignore[arg-type]


__all__ = ["answer", "dropped", "loose_relay", "merged", "of", "pulse", "work"]
