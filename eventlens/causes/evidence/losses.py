"""How something is lost: early or late in a run, in one direction or both, for how long, and whether it comes back."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import polars as pl

from eventlens.causes.complaints import LOSSES, Complaint
from eventlens.causes.signs import Sign, excess_factor, lines, lines_behind, share_factor, tail
from eventlens.causes.subject import Subject, inside
from eventlens.motion.near import seconds

EARLY_S: Final = 1.0
"""A loss within so long of the release is early [s] (common practice)."""
START_S: Final = 0.3
"""... and at the start within so long of the start [s] (judgement)."""
AT_FAST_S: Final = 0.3
"""... and at the change to fast within so long of it [s] (judgement)."""
REFUSED_S: Final = 15.0
"""So long after a loss a refusal still belongs to it [s] (judgement)."""
SAME_S: Final = 0.03
"""Signals that go within so long of each other go together [s]: a brake needs longer to set (common practice)."""
FLICKER_S: Final = 0.1
"""A loss of the confirmation shorter than this, with the motion going on, is a flicker [s] (judgement)."""


def signs(complaint: Complaint) -> Iterator[Sign]:
    """What the log says of the losses of one motion."""
    yield from _together(complaint)
    if complaint.motion is None:
        return
    moments = complaint.moments
    if complaint.question.key in (
        "losses",
        "no_release",
        "no_start",
        "brake_at_rest",
    ):  # what ends is of one direction by the question
        yield from _direction(complaint, moments)
    if complaint.question.key in (*LOSSES, "no_release"):
        yield from _flicker(complaint)
    if complaint.question.key in LOSSES:
        cases = complaint.subject.with_run(moments, complaint.motion)
        # without contactors in the log a run ends when the button is let go, and the confirmation shows the loss
        lost = pl.when(pl.col("pattern") == "drop_out").then(pl.min_horizontal("at", "run_brake_off"))
        cases = cases.with_columns(at=pl.coalesce(lost, "at")).with_columns(
            after=seconds("at", pl.max_horizontal(pl.coalesce("run_brake_on", "run_start"), "run_start"))
        )
        yield from _when(complaint, cases)
        yield from _repress(complaint, cases)
        yield from _refused(complaint)


def _direction(complaint: Complaint, moments: pl.DataFrame) -> Iterator[Sign]:
    """One direction or both, against the running time (starts, for what is lost at the start) of each."""
    motion, losses = complaint.motion, complaint.question.key in LOSSES
    if complaint.question.key == "no_start":
        use = _presses(complaint)
    else:
        use = complaint.subject.once(f"directions of {motion} {losses}", lambda own: _used(own, motion, time=losses))
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


def _used(subject: Subject, motion: str | None, *, time: bool) -> dict[str, float]:
    """Running time, or starts, of each direction of the motion."""
    weight = pl.col("duration_s").sum() if time else pl.len().cast(pl.Float64)
    return dict(subject.runs_of(motion).group_by("direction", maintain_order=True).agg(weight).iter_rows())


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
    subject, motion = complaint.subject, complaint.motion
    known = cases.filter(pl.col("after").is_not_null() & (pl.col("at") <= pl.col("run_end")))
    running, soon = subject.once(f"running and early time of {motion}", lambda own: _early(own, motion))
    tries = known.height
    if not tries or running <= 0:
        return
    early = known.filter(pl.col("after") <= EARLY_S)
    exposure = soon / running
    factor = share_factor(early.height, tries, exposure, 0.85)
    text = f"{early.height} of {tries} within {EARLY_S:g} s of the release, which is {exposure:.0%} of the running time"
    rows = lines_behind(early)
    p = tail(early.height, tries, exposure)
    yield Sign("lost_early", factor, text, rows, p)
    yield Sign("lost_spread", 1 / factor, text, lines_behind(known), p)
    yield from _at_start(complaint, known, running)
    yield from _at_fast(complaint, known, running)


def _early(subject: Subject, motion: str | None) -> tuple[float, float]:
    """Running time of the motion [s], and how much of it lies within EARLY_S of a release."""
    runs = subject.runs_of(motion)
    driven = runs.select(left=seconds("end", pl.max_horizontal(pl.coalesce("brake_on", "start"), "start")).clip(0.0))
    return float(runs["duration_s"].sum()), float(driven["left"].clip(upper_bound=EARLY_S).sum())


def _at_start(complaint: Complaint, known: pl.DataFrame, running: float) -> Iterator[Sign]:
    """Within a moment of the start. Without contactors in the log that shows in the brake, which sets later.

    What the start took away is then seen by the confirmation, START_S and a setting of the brake after its coming.
    """
    runs, way = complaint.subject.runs_of(complaint.motion), f"{complaint.motion}."
    reported = any(name.startswith(way) and name.endswith(".contactor") for name in complaint.subject.carried)
    sets = 0.0 if reported else float(runs["apply_time_s"].median() or 0.0)  # type: ignore[arg-type]
    within, since = (START_S, "run_start") if reported else (START_S + sets, "run_brake_on")
    start = known.filter(seconds("at", since) <= within)
    share = float(runs["duration_s"].clip(upper_bound=within).sum()) / running
    text = f"{start.height} of {known.height} within {within:.2g} s of the start"
    yield Sign(
        "lost_at_start",
        share_factor(start.height, known.height, share, 0.9),
        text,
        lines_behind(start),
        tail(start.height, known.height, share),
    )


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
    within = subject.off_in_runs(name, complaint.motion)
    brief = within.filter(pl.col("end_seen") & (seconds("end", "start") < FLICKER_S))
    stops = complaint.moments.height if complaint.question.key in LOSSES else 1
    tries = max(stops, within.height)
    factor = share_factor(brief.height, tries, 0.1, 0.7)
    text = f"the confirmation goes for less than {FLICKER_S:g} s with the motion running on {brief.height} x"
    yield Sign("lost_flicker", factor, text, lines(pl.concat([brief["start_row"], brief["end_row"]])))


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
        yield Sign("lost_until_repress", share_factor(stayed, held.height, 0.5, 0.95), text, lines_behind(held))


def _refused(complaint: Complaint) -> Iterator[Sign]:
    """After a loss the motion will not start for a while, whichever way is pressed, and then does again."""
    subject, motion = complaint.subject, complaint.motion
    lost = complaint.moments.filter(pl.col("pattern") == "drop_out")
    if complaint.question.key != "losses" or lost.is_empty() or not subject.assessed("brake_not_confirmed", motion):
        return
    refusals = subject.found(["no_start", "brake_not_confirmed"], motion).select("start", end="start").sort("start")
    refused = lost.filter(inside(lost, refusals, REFUSED_S, 0.0))
    text = f"after {refused.height} of {lost.height} drop-outs a press within {REFUSED_S:g} s is refused"
    factor = share_factor(refused.height, lost.height, 0.1, 0.6)
    yield Sign("refused_after_loss", factor, text, lines_behind(refused))


def _together(complaint: Complaint) -> Iterator[Sign]:
    """Several signals fall in one step, against what falls alone."""
    subject = complaint.subject
    common = subject.found(["common_drop_out"])
    alone = complaint.moments.height
    if complaint.question.key == "commands":
        yield from _with_confirmation(complaint)
    elif complaint.question.key == "falls_together":
        rows = lines_behind(common)
        yield Sign("all_fall_together", 100.0, f"unrelated signals fall together {common.height} x", rows)
    elif alone and subject.assessed("common_drop_out", None):
        factor = share_factor(common.height, common.height + alone, 0.1, 0.9)
        yield Sign("all_fall_together", min(factor, 1.0), f"signals fall together {common.height} x, alone {alone} x")


def _with_confirmation(complaint: Complaint) -> Iterator[Sign]:
    """Commands that go in the same scan as the confirmation of a brake: no brake sets so quickly of itself."""
    subject = complaint.subject
    names = [name for name in sorted(subject.carried) if name.endswith(".brake.released")]
    held = subject.on(*names).select("start", "end", "end_row").sort("start")
    moments = complaint.moments.filter(pl.col("end").is_not_null())
    released = moments.filter(inside(moments, held, 0.0, 2 * subject.log.step_s))
    if not names or subject.log.step_s >= SAME_S or released.is_empty():
        return
    falls = held.select(start="end", end="end").sort("start")
    same = released.filter(inside(released, falls, SAME_S, SAME_S))
    text = f"with {same.height} of {released.height} gaps the confirmation of the brake goes in the same moment"
    factor = share_factor(same.height, released.height, 0.05, 0.8)
    yield Sign("all_fall_together", factor, text, lines_behind(same))
