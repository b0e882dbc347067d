"""Evidence that is a pattern of the catalogue: it occurred, it did not, or it could not be assessed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import polars as pl

from eventlens.causes.complaints import Complaint
from eventlens.causes.signs import ABSENT, PRESENT, Sign, lines_behind
from eventlens.causes.subject import Subject

FEW = 8.0
"""Bayes factor of a pattern that was only possible (judgement)."""

SELDOM = 2.0
"""... and of one that came so seldom, beside the complaint, that it may have nothing to do with it: fewer times than
SOME, or than SHARE of the complaint's (judgement)."""
SOME = 3
SHARE = 0.05


def presence(
    complaint: Complaint, key: str, patterns: Iterable[str], *, ends: str = "", motion: bool = True, habit: float = 0.0
) -> Iterator[Sign]:
    """The sign of evidence that is one of some patterns, on the complaint's motion if it has one.

    habit: share of the runs above which it is one; ends: only where the occurrence's signal ends so (a regular
    expression).
    """
    subject, names = complaint.subject, list(patterns)
    place = complaint.motion if motion else None
    count, certain, rows = subject.once(f"{names} {ends} of {place}", lambda own: _seen(own, names, ends, place))
    if count:
        doubt = "" if certain else ", only possible"
        least = max(SOME, SHARE * complaint.moments.height, habit * subject.runs_of(complaint.motion).height)
        asked = bool(complaint.patterns & set(names)) and count >= SHARE * complaint.moments.height
        own = asked or count >= least
        yield Sign(key, (PRESENT if certain else FEW) if own else SELDOM, f"{count} x{doubt}", rows)
    elif any(subject.assessed(name, place) for name in names):
        yield Sign(key, ABSENT, "none, and the log would show it")


def _seen(subject: Subject, names: list[str], ends: str, motion: str | None) -> tuple[int, int, tuple[int, ...]]:
    """How often some patterns occurred, how often certainly, and the lines behind that."""
    found = subject.found(names, motion)
    if ends:
        found = found.filter(pl.col("signal").cast(pl.String).str.contains(f"({ends})$"))
    return found.height, int((found["certainty"] == "certain").sum()), lines_behind(found)
