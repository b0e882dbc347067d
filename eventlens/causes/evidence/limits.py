"""Limits: how often, how fast and how loaded they are reached, and whether they stop the motion."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

import polars as pl

from eventlens import signals
from eventlens.causes.complaints import LOSSES, Complaint
from eventlens.causes.courses import HEIGHT_M, LEAST_DAYS, changes, limit_heights
from eventlens.causes.evidence._presence import SELDOM, SOME, presence
from eventlens.causes.signs import ABSENT, PRESENT, Sign, lines, lines_behind, share_factor
from eventlens.causes.subject import BRIEF_S, brief_spells, inside
from eventlens.motion.near import seconds

PASSED_S: Final = 0.5
"""A motion that drives on so long after its limit was not stopped by it [s] (judgement)."""
LOADED: Final = 0.2
"""Share of the rated load from which on the hook is loaded (judgement)."""


def signs(complaint: Complaint) -> Iterator[Sign]:
    """What the log says of the limits of the complaint's motion."""
    motion = complaint.motion
    if motion is None:
        return
    if complaint.question.key in LOSSES:
        yield from _turned_back(complaint)
    names = [
        f"{motion}.{way}.limit"
        for way in signals.MOTIONS[motion]
        if f"{motion}.{way}.limit" in complaint.subject.carried
    ]
    if not names:
        return
    yield from _often(complaint)
    yield from _flicker(complaint, names)
    reached = pl.concat([_reached(complaint, name) for name in names]).sort("at")
    passed = reached.filter(pl.col("beyond_s") > PASSED_S)
    text = f"driven on for more than {PASSED_S:g} s after a limit {passed.height} x of {reached.height}"
    yield Sign("limit_passed", 100.0 if passed.height else ABSENT, text, lines(passed["start_row"]))
    if complaint.question.key == "limits" and reached.height:
        yield from _how(complaint, reached)
    if complaint.question.key in ("limits", "limit_place"):
        yield from _place(complaint)


def _turned_back(complaint: Complaint) -> Iterator[Sign]:
    """After a loss the other way is driven, and not on in the same one, as behind a device that guards one direction.

    A next run that is lost as well says nothing.
    """
    own = pl.col("direction")
    lost = complaint.moments.filter(own.is_not_null()).select("at", lost_way=own, rows="rows").sort("at")
    runs = complaint.subject.runs_of(complaint.motion).select(next_start="start", next_way="direction", next_end="end")
    after = lost.with_columns(_later=pl.col("at") + pl.duration(microseconds=1))
    after = after.join_asof(runs.sort("next_start"), left_on="_later", right_on="next_start", strategy="forward")
    again = after["next_end"].is_in(complaint.moments["at"].implode())
    turned = after["next_way"] != after["lost_way"]
    judged = after.filter(turned | ~again)
    hits = judged.filter(pl.col("next_way") != pl.col("lost_way"))
    if judged.height:
        text = f"after {hits.height} of {judged.height} losses the next run goes the other way"
        yield Sign("turned_back", share_factor(hits.height, judged.height, 0.25, 0.85), text, lines_behind(hits))


def _often(complaint: Complaint) -> Iterator[Sign]:
    """Limits used to stop; once or twice is no habit yet."""
    for sign in presence(complaint, "limit_often", ["limit_as_stop"]):
        seldom = complaint.subject.found(["limit_as_stop"], complaint.motion).height < SOME
        yield replace(sign, factor=min(sign.factor, SELDOM)) if seldom else sign


def _flicker(complaint: Complaint, names: list[str]) -> Iterator[Sign]:
    """Chatter, or operations so brief that nothing can have driven into the limit and out of it."""
    brief = brief_spells(complaint.subject, names)
    for sign in presence(complaint, "limit_flicker", ["chatter"], ends="limit"):
        if brief.height < SOME or sign.factor > SELDOM:
            yield sign
        else:
            text = f"{brief.height} operations of less than {BRIEF_S:g} s"
            yield replace(sign, factor=PRESENT, text=text, rows=lines(brief["start_row"]))


def _reached(complaint: Complaint, name: str) -> pl.DataFrame:
    """(at, start_row, beyond_s): operations of a limit, and how long its direction was still driven afterwards [s]."""
    motion, way = name.split(".")[:2]
    subject = complaint.subject
    runs = subject.runs_of(motion).filter(pl.col("direction") == way).select(run_start="start", run_end="end")
    acted = subject.on(name).filter("start_seen").select("start_row", "end", at="start").sort("at")
    acted = acted.join_asof(runs, left_on="at", right_on="run_start", strategy="backward")
    beyond = seconds(pl.min_horizontal("run_end", "end"), pl.col("at"))
    return acted.select("at", "start_row", beyond_s=pl.max_horizontal(beyond, pl.lit(0.0)).fill_null(0.0))


def _how(complaint: Complaint, reached: pl.DataFrame) -> Iterator[Sign]:
    subject, motion, n = complaint.subject, complaint.motion, reached.height
    step = 2 * subject.log.step_s
    if f"{motion}.fast.contactor" in subject.carried:
        fast = int(inside(reached, subject.on(f"{motion}.fast.contactor"), 0.0, step).sum())
        text = f"{fast} of {n} times the limit was reached in fast"
        yield Sign("limit_in_fast", share_factor(fast, n, 0.2, 0.7), text, lines(reached["start_row"]))
    load = subject.load
    if load is not None and load.rated and motion == "hoist":
        at = reached.join_asof(load.steps.sort("start").select("start", "ratio"), left_on="at", right_on="start")
        known = at.filter(pl.col("ratio").is_not_null())
        loaded = known.filter(pl.col("ratio") >= LOADED).height
        if known.height:
            text = f"{loaded} of {known.height} times with a load on the hook"
            yield Sign("limit_loaded", share_factor(loaded, known.height, 0.2, 0.6), text, lines(known["start_row"]))


def _place(complaint: Complaint) -> Iterator[Sign]:
    """The height at which the upper limit acts, over the days."""
    heights = limit_heights(complaint.subject)
    if complaint.motion == "hoist" and heights.height >= LEAST_DAYS:
        found = changes(heights, HEIGHT_M)
        text = f"the upper limit acts at {_extent(heights)} m"
        low, high = heights["value"].min(), heights["value"].max()
        rows = lines(heights.filter(pl.col("value") < (low + high) / 2)["row"])  # type: ignore[operator]
        yield Sign("limit_early", max(found["drift down"], found["step down"]), text, rows)


def _extent(at: pl.DataFrame) -> str:
    low, high = at.select(low=pl.col("value").min(), high=pl.col("value").max()).row(0)
    return f"{low:.2f} to {high:.2f}"
