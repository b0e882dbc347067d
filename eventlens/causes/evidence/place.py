"""Where and with what it happens: other motions, shocks, load, position."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import polars as pl

from eventlens import signals
from eventlens.causes.complaints import LOSSES, Complaint
from eventlens.causes.evidence.losses import START_S
from eventlens.causes.signs import Sign, excess_factor, lines_behind, share_factor, tail
from eventlens.causes.subject import TOGETHER_S, inside
from eventlens.motion.near import seconds, time_on
from eventlens.motion.spells import united

AFTER_S: Final = 2.0
"""So long after another motion its shock is still felt [s] (judgement)."""
SHOCK_S: Final = 1.0
"""So long after a motion's start or stop [s] (judgement)."""
HEAVY: Final = 0.5
"""Share of the rated load from which on a load is heavy; the upper quarter where all are lighter (judgement)."""
PLACES: Final = 12
"""Equal stretches of the way along which places are told apart (judgement)."""
ELSEWHERE: Final = ("drop_out", "no_start", "brake_not_confirmed")
"""What one part of one motion cannot bring about on the others."""
AT_START: Final = ("no_release", "no_start")
"""Questions about what comes with a start: its exposure is the starts."""
QUESTIONS: Final = (*LOSSES, "falls_together", "commands", "no_release", "no_start", "overload")


def signs(complaint: Complaint) -> Iterator[Sign]:
    """Where and with what the complaint's moments come, against the running time that is spent so."""
    if complaint.question.key not in QUESTIONS or complaint.moments.is_empty():
        return
    yield from _other_motions(complaint)
    yield from _elsewhere(complaint)
    yield from _load(complaint)
    for motion in ("trolley", "bridge"):
        yield from _place(complaint, motion)


def _own(complaint: Complaint, motion: str | None = None) -> pl.DataFrame:
    """(start, end) of the runs in which the moments can come; of what goes wrong at the start, their first moment."""
    runs = complaint.subject.runs_of(motion or complaint.motion).select("start", "end")
    if not _at_start(complaint, runs):
        return runs
    first = pl.col("start") + pl.duration(milliseconds=int(1000 * START_S))
    return runs.with_columns(end=pl.min_horizontal("end", first))


def _at_start(complaint: Complaint, runs: pl.DataFrame) -> bool:
    """Whether most of it comes with the start, so that starts are its exposure and not the running time."""
    if complaint.question.key in AT_START:
        return True
    if complaint.question.key not in LOSSES:
        return False
    begun = complaint.moments.select("at").join_asof(runs.select(begun="start"), left_on="at", right_on="begun")
    near = begun.select((seconds("at", "begun") <= START_S).sum()).item()
    return int(near) > complaint.moments.height / 2


def _other_motions(complaint: Complaint) -> Iterator[Sign]:
    """During or just after another motion; within a second of its start or stop."""
    moments = complaint.moments
    hits, shocks, time, shock_time, whole = 0, 0, 0.0, 0.0, 0.0
    for part, own, others in _parts(complaint):
        if part.is_empty() or own.is_empty():
            continue
        if others.is_empty():
            return
        wide = _united(others.select("start", end=pl.col("end") + pl.duration(seconds=AFTER_S)))
        ends = pl.concat([others.select(at="start"), _stopped(others, part)]).sort("at")
        near = _united(ends.select(start="at", end=pl.col("at") + pl.duration(seconds=SHOCK_S)))
        hits += int(inside(part, wide).sum())
        shocks += int(inside(part, near).sum())
        time += float(time_on(wide, own["start"], own["end"]).sum())
        shock_time += float(time_on(near, own["start"], own["end"]).sum())
        whole += float(own.select(seconds("end", "start")).sum().item())
    n = moments.height
    if not n or whole <= 0:
        return
    for key, k, share, says in (
        ("with_other_motion", hits, time / whole, f"during another motion or within {AFTER_S:g} s of it"),
        ("with_shocks", shocks, shock_time / whole, f"within {SHOCK_S:g} s of another motion's start or stop"),
    ):
        text = f"{k} of {n} {says}, which is {share:.0%} of the time"
        yield Sign(
            key,
            excess_factor(k, n, share),
            text,
            complaint.lines,
            tail(k, n, share),
        )


def _elsewhere(complaint: Complaint) -> Iterator[Sign]:
    """The other motions fail in the same way, at other times, against the runs that they make."""
    subject, motion = complaint.subject, complaint.motion
    names = [name for name in ELSEWHERE if name in complaint.patterns]
    if motion is None or not names:
        return
    others = [one for one in signals.MOTIONS if one != motion and any(subject.assessed(n, one) for n in names)]
    runs = {one: subject.runs_of(one).height for one in (motion, *others)}
    others = [one for one in others if runs[one]]
    found = subject.occurrences.filter(pl.col("pattern").is_in(names))
    by = dict(found["motion"].drop_nulls().cast(pl.String).value_counts().iter_rows())
    own, rest = by.get(motion, 0), sum(by.get(one, 0) for one in others)
    if not others or not own:
        return
    usual = sum(runs[one] for one in others) / sum(runs.values())
    text = f"{rest} x on other motions, {own} x on this one, which has {1 - usual:.0%} of the runs"
    rows = lines_behind(found.filter(pl.col("motion").cast(pl.String) != motion))
    yield Sign("other_motions_too", share_factor(rest, own + rest, 0.03, 0.6 * usual), text, rows)


def _stopped(others: pl.DataFrame, moments: pl.DataFrame) -> pl.DataFrame:
    """(at): stops of other motions that may have shaken something loose: none that a moment itself brought about."""
    stops = others.select(at="end")
    return stops.filter(~inside(stops, moments.select(start="at", end="at").sort("start"), TOGETHER_S, TOGETHER_S))


def _parts(complaint: Complaint) -> Iterator[tuple[pl.DataFrame, pl.DataFrame, pl.DataFrame]]:
    """Moments of one motion, the time in which they can come, and the runs of the other motions.

    What befalls the whole machine shows while anything runs; what may shake it is then the travel.
    """
    subject, moments = complaint.subject, complaint.moments
    if moments["motion"].null_count():
        travel = subject.runs.filter(pl.col("motion") != "hoist").sort("start")
        yield moments, _united(subject.runs.select("start", "end")), travel
        return
    for motion in signals.MOTIONS:
        part = moments.filter(pl.col("motion") == motion)
        yield part, _own_of(complaint, motion), subject.runs.filter(pl.col("motion") != motion).sort("start")


def _own_of(complaint: Complaint, motion: str) -> pl.DataFrame:
    """The runs, or for commands the presses, of a motion."""
    subject = complaint.subject
    if complaint.question.key == "commands":
        names = [n for n in subject.carried if n.startswith(f"{motion}.") and n.endswith(".command")]
        return _united(subject.on(*names).select("start", "end").sort("start"))
    return _own(complaint, motion)


def _united(spans: pl.DataFrame) -> pl.DataFrame:
    """Sorted spans (start, end), joined where they overlap."""
    known = (spans if spans["start"].is_sorted() else spans.sort("start")).select("start", "end")
    new = known.select((pl.col("start") > pl.col("end").cum_max().shift(1)).fill_null(value=True)).to_series()
    return united(known, new, end=pl.col("end").cum_max())


def _load(complaint: Complaint) -> Iterator[Sign]:
    """With heavy loads, against all runs of the hoist."""
    subject = complaint.subject
    if complaint.motion != "hoist" or complaint.question.key == "overload":
        return
    load = subject.load
    runs = subject.runs_of("hoist")
    if load is None or runs.is_empty():
        return
    steps = load.steps.sort("start").select(since="start", ratio="ratio")
    at = complaint.moments.join_asof(steps, left_on="at", right_on="since").drop_nulls("ratio")
    usual = runs.sort("end").join_asof(steps, left_on="end", right_on="since").drop_nulls("ratio")
    if not at.height or not usual.height:
        return
    heavy = min(HEAVY, float(usual["ratio"].quantile(0.75) or HEAVY))
    share = int((usual["ratio"] > heavy).sum()) / usual.height
    hits = int((at["ratio"] > heavy).sum())
    text = f"{hits} of {at.height} above {heavy:.0%} of the rated load, as {share:.0%} of all runs are"
    rows = lines_behind(at.filter(pl.col("ratio") > heavy))
    yield Sign("with_load", excess_factor(hits, at.height, share), text, rows, tail(hits, at.height, share))


def _place(complaint: Complaint, motion: str) -> Iterator[Sign]:
    """At one place of the way, or towards one end, against the running time spent there."""
    subject = complaint.subject
    way = subject.measured(f"{motion}.position_m").select("time", "value")
    if way.height < 20 or (own := _own(complaint)).is_empty():
        return
    low, high = float(way["value"].min()), float(way["value"].max())  # type: ignore[arg-type]
    if high - low <= 0:
        return
    part = ((pl.col("value") - low) / (high - low) * PLACES).floor().clip(0, PLACES - 1).cast(pl.Int32)
    held = way.with_columns(start="time", end=pl.col("time").shift(-1), place=part).drop_nulls("end")
    spent = (
        held.with_columns(s=time_on(_united(own), held["start"], held["end"]))
        .group_by("place", maintain_order=True)
        .agg(pl.col("s").sum())
    )
    at = complaint.moments.join_asof(way.with_columns(place=part), left_on="at", right_on="time").drop_nulls("place")
    whole = float(spent["s"].sum())
    if at.is_empty() or whole <= 0:
        return
    use = dict(spent.iter_rows())
    counts = dict(at["place"].value_counts().iter_rows())
    place, hits = max(sorted(counts.items()), key=lambda item: item[1])
    share = use.get(place, 0.0) / whole
    n = at.height
    text = f"{hits} of {n} in one twelfth of the {motion}'s way, where {share:.0%} of the time is spent"
    rows = lines_behind(at.filter(pl.col("place") == place))
    yield Sign("one_place", excess_factor(hits, n, share, among=PLACES), text, rows, tail(hits, n, share))
    upper = sum(seconds_ for where, seconds_ in use.items() if where >= PLACES // 2) / whole
    beyond = sum(count for where, count in counts.items() if where >= PLACES // 2)
    far = max(share_factor(beyond, n, upper, 0.85), share_factor(n - beyond, n, 1 - upper, 0.85)) / 2
    spread = len(counts) >= 3
    yield Sign(
        "towards_far_end", far if spread else min(far, 1.0), f"{beyond} of {n} in one half of the {motion}'s way"
    )
