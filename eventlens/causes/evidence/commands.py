"""The commands themselves: gaps that no thumb can make, on one button or several, and steadiness through a loss."""

from __future__ import annotations

from collections.abc import Iterator

import polars as pl

from eventlens.causes.commands import HAND_S, PRESS_S, gaps
from eventlens.causes.complaints import LOSSES, Complaint
from eventlens.causes.signs import ABSENT, Sign, lines_behind, share_factor
from eventlens.motion.near import seconds


def signs(complaint: Complaint) -> Iterator[Sign]:
    """What the log says of the commands."""
    subject = complaint.subject
    commands = {name for name in subject.carried if name.endswith(".command")}
    if not commands:
        return
    found = gaps(subject)
    moments = found.moments
    if complaint.motion and complaint.question.key != "commands":
        moments = moments.filter(pl.col("motion") == complaint.motion)
    if found.resolvable:
        yield from _gaps(complaint, moments, found.press_share, len(commands))
    yield from _steady(complaint)


def _gaps(complaint: Complaint, moments: pl.DataFrame, press_share: float, commands: int) -> Iterator[Sign]:
    n, others = moments.height, complaint.moments.height
    if not n:
        yield Sign("command_gaps", ABSENT / 2, f"no command gaps for less than {HAND_S:g} s")
        return
    rows = lines_behind(moments)
    own = complaint.question.key == "commands"
    factor = 100.0 if own else share_factor(n, max(n + others, 1), 0.1, 0.6)
    yield Sign("command_gaps", factor, f"{n} command gaps of less than {HAND_S:g} s, faster than a thumb", rows)
    at_press = moments.filter("at_press").height
    text = (
        f"{at_press} of {n} gaps within {PRESS_S:g} s of the press or its end ({press_share:.0%} of the pressed time)"
    )
    press = share_factor(at_press, n, press_share, 0.9)
    yield Sign("command_gaps_at_press", press, text, rows)
    yield Sign("command_gaps_mid_press", 1 / press, text, rows)
    if own and commands > 1:
        most = int(moments["signal"].value_counts()["count"].max())  # type: ignore[arg-type]
        used = _usual_share(complaint)
        one = share_factor(most, n, used, 0.97)
        which = moments["signal"].n_unique()
        text = f"gaps on {which} of {commands} commands, {most} of {n} on one"
        yield Sign("one_command", one, text, rows)
        yield Sign("several_commands", 1 / one, text, rows)


def _usual_share(complaint: Complaint) -> float:
    """Share of the pressed time that the most pressed command has."""
    names = sorted(name for name in complaint.subject.carried if name.endswith(".command"))
    times = [float(complaint.subject.on(name).select(seconds("end", "start")).sum().item()) for name in names]
    return max(times) / sum(times) if sum(times) > 0 else 1.0


def _steady(complaint: Complaint) -> Iterator[Sign]:
    """The command holds through the loss; that clears button and cable only where it is read at the input."""
    subject = complaint.subject
    if complaint.question.key not in (*LOSSES, "no_release", "no_start") or subject.log.commands_from != "input":
        return
    moments = complaint.moments.filter(pl.col("pattern").is_in(["drop_out", "brake_not_confirmed", "no_start"]))
    if moments.height:
        text = f"the command at the controller's input holds through all {moments.height}"
        yield Sign("command_steady", 100.0, text, lines_behind(moments))
