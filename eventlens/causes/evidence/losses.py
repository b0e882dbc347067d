"""How something is lost: early or late in a run, in one direction or both, for how long, and whether it comes back."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import polars as pl

from eventlens.causes.complaints import LOSSES, Complaint
from eventlens.causes.signs import Sign, excess_factor, lines_behind, share_factor, some, tail
from eventlens.motion.near import seconds

EARLY_S: Final = 1.0
"""A loss within so long of the release is early [s] (common practice)."""
START_S: Final = 0.3
"""... and at the start within so long of the start [s] (judgement)."""
AT_FAST_S: Final = 0.3
"""... and at the change to fast within so long of it [s] (judgement)."""
FLICKER_S: Final = 0.1
"""A loss of the confirmation shorter than this, with the motion going on, is a flicker [s] (judgement)."""


def signs(complaint: Complaint) -> Iterator[Sign]:
    """What the log says of the losses of one motion."""
    yield from _together(complaint)
    if complaint.motion is None:
        return
    moments = complaint.moments
    if complaint.question.key in ("losses", "no_release", "no_start"):  # what ends is of one direction by the question
        yield from _direction(complaint, moments)
    if complaint.question.key in (*LOSSES, "no_release"):
        yield from _flicker(complaint)
    if complaint.question.key in LOSSES:
        cases = complaint.subject.with_run(moments, complaint.motion).with_columns(
            after=seconds("at", pl.max_horizontal(pl.coalesce("run_brake_on", "run_start"), "run_start"))
        )
        yield from _when(complaint, cases)
        yield from _repress(complaint, cases)


def _direction(complaint: Complaint, moments: pl.DataFrame) -> Iterator[Sign]:
    """One direction or both, against the running time (starts, for what is lost at the start) of each."""
    runs = complaint.subject.runs_of(complaint.motion)
    losses = complaint.question.key in LOSSES
    weight = pl.col("duration_s").sum() if losses else pl.len().cast(pl.Float64)
    use = dict(runs.group_by("direction", maintain_order=True).agg(weight).iter_rows())
    if complaint.question.key == "no_start":
        use = _presses(complaint)
    whole = sum(use.values())
    counts = dict(moments["direction"].drop_nulls().value_counts().iter_rows())
    tries = sum(counts.values())
    if len([u for u in use.values() if u > 0]) < 2 or not tries:
        return
    way, hits = max(sorted(counts.items()), key=lambda item: item[1] / max(use.get(item[0], 0.0) / whole, 1e-3))
    exposure = use.get(way, 0.0) / whole
    factor = share_factor(hits, tries, exposure, 0.97)
    unit = "running time" if losses else "starts"
    text = f"{hits} of {tries} in {way}, which is {exposure:.0%} of the {unit}"
    rows = lines_behind(moments.filter(pl.col("direction") == way))
    p = tail(hits, tries, exposure)
    yield Sign("one_direction", factor, text, rows, p)
    yield Sign("both_directions", 1 / factor, text, rows, p)


def _presses(complaint: Complaint) -> dict[str, float]:
    """How often each direction of the motion was commanded."""
    motion = complaint.motion
    commands = {
        name for name in complaint.subject.carried if name.startswith(f"{motion}.") and name.endswith("command")
    }
    ways = {name.split(".")[1]: name for name in commands if "fast" not in name}
    return {way: float(complaint.subject.on(name).height) for way, name in sorted(ways.items())}


def _when(complaint: Complaint, cases: pl.DataFrame) -> Iterator[Sign]:
    """When in a run things are lost, against the running time that lies there."""
    runs = complaint.subject.runs_of(complaint.motion)
    known = cases.filter(pl.col("after").is_not_null() & (pl.col("at") <= pl.col("run_end")))
    tries, running = known.height, float(runs["duration_s"].sum())
    if not tries or running <= 0:
        return
    early = known.filter(pl.col("after") <= EARLY_S)
    driven = runs.select(left=seconds("end", pl.max_horizontal(pl.coalesce("brake_on", "start"), "start")).clip(0.0))
    exposure = float(driven["left"].clip(upper_bound=EARLY_S).sum()) / running
    factor = share_factor(early.height, tries, exposure, 0.85)
    text = f"{early.height} of {tries} within {EARLY_S:g} s of the release, which is {exposure:.0%} of the running time"
    rows = lines_behind(early)
    p = tail(early.height, tries, exposure)
    yield Sign("lost_early", factor, text, rows, p)
    yield Sign("lost_spread", 1 / factor, text, lines_behind(known), p)
    start = known.filter(seconds("at", "run_start") <= START_S).height
    share = float(runs["duration_s"].clip(upper_bound=START_S).sum()) / running
    yield Sign(
        "lost_at_start",
        share_factor(start, tries, share, 0.9),
        f"{start} of {tries} within {START_S:g} s of the start",
        p=tail(start, tries, share),
    )
    yield from _at_fast(complaint, known, running)


def _at_fast(complaint: Complaint, known: pl.DataFrame, running: float) -> Iterator[Sign]:
    fast = complaint.subject.on(f"{complaint.motion}.fast.contactor").select(fast_on="start").sort("fast_on")
    if fast.is_empty():
        return
    near = known.sort("at").join_asof(fast, left_on="at", right_on="fast_on", strategy="backward")
    hits = near.filter(seconds("at", "fast_on") <= AT_FAST_S)
    share = min(fast.height * AT_FAST_S / running, 0.9)
    text = f"{hits.height} of {known.height} within {AT_FAST_S:g} s of the change to fast"
    factor = excess_factor(hits.height, known.height, share)
    yield Sign(
        "lost_at_fast",
        factor,
        text,
        lines_behind(hits),
        tail(hits.height, known.height, share),
    )


def _flicker(complaint: Complaint) -> Iterator[Sign]:
    """The confirmation goes for a moment and the motion runs on."""
    subject, name = complaint.subject, f"{complaint.motion}.brake.released"
    if name not in subject.carried or subject.log.step_s >= FLICKER_S:
        return
    within = subject.within_runs(subject.off(name).filter(pl.col("start_seen")), complaint.motion)
    brief = within.filter(pl.col("end_seen") & (seconds("end", "start") < FLICKER_S))
    stops = complaint.moments.height if complaint.question.key in LOSSES else 1
    tries = max(stops, within.height)
    factor = share_factor(brief.height, tries, 0.1, 0.7)
    text = f"the confirmation goes for less than {FLICKER_S:g} s with the motion running on {brief.height} x"
    yield Sign("lost_flicker", factor, text, some([*brief["start_row"], *brief["end_row"]]))


def _repress(complaint: Complaint, cases: pl.DataFrame) -> Iterator[Sign]:
    """After a drop-out the function stays away until the button is let go and pressed again."""
    dropped = cases.filter((pl.col("pattern") == "drop_out") & pl.col("run_command_off").is_not_null())
    if dropped.is_empty():
        return
    again = complaint.subject.runs_of(complaint.motion).select(next_start="start")
    after = dropped.with_columns(_later=pl.col("at") + pl.duration(microseconds=1)).sort("_later")
    after = after.join_asof(again, left_on="_later", right_on="next_start", strategy="forward")
    held = after.filter(seconds("run_command_off", "at") > 2 * complaint.subject.log.step_s)
    came_back = held.filter(pl.col("next_start") < pl.col("run_command_off")).height
    stayed = held.height - came_back
    text = f"after {stayed} of {held.height} drop-outs the function stays away until the button is pressed again"
    if held.height:
        yield Sign("lost_until_repress", share_factor(stayed, held.height, 0.5, 0.95), text)


def _together(complaint: Complaint) -> Iterator[Sign]:
    """Several signals fall in one step, against what falls alone."""
    subject = complaint.subject
    common = subject.found(["common_drop_out"])
    alone = complaint.moments.height
    if complaint.question.key == "falls_together":
        rows = lines_behind(common)
        yield Sign("all_fall_together", 100.0, f"unrelated signals fall together {common.height} x", rows)
    elif alone and subject.assessed("common_drop_out", None):
        factor = share_factor(common.height, common.height + alone, 0.1, 0.9)
        yield Sign("all_fall_together", min(factor, 1.0), f"signals fall together {common.height} x, alone {alone} x")
