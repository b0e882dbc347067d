"""The brake: its confirmation, and how its release and set times have moved."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import polars as pl

from eventlens.causes.complaints import Complaint
from eventlens.causes.courses import LEAST_DAYS, RELEASE_S, changes, daily_times
from eventlens.causes.evidence._presence import presence
from eventlens.causes.signs import Sign, excess_factor, lines, lines_behind, share_factor, tail
from eventlens.causes.subject import Subject

SET_S: Final = 0.02
"""Smallest change of the set time that matters [s] (judgement)."""
LONG_SET: Final = 2.5
"""AC-side switching makes the set time 5 to 10 times longer; from this factor on it is a step of that kind."""
COLD_S: Final = 4 * 3600.0
"""A run after so long a rest finds the brake cold [s] (judgement)."""
WARM_MIN: Final = 20.0
"""A brake coil warms and cools within about so long [min] (from memory: a quarter of an hour for small ones)."""
TOO_SOON_S: Final = 0.02
"""No brake lifts faster [s] (common practice)."""


def signs(complaint: Complaint) -> Iterator[Sign]:
    """What the log says of the brake of the complaint's motion."""
    motion = complaint.motion
    if motion is None or f"{motion}.brake.released" not in complaint.subject.carried:
        return
    yield from presence(complaint, "no_release", ["brake_not_confirmed"])
    yield from presence(complaint, "released_at_rest", ["brake_confirmed_at_rest"])
    yield from _cold_or_hot(complaint)
    subject = complaint.subject  # what follows is the same for all complaints of the motion
    yield from subject.once(f"brake times of {motion}", lambda own: (*_moved(own, motion), *_too_soon(own, motion)))


def _cold_or_hot(complaint: Complaint) -> Iterator[Sign]:
    """Whether runs without confirmation follow long rests or much running, against all starts."""
    subject, motion = complaint.subject, complaint.motion
    runs = subject.runs_of(motion).filter("start_seen")
    failed = subject.found(["brake_not_confirmed"], motion).select("start", "rows")
    if failed.is_empty() or runs.height < 20:
        return
    rest = (pl.col("pause_s") >= COLD_S).fill_null(value=False)
    # the failed tries themselves are no work that warms a brake, and do not follow each other by chance
    worked = runs.join(failed, on="start", how="anti").select("start", done=pl.col("duration_s").cum_sum())
    runs = runs.with_columns(cold=rest, before=_fed(runs, worked))
    much = float(runs["before"].quantile(0.75) or 0.0)
    runs = runs.with_columns(warm=pl.col("before") > much)
    hit = runs.join(failed, on="start", how="semi")
    for key, column, says in (
        ("no_release_cold", "cold", f"after a rest of {COLD_S / 3600:g} h"),
        ("no_release_hot", "warm", f"with more than {much:.0f} s of running in the {WARM_MIN:g} min before"),
    ):
        exposure = int(runs[column].sum()) / runs.height
        hits = int(hit[column].sum())
        text = f"{hits} of {hit.height} unconfirmed runs {says}, against {exposure:.0%} of all runs"
        rows = lines_behind(failed)
        yield Sign(key, excess_factor(hits, hit.height, exposure), text, rows, tail(hits, hit.height, exposure))


def _fed(runs: pl.DataFrame, worked: pl.DataFrame) -> pl.Series:
    """For each run how long [s] the others (start, done: their summed time, in order) ran in WARM_MIN before it."""
    until, since = (
        runs.select(at=pl.col("start") - pl.duration(microseconds=us))
        .join_asof(worked, left_on="at", right_on="start", strategy="backward")["done"]
        .fill_null(0.0)
        for us in (1, int(WARM_MIN * 60e6))  # without the run itself
    )
    return (until - since).alias("before")


def _moved(subject: Subject, motion: str) -> Iterator[Sign]:
    """Drift or step of release and set times, by daily medians."""
    release = daily_times(subject, motion, "release_time_s")
    found = changes(release, RELEASE_S)
    if release.height >= LEAST_DAYS:
        text, rows = _course("release time", release), _beyond(subject, motion, "release_time_s", release, RELEASE_S)
        yield Sign("release_drift", found["drift up"], text, rows)
        yield Sign("release_step", found["step up"], text, rows)
    settle = daily_times(subject, motion, "apply_time_s")
    if settle.height >= LEAST_DAYS:
        found = changes(settle, SET_S)
        text, rows = _course("set time", settle), _beyond(subject, motion, "apply_time_s", settle, SET_S)
        yield Sign("set_shorter", max(found["drift down"], found["step down"]), text, rows)
        early, late = _ends(settle)
        longer = share_factor(1, 1, 0.05, 0.9) if late > LONG_SET * early else 1.0
        yield Sign("set_longer_step", found["step up"] if longer > 1 else min(found["step up"], 0.5), text, rows)


def _beyond(subject: Subject, motion: str, column: str, daily: pl.DataFrame, least: float) -> tuple[int, ...]:
    """Lines of the runs whose time differs by what matters from the day furthest from the last ones."""
    early, late = _ends(daily)
    change = pl.col(column) - daily["value"].min() if late > early else daily["value"].max() - pl.col(column)
    runs = subject.runs_of(motion).select(column, "start_row")
    return lines(runs.filter(change.round(6) >= least)["start_row"])


def _ends(daily: pl.DataFrame) -> tuple[float, float]:
    """Medians of the first and of the last third of the days."""
    third = max(daily.height // 3, 1)
    return float(daily["value"].head(third).median()), float(daily["value"].tail(third).median())  # type: ignore[arg-type]


def _course(name: str, daily: pl.DataFrame) -> str:
    early, late = _ends(daily)
    return f"{name} {early:.3f} s in the first third of {daily.height} days, {late:.3f} s in the last"


def _too_soon(subject: Subject, motion: str) -> Iterator[Sign]:
    """The confirmation comes sooner than a brake can lift."""
    if subject.log.step_s >= TOO_SOON_S / 2:
        return
    times = subject.runs_of(motion).select("release_time_s", "start_row").drop_nulls("release_time_s")
    if len(times):
        at_once = times.filter(pl.col("release_time_s") < TOO_SOON_S)
        soon, rows = at_once.height, lines(at_once["start_row"])
        text = f"{soon} of {len(times)} releases confirmed within {TOO_SOON_S:g} s"
        yield Sign("confirmed_too_soon", share_factor(soon, min(len(times), 20 + soon), 0.02, 0.8), text, rows)
