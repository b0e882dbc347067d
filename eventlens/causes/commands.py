"""Gaps of commands: a pushbutton that opens and closes again faster than a thumb can let go and press."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import polars as pl

from eventlens import schema, signals
from eventlens.causes.subject import MOMENTS, Subject, brief_spells
from eventlens.motion.near import seconds

HAND_S: Final = 0.15
"""Shortest time in which a thumb lets go and presses again [s] (judgement: rarely under 0.15 to 0.2 s)."""
BOUNCE_S: Final = 0.02
"""Shorter openings are the bounce of a sound contact [s] (common practice: inputs are filtered for 10 to 30 ms)."""
ALONE_S: Final = 1.0
"""A pulse with nothing of the same command for so long before and after stands alone [s] (judgement)."""
PRESS_S: Final = 0.3
"""So long after a press, or before its end, a gap belongs to the press itself [s] (judgement)."""


@dataclass(frozen=True)
class Gaps:
    """Gaps of all commands of a log."""

    moments: pl.DataFrame
    """subject.MOMENTS and `at_press`: the gap lies within PRESS_S of the beginning or the end of the press."""
    resolvable: bool
    """Whether the log step lets such gaps be seen at all."""
    pressed_s: float
    """Time [s] for which commands were on."""
    press_share: float
    """Share of the pressed time that lies within PRESS_S of the beginning or the end of a press."""


def gaps(subject: Subject) -> Gaps:
    """The gaps of all commands."""
    return subject.once("gaps", _gaps)


def single_pulses(subject: Subject) -> pl.DataFrame:
    """Spells of commands (schema.STATES) too brief for a thumb, with nothing of the same command near, by start.

    A contact that is bad takes a command away; it does not make one where nobody presses.
    """
    return subject.once("single pulses", _single_pulses)


def _single_pulses(subject: Subject) -> pl.DataFrame:
    names = [name for name in sorted(subject.carried) if name.endswith(".command")]
    brief = brief_spells(subject, names)
    parts = [brief.clear()]
    for name in names:
        own = brief.filter(pl.col("signal") == pl.lit(name, schema.SIGNAL))
        if own.is_empty():
            continue
        on = subject.on(name).select("start", "end")
        before, after = seconds("start", pl.col("end").shift(1)), seconds(pl.col("start").shift(-1), "end")
        near = on.select("start", before=before, after=after)
        own = own.join(near.filter(pl.col("start").is_in(own["start"].implode())), on="start", how="left")
        apart = pl.min_horizontal("before", "after").fill_null(ALONE_S) >= ALONE_S
        parts.append(own.filter(apart).select(brief.columns))
    return pl.concat(parts).sort("start", maintain_order=True)


def _gaps(subject: Subject) -> Gaps:
    names = [name for name in sorted(subject.carried) if name.endswith(".command")]
    parts, pressed, near = [], 0.0, 0.0
    for name in names:
        found = _of_command(subject, name)
        parts.append(found)
        length = subject.on(name).select(s=seconds("end", "start"))["s"]
        pressed += float(length.sum())
        near += float(length.clip(upper_bound=2 * PRESS_S).sum())
    empty = pl.DataFrame(schema={**MOMENTS, "at_press": pl.Boolean()})
    frame = subject.alone(pl.concat(parts).sort("at", maintain_order=True)) if parts else empty
    return Gaps(frame, subject.log.step_s < HAND_S / 2, pressed, near / pressed if pressed else 0.0)


def comings(subject: Subject) -> pl.DataFrame:
    """Moments (subject.MOMENTS) at which commands come or go as no hand makes them: gaps, and pulses of their own."""
    pulses = single_pulses(subject)
    own = pulses.select(
        pattern=pl.lit("chatter"),
        motion=pl.col("signal").cast(pl.String).str.split(".").list.first().cast(schema.MOTION),
        direction=pl.lit(None, schema.DIRECTION),
        signal="signal",
        at="start",
        end="end",
        measured=seconds("end", "start"),
        rows=pl.concat_list("start_row", "end_row"),
    )
    return pl.concat([gaps(subject).moments.select(*MOMENTS), own]).sort("at", maintain_order=True)


def _of_command(subject: Subject, name: str) -> pl.DataFrame:
    """Off intervals of one command, both ends seen, that no thumb can make."""
    motion, direction = name.split(".")[:2]
    off = subject.off(name).with_columns(length=seconds("end", "start"))
    brief = (pl.col("length") + subject.log.step_s < HAND_S) & pl.col("start_seen") & pl.col("end_seen")
    short = off.filter(brief & (pl.col("length") >= BOUNCE_S))
    on = subject.on(name)
    before = on.select(pressed="start", at="end").filter(pl.col("at").is_in(short["start"].implode()))
    after = on.select(again="start", let_go="end").filter(pl.col("again").is_in(short["end"].implode()))
    joined = short.join(before, left_on="start", right_on="at", how="left").join(
        after, left_on="end", right_on="again", how="left"
    )
    early = seconds("start", "pressed") < PRESS_S
    late = seconds("let_go", "end") < PRESS_S
    way = direction if direction in signals.DIRECTIONS else None
    return joined.select(
        pattern=pl.lit("chatter"),
        motion=pl.lit(motion, schema.MOTION),
        direction=pl.lit(way, schema.DIRECTION),
        signal=pl.lit(name, schema.SIGNAL),
        at="start",
        end="end",
        measured="length",
        rows=pl.concat_list("start_row", "end_row"),
        at_press=(early | late).fill_null(value=False),
    )
