"""Parts exchanged between two places, as a relay between two sockets: did the fault go with the part?

Two answers are held against the counts: the fault stays, then each place keeps its own rate; or it moves, then the
places exchange their rates. Each answer is tested by its two exact comparisons of rates, at half of the error each.
The fault moved if only the first answer fails, and it was seen at its new place; it stayed if only the second fails,
and it was seen at the old one. If neither fails there was too little use; if both do, something else has changed, as
where the exchange itself cured a contact.

Both places count per use of their own; that a part fails as often per start here as there is taken for granted. Each
pattern is judged by itself: whoever names many exchanges must expect one in twenty answers to be chance.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

import polars as pl

from eventlens import patterns, schema, signals
from eventlens.comparison.exposure import kind_of, of_way, use_of
from eventlens.comparison.rates import Side, side_of, spread_of
from eventlens.errors import EventlensError, nearest
from eventlens.patterns import Pattern
from eventlens.result import Review
from eventlens.statistics import two_rates

FAULTS: Final = ("out_of_service", "repair")
"""Severities of the patterns that a part can cause; the others are ways of working."""
SIGNALS_OWN: Final = "chatter"
"""The pattern of the whole machine that names the signal, and so the place, that it is about."""
FARTHEST_DAYS: Final = 3650.0
"""A date further off says nothing."""
TOO_LITTLE: Final = "too little use since the exchange"
ALIKE: Final = "both places had the fault too much alike: no use within ten years would tell"
NEITHER: Final = "neither answer fits: something else has changed"
GONE: Final = "gone from both places: the exchange itself may have cured a contact"
NO_USE: Final = "no use of one place before the exchange"


@dataclass(frozen=True)
class Place:
    """Where a part sits: a motion, or one way of it."""

    text: str
    motion: str
    way: str | None
    """A direction, 'fast', 'brake', or None for the whole motion."""

    def knows(self, pattern: Pattern) -> bool:
        """Whether a pattern can belong here at all."""
        if pattern.name == SIGNALS_OWN:
            return True
        if self.motion not in pattern.motions:
            return False
        if self.way == "fast":
            return pattern.exposure in ("fast_run", "fast_try") or pattern.name == "lost_function"
        return self.way != "brake" or pattern.name.startswith("brake_")

    def picks(self, pattern: Pattern) -> pl.Expr:
        """The occurrences of a pattern at this place."""
        own = pl.col("pattern") == pattern.name
        head = f"{self.motion}.{self.way}." if self.way else f"{self.motion}."
        signal = pl.col("signal").cast(pl.String).str.starts_with(head)
        if pattern.name == SIGNALS_OWN:
            return own & signal.fill_null(value=False)
        own &= pl.col("motion") == self.motion
        if self.way in signals.MOTIONS[self.motion]:
            return own & (pl.col("direction") == self.way).fill_null(value=False) & signal.fill_null(value=True)
        if self.way == "fast":
            return own & signal.fill_null(pattern.name != "lost_function")
        return own


def place(text: str) -> Place:
    """A place from a motion, a function (hoist.raise, hoist.fast, hoist.brake) or a signal; else EventlensError."""
    motion, _, rest = text.strip().partition(".")
    way = rest.split(".")[0] or None
    ways = {name: (*pair, "fast", "brake") for name, pair in signals.MOTIONS.items()}
    known = [*ways, *(f"{name}.{one}" for name, some in ways.items() for one in some)]
    if motion not in ways or (way and way not in ways[motion]) or ("." in rest and text.strip() not in signals.ALL):
        raise EventlensError("a place as hoist.raise, or a signal", f"'{text}'", nearest(text.strip(), known))
    return Place(text.strip(), motion, way)


def exchange(text: str) -> tuple[Place, Place]:
    """Two places from 'A:B'; EventlensError for anything else."""
    parts = text.split(":")
    if len(parts) != 2 or not all(part.strip() for part in parts):
        raise EventlensError("two places as hoist.raise:trolley.left", f"'{text}'", "part them with one colon")
    first, second = (place(part) for part in parts)
    if (first.motion, first.way) == (second.motion, second.way):
        raise EventlensError("two different places", f"'{text}'", "name the places between which parts were exchanged")
    return first, second


@dataclass(frozen=True)
class Four:
    """One pattern at both places: before and after."""

    a1: Side
    b1: Side
    a2: Side
    b2: Side
    spread: float
    level: float

    def p(self, days: float = 0.0, rates: tuple[float, float] = (0.0, 0.0)) -> tuple[float, float]:
        """The p-values of 'stayed' and 'moved'; after so many more days with these rates at the two places."""
        more = [self._use(after, before) * days for after, before in ((self.a2, self.a1), (self.b2, self.b1))]
        a, b = (
            (side.count + int(rate * use + 1e-9), side.use.amount + use)
            for side, rate, use in zip((self.a2, self.b2), rates, more, strict=True)
        )
        return self._p((self.a1, a), (self.b1, b)), self._p((self.a1, b), (self.b1, a))

    def _p(self, *pairs: tuple[Side, tuple[int, float]]) -> float:
        each = [
            two_rates.compare_rates(old.count, old.use.amount, count, use, self.level, self.spread).p if use else 1.0
            for old, (count, use) in pairs
        ]
        return min(1.0, 2 * min(each))

    @staticmethod
    def _use(after: Side, before: Side) -> float:
        """Use per working day as it is now, or as it was where there is none yet."""
        return after.use.per_day if after.use.amount else before.use.per_day

    def further(self) -> float | None:
        """Working days at the present use until either answer, if it is true, could be told; None: not in ten years.

        The rates are those before; at the place of the fault the lower limit, to be careful. Counts are taken as
        expected, so that about half of the time it takes longer.
        """
        rate_a, rate_b = self._rates()
        uses = self._use(self.a2, self.a1), self._use(self.b2, self.b1)

        def told(days: float) -> bool:
            if max(rate_a, rate_b) * min(uses) * days < 1:  # it must be seen somewhere
                return False
            if_stayed, if_moved = self.p(days, (rate_a, rate_b)), self.p(days, (rate_b, rate_a))
            return max(if_stayed[1], if_moved[0]) <= 1 - self.level

        return _first(told)

    def _rates(self) -> tuple[float, float]:
        careful = [
            two_rates.lower_rate(side.count, side.use.amount, self.level, self.spread) for side in (self.a1, self.b1)
        ]
        return (careful[0], self.b1.rate) if self.a1.rate >= self.b1.rate else (self.a1.rate, careful[1])


def _first(told: Callable[[float], bool]) -> float | None:
    """The least number of days, to one part in a hundred, at which it can be told; None: not within FARTHEST_DAYS."""
    most = 0.125
    while not told(most):
        if most >= FARTHEST_DAYS:
            return None
        most *= 2
    least = most / 2
    while most - least > most / 100:
        middle = (least + most) / 2
        least, most = (least, middle) if told(middle) else (middle, most)
    return most


def compare_moved(
    before: Review, after: Review, exchanges: Sequence[tuple[Place, Place]], level: float
) -> pl.DataFrame:
    """schema.MOVED: each exchange with each fault that either place had. level: confidence, in (0, 1)."""
    rows = [row for pair in exchanges for row in _rows(before, after, *pair, level)]
    return schema.MOVED.check(pl.DataFrame(rows, schema=schema.MOVED.schema))


def _rows(before: Review, after: Review, first: Place, second: Place, level: float) -> Iterator[dict[str, Any]]:
    for pattern in patterns.catalogue().values():
        if pattern.severity not in FAULTS or not (first.knows(pattern) and second.knows(pattern)):
            continue
        kind = of_way(kind_of(pattern, before, after), first.way)
        a1, b1, a2, b2 = (_side(r, p, pattern, kind) for r in (before, after) for p in (first, second))
        if a1.count or b1.count:
            four = Four(a1, b1, a2, b2, spread_of(a1, b1, a2, b2), level)
            yield {"first": first.text, "second": second.text, "pattern": pattern.name, "exposure": kind} | _told(four)


def _side(review: Review, place: Place, pattern: Pattern, kind: str) -> Side:
    way = place.way if place.way in signals.MOTIONS[place.motion] else None
    return side_of(review, place.picks(pattern), use_of(review, kind, place.motion, way))


def _told(four: Four) -> dict[str, Any]:
    named = {"first_before": four.a1, "second_before": four.b1, "first_after": four.a2, "second_after": four.b2}
    row: dict[str, Any] = {f"{name}_count": side.count for name, side in named.items()}
    row |= {f"{name}_exposure": side.use.amount for name, side in named.items()}
    if not (four.a1.use.amount and four.b1.use.amount):
        return row | {"p_stayed": 1.0, "p_moved": 1.0, "verdict": "cannot_tell", "why": NO_USE}
    stayed, moved = four.p()
    row |= {"p_stayed": stayed, "p_moved": moved}
    verdict, why = _verdict(four, stayed, moved)
    row |= {"verdict": verdict, "why": why}
    days = four.further() if why == TOO_LITTLE else None
    if days is None:
        return row | ({"why": ALIKE} if why == TOO_LITTLE else {})
    a, b = four._use(four.a2, four.a1), four._use(four.b2, four.b1)
    present = four.a2.use if four.a2.use.amount else four.a1.use
    return row | {
        "further_days": days,
        "further_s": days * present.observed_s / present.days if present.days else None,
        "further_first": days * a,
        "further_second": days * b,
    }


def _verdict(four: Four, stayed: float, moved: float) -> tuple[str, str | None]:
    """What the p-values of both answers, and where the fault was seen since, say together."""
    most = 1 - four.level
    old, new = (four.a2, four.b2) if four.a1.rate >= four.b1.rate else (four.b2, four.a2)
    if stayed <= most < moved and new.count:
        return "moved_with_part", None
    if moved <= most < stayed and old.count:
        return "stayed_with_place", None
    if stayed <= most and moved <= most:
        return "cannot_tell", NEITHER if four.a2.count or four.b2.count else GONE
    return "cannot_tell", TOO_LITTLE
