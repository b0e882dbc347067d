"""Before a repair against after it: reads, cuts and reviews what is needed, and puts the comparison together."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import datetime
from pathlib import Path
from typing import Final

from eventlens import cautions
from eventlens.comparison.cut import cut, instant_of
from eventlens.comparison.moved import compare_moved, exchange
from eventlens.comparison.rates import compare_patterns
from eventlens.comparison.result import Comparison
from eventlens.comparison.times import compare_times
from eventlens.errors import EventlensError
from eventlens.machine import Machine
from eventlens.reading import Log, Paths, Profile, read
from eventlens.result import Review
from eventlens.statistics.rates import LEVEL
from eventlens.wiring import machine_of, review_log

Progress = Callable[[str], None]

CAUTIONS: Final = (
    "Silence is no proof where the use differs: the verdicts hold for work like that of both sides, in speed, load and "
    "way of working.",
    "The chances hold for one look, at a time chosen beforehand: whoever looks every day until it says gone will read "
    "it too soon.",
    "A comparison of counts proves no repair and replaces no test. After work on a brake or an overload device come "
    "the tests that the maker and local rules require, before the hoist is used.",
)


def compare(
    paths: Paths,
    profile: str | Path | Profile | None = None,
    machine: str | Path | Machine | None = None,
    *,
    at: str | datetime | None = None,
    until: str | datetime | None = None,
    after: Paths | None = None,
    moved: Sequence[str] = (),
    confidence: float = LEVEL,
    progress: Progress | None = None,
) -> Comparison:
    """Compares a machine before a repair with the same machine after it.

    Either one log (`paths`) is cut at the instant `at` of the repair; or `paths` is the log before and `after` the log
    after it. until: when the work on the machine ended; what lies between is on neither side. Instants are datetimes
    or ISO 8601 text; without an offset they are in the zone of the log. moved: exchanges of parts between places, each
    as 'hoist.raise:trolley.left'. confidence: two-sided, in (0, 1). progress is called with the name of each stage.

    Raises EventlensError, or its kinds that reading, profile and machine file raise, in one sentence each.
    """
    for text in moved:
        exchange(text)  # a slip of the pen is said before the work, not after it
    _check(at, until, after, confidence)
    tell = progress or (lambda stage: None)
    plate = machine_of(machine)
    tell("reading")
    log = read(paths, profile)
    if after is None:
        assert at is not None  # checked above
        return compare_log(log, plate, at, until, moved=moved, confidence=confidence, progress=progress)
    return compare_reviews(*_sides((log, read(after, profile)), plate, tell), moved=moved, confidence=confidence)


def compare_log(
    log: Log,
    machine: Machine,
    at: str | datetime,
    until: str | datetime | None = None,
    *,
    moved: Sequence[str] = (),
    confidence: float = LEVEL,
    progress: Progress | None = None,
) -> Comparison:
    """Compares what lies before and after an instant of a log that has been read; else as `compare`."""
    _check(at, until, None, confidence)
    when = instant_of(at, log.timezone)
    ended = None if until is None else instant_of(until, log.timezone)
    sides = _sides(cut(log, when, ended), machine, progress or (lambda stage: None))
    return compare_reviews(*sides, moved=moved, confidence=confidence, at=when, until=ended)


def _sides(logs: tuple[Log, Log], machine: Machine, tell: Progress) -> tuple[Review, Review]:
    """The reviews of both sides."""
    tell("before the repair")
    before = review_log(logs[0], machine)
    tell("after the repair")
    return before, review_log(logs[1], machine)


def compare_reviews(
    before: Review,
    after: Review,
    *,
    moved: Sequence[str] = (),
    confidence: float = LEVEL,
    at: datetime | None = None,
    until: datetime | None = None,
) -> Comparison:
    """Compares two reviews of one machine; `at` and `until` only say where one log was cut. See `compare`."""
    exchanges = [exchange(text) for text in moved]
    rates, refused, made = compare_patterns(before, after, confidence)
    times, times_made = compare_times(before, after, confidence)
    return Comparison(
        before=before,
        after=after,
        at=at,
        until=until,
        confidence=confidence,
        patterns=rates,
        not_compared=refused,
        comparisons=made,
        times=times,
        times_compared=times_made,
        moved=compare_moved(before, after, exchanges, confidence),
        exchanges=tuple(moved),
        notes=tuple(_notes(before, after)),
        cautions=(*CAUTIONS, *cautions.GENERAL),
    )


def _check(at: object, until: object, after: object, confidence: float) -> None:
    if at is None and after is None:
        raise EventlensError("the instant of the repair, or a log after it", "neither", "give one of them")
    if after is not None and (at is not None or until is not None):
        raise EventlensError("one log and an instant, or two logs", "both", "leave one of them out")
    if not 0 < confidence < 1:
        raise EventlensError("a confidence between 0 and 1", str(confidence), "give a share such as 0.95")


def _notes(before: Review, after: Review) -> Iterator[str]:
    one, other = before.log, after.log
    if one.step_s != other.step_s:
        yield (
            f"the log step is {one.step_s:g} s before and {other.step_s:g} s after: what one log can see the other may "
            "miss, and times are only as good as the coarser one"
        )
    if other.start < one.end:
        yield "the log after begins before the log before ends: make sure that they are not exchanged"
    lost, new = one.signals() - other.signals(), other.signals() - one.signals()
    if lost:
        yield f"only before the log carries {', '.join(sorted(lost))}"
    if new:
        yield f"only after the log carries {', '.join(sorted(new))}"
