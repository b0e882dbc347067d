"""Shifts: when people begin to work with the machine, as the machine file says or as the log shows.

Where the machine file names none, a long rest parts two shifts. From a few days of work on the rhythm shows as well:
the half hours of the local clock in which the machine works on most of its working days. Stretches of them longer than
one shift are taken as several of equal length, so that a machine that works from six to ten in the evening has two.
Days of little work (holidays, an hour on a Saturday) do not count for it, and overtime on some days does not move it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import timedelta
from itertools import pairwise
from typing import Final

import polars as pl

from eventlens import schema
from eventlens.machine import Work
from eventlens.motion.near import seconds

REST_S: Final = 4 * 3600.0
"""A rest of this length [s] parts two shifts (common practice: no break lasts it)."""
SLOT_MIN: Final = 30
"""Grain of the rhythm [min]."""
GRACE_MIN: Final = 5
"""People come and go so much earlier or later [min]: work in the first and last minutes of a slot counts for none."""
LEAST_DAYS: Final = 3
"""Working days from which a rhythm is told (common practice, no source)."""
MOST: Final = 0.5
"""Share of the working days on which a half hour of a shift is worked (common practice, no source)."""
LITTLE: Final = 0.5
"""A day with less than this share of the usual half hours of work is none of the rhythm (common practice)."""
LONGEST_SHIFT_H: Final = 12.0
SHIFT_H: Final = 8.0
ROUND_THE_CLOCK: Final = ("06:00-14:00", "14:00-22:00", "22:00-06:00")
"""What is taken where the machine never rests (common practice)."""
_DAY: Final = 24 * 60
_SLOT_US: Final = SLOT_MIN * 60_000_000


@dataclass(frozen=True)
class ShiftPlan:
    """The shifts of a machine by its local clock."""

    times: tuple[str, ...]
    """As '06:00-14:00'; empty where none are known."""
    how: str
    """Where they come from, in words."""
    days: tuple[str, ...] = ()
    """Days of the week on which they begin; empty: every day."""
    stated: bool = False
    """Whether the machine file says so."""


@dataclass(frozen=True)
class Shifts:
    """The shifts of a log."""

    plan: ShiftPlan
    begins: pl.Series
    """Instants at which one begins (schema.TIME), ascending."""
    rested: pl.Series
    """Of these, the first run after each long rest."""

    @property
    def how(self) -> str:
        """Where they come from, in words."""
        return self.plan.how

    def number(self, instants: pl.Series, early_s: float = 0.0) -> pl.Series:
        """Which shift each instant belongs to, from 0; -1 before the first. early_s: so long before one begins [s]."""
        return _number(self.begins, instants, early_s)

    def since_s(self, instants: pl.Series, early_s: float = 0.0) -> pl.Series:
        """Seconds from the beginning of its shift to each instant; null before the first, below 0 where early."""
        return _since(self.begins, instants, early_s)

    def since_rest_s(self, instants: pl.Series) -> pl.Series:
        """Seconds from the end of the last long rest to each instant; null before the first run."""
        return _since(self.rested, instants, 0.0)


def _number(begins: pl.Series, instants: pl.Series, early_s: float) -> pl.Series:
    return begins.search_sorted(instants + timedelta(seconds=early_s), side="right").cast(pl.Int64) - 1


def _since(begins: pl.Series, instants: pl.Series, early_s: float) -> pl.Series:
    at = _number(begins, instants, early_s)
    passed = (instants - begins.gather(at.clip(0))).dt.total_microseconds() / 1e6
    return pl.select(pl.when(at >= 0).then(passed)).to_series()


def shifts_of(
    runs: pl.DataFrame, by_clock: pl.Series, work: Work, timezone: str, plan: ShiftPlan | None = None
) -> Shifts:
    """The shifts of runs of all motions.

    runs: (start, end) on the axis on which shifts are wanted, which never goes back; by_clock: the start of each by the
    controller's clock (schema.TIME); work: what the machine file says; timezone: of the local clock; plan: what a
    longer log has shown, of which these are the last runs; None: these show it.
    """
    plan = plan or plan_of(by_clock, work, timezone)
    if runs.is_empty():
        none = pl.Series([], dtype=schema.TIME)
        return Shifts(plan, none, none)
    known = runs.select("start", "end", clock=by_clock).sort("start")
    rest = seconds("start", pl.col("end").cum_max().shift(1))
    rested = known.filter((rest >= REST_S).fill_null(value=True))
    if plan.stated and not plan.days:
        begins = _begun(known, plan.times, plan.days, timezone)
    elif plan.stated:  # on other days whoever works begins after a rest
        off = rested.filter(~_on_days(rested["clock"], plan.days, timezone))
        begins = pl.concat([_begun(known, plan.times, plan.days, timezone), off["start"]])
    else:  # a shift that follows another begins by the clock, the others with their first run
        begins = pl.concat([_begun(known, _following(plan.times), (), timezone), rested["start"]])
    return Shifts(plan, begins.unique().sort(), rested["start"])


def plan_of(by_clock: pl.Series, work: Work, timezone: str) -> ShiftPlan:
    """The shifts by the local clock. by_clock: starts of runs as the controller's clock showed them."""
    if work.shifts:
        return ShiftPlan(work.shifts, "as the machine file says", work.days, stated=True)
    rests = f"found from rests of {REST_S / 3600:g} h and more in the log"
    days, worked = _rhythm(by_clock, timezone)
    if days < LEAST_DAYS:
        return ShiftPlan((), f"{rests}: fewer than {LEAST_DAYS} working days show no rhythm")
    blocks = _blocks(worked)
    if not blocks:
        return ShiftPlan((), f"{rests}: the work keeps to no hours")
    times = tuple(time for begin, length in blocks for time in _split(begin, length))
    how = f"found from the rhythm of {days} working days, to half an hour, and from {rests[len('found from ') :]}"
    if len(times) > len(blocks):
        how += f"; more than {LONGEST_SHIFT_H:g} h on end are taken as shifts of equal length"
    return ShiftPlan(times, how)


def _rhythm(by_clock: pl.Series, timezone: str) -> tuple[int, list[bool]]:
    """How many days were worked in earnest, and for each slot of the day whether most of them worked in it."""
    local = by_clock.dt.convert_time_zone(timezone)
    slots = pl.DataFrame({"slot": local.dt.replace_time_zone(None).to_physical() // _SLOT_US})  # since 1970
    minute = local.dt.minute() % SLOT_MIN
    starts = slots.filter(minute.is_between(GRACE_MIN, SLOT_MIN - GRACE_MIN - 1)).unique()
    a_day = _DAY // SLOT_MIN
    worked = starts.select(day=pl.col("slot") // a_day, slot=pl.col("slot") % a_day)
    per_day = worked.group_by("day").agg(slots=pl.len())
    full = per_day.filter(pl.col("slots") >= LITTLE * pl.col("slots").median())
    shares = worked.join(full, on="day", how="semi").group_by("slot").agg(share=pl.len() / max(full.height, 1))
    regular = set(shares.filter(pl.col("share") >= MOST)["slot"].to_list())
    return full.height, [slot in regular for slot in range(a_day)]


def _blocks(worked: list[bool]) -> list[tuple[int, int]]:
    """Stretches of work round the clock of the day (begin, length) [min]; rests shorter than REST_S are bridged."""
    day = len(worked)
    slots = [slot for slot, on in enumerate(worked) if on]
    if not slots:
        return []
    around = zip(slots, [*slots[1:], slots[0] + day], strict=True)
    rests = [(slot + 1, later % day) for slot, later in around if (later - slot - 1) * SLOT_MIN * 60 >= REST_S]
    if not rests:
        return [(0, _DAY)]
    work = zip(rests, [*rests[1:], rests[0]], strict=True)
    return sorted((begin * SLOT_MIN, (end - begin) % day * SLOT_MIN) for (_, begin), (end, _) in work)


def _split(begin: int, length: int) -> Iterable[str]:
    """The shifts of a stretch of work, in equal parts on whole slots."""
    if length >= _DAY:
        return ROUND_THE_CLOCK
    parts = round(length / 60 / SHIFT_H) if length > LONGEST_SHIFT_H * 60 else 1
    borders = [begin + round(length * part / parts / SLOT_MIN) * SLOT_MIN for part in range(parts + 1)]
    return (f"{_clock(a)}-{_clock(b)}" for a, b in pairwise(borders))


def _clock(minute: int) -> str:
    return f"{minute % _DAY // 60:02d}:{minute % 60:02d}"


def _following(times: tuple[str, ...]) -> tuple[str, ...]:
    """The shifts that begin when another ends."""
    ends = {time.split("-")[1] for time in times}
    return tuple(time for time in times if time.split("-")[0] in ends)


def _on_days(by_clock: pl.Series, days: tuple[str, ...], timezone: str) -> pl.Series:
    """Whether each instant lies on one of the days of the week by the local clock; no days: always."""
    names = by_clock.dt.convert_time_zone(timezone).dt.strftime("%a").str.to_lowercase()
    return names.is_in(list(days)) if days else names.is_not_null()


def _begun(runs: pl.DataFrame, times: tuple[str, ...], days: tuple[str, ...], timezone: str) -> pl.Series:
    """Beginnings by the local clock of the shifts that the runs fall into, on the axis of the runs.

    runs: (start, clock) by start; a beginning that summer time skips is left out, one that comes twice is the first.
    """
    stretches = runs.group_by(moved=pl.col("start") - pl.col("clock")).agg(
        first=pl.col("clock").min() - timedelta(days=1), last=pl.col("clock").max() + timedelta(days=1)
    )  # one for each unbroken clock
    span = stretches.select(pl.col("first").min(), pl.col("last").max()).with_columns(
        pl.col("first", "last").dt.convert_time_zone(timezone).dt.date()
    )
    dates = pl.date_range(span["first"][0], span["last"][0], eager=True).cast(pl.Datetime("us"))
    begins = [pl.Series([], dtype=schema.TIME)]
    for time in times:
        hour, minute = map(int, time.partition("-")[0].split(":"))
        wall = dates + timedelta(hours=hour, minutes=minute)
        there = wall.dt.replace_time_zone(timezone, ambiguous="earliest", non_existent="null").drop_nulls()
        there = there.dt.convert_time_zone("UTC")
        begins.append(there.filter(_on_days(there, days, timezone)))
    near = pl.col("begin").is_between("first", "last")
    found = pl.concat(begins).alias("begin").to_frame().join(stretches, how="cross").filter(near)
    return found.select(pl.col("begin") + pl.col("moved")).to_series()
