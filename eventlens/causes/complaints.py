"""Complaints: what a person would ask of the machine, each with everything that was found about it.

Findings that one fault may bring about together belong to one complaint: a brake that releases late, one that is not
confirmed. Complaints are judged one by one, so that several faults of one machine do not speak against each other.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType
from typing import Final

import polars as pl

from eventlens import signals
from eventlens.causes.commands import comings
from eventlens.causes.courses import limit_moved, release_moved
from eventlens.causes.ends import turned_back
from eventlens.causes.signs import lines_behind
from eventlens.causes.subject import Subject
from eventlens.schema import SEVERITIES

LEAST_GAPS: Final = 2
"""So many gaps or pulses of commands make a complaint (judgement): a single one may be a hand after all."""
ONE_WAY: Final = 0.9
"""What goes wrong in one direction by so large a share is a matter of that direction (judgement)."""
LEAST_EVENTS: Final = 2
"""... and so many of a device (judgement)."""


@dataclass(frozen=True)
class Question:
    """One kind of complaint."""

    key: str
    asks: str
    """The question, `{motion}` is the motion."""
    patterns: tuple[str, ...]
    by_motion: bool = True
    signals: str = ""
    """Chatter belongs to it where the signal ends so."""
    events: str = ""
    """Or a signal whose coming on is a moment of its own."""
    shows: tuple[str, ...] = ()
    """Evidence that makes a cause a candidate although it brings about none of the patterns."""
    only_shown: bool = False
    """Nothing else makes a candidate: what rattles there is no contactor and no limit."""
    moved: Callable[[Subject, str], bool] | None = None
    """Or a quantity that has plainly moved makes the complaint, on a motion."""


QUESTIONS: Final = (
    Question("falls_together", "why do signals fall together?", ("common_drop_out",), by_motion=False),
    Question(
        "losses",
        "why does the {motion} stop by itself?",
        ("drop_out", "brake_confirmation_lost"),
        signals="contactor|brake.released",
    ),
    Question("ends_raise", "why does raising end by itself, with nobody going on?", ("drop_out",)),
    Question("ends_lower", "why does lowering end by itself, with nobody going on?", ("drop_out",)),
    Question(
        "no_release",
        "why does the {motion} brake release late or never confirm?",
        ("brake_not_confirmed", "brake_release_late"),
        shows=("release_drift", "release_step"),
        moved=release_moved,
    ),
    Question("no_start", "why does the {motion} not start?", ("no_start", "lost_function", "contactor_late")),
    Question(
        "stays_on",
        "why is a contactor of the {motion} on when it should not be?",
        ("contactor_stuck", "contactor_uncommanded", "opposed_directions"),
    ),
    Question(
        "brake_at_rest",
        "why does the {motion} brake say released when it should be set?",
        ("brake_confirmed_at_rest", "brake_apply_late"),
    ),
    Question(
        "speed",
        "why does the {motion} change speed wrongly?",
        ("speed_change_missing", "speed_change_short", "fast_not_reached"),
    ),
    Question(
        "commands",
        "why do commands come and go?",
        (),
        by_motion=False,
        signals="command",
        shows=("command_gaps", "command_stuck", "all_fall_together", "pulses_on_many"),
        only_shown=True,
    ),
    Question(
        "overload",
        "why does the overload device act as it does?",
        ("overload_trip", "overload_snatch", "overload_repeat", "overload_device_fault", "overload_no_trip"),
        by_motion=False,
        signals="overload.trip|overload.warning",
    ),
    Question("limits", "why is the {motion} driven into its limits?", ("limit_as_stop",), signals="limit|slowdown"),
    Question(
        "limit_place",
        "why does the {motion} limit act lower than it did?",
        (),
        shows=("limit_early",),
        moved=limit_moved,
    ),
    Question("slack", "why does the rope go slack?", (), by_motion=False, events="rope.slack", shows=("slack_rope",)),
    Question(
        "phase",
        "why is a phase fault reported?",
        (),
        by_motion=False,
        events="supply.phase_fault",
        shows=("phase_event",),
    ),
    Question("heat", "why does the {motion} motor get hot?", ("motor_hot",)),
    Question("jogging", "why is the {motion} jogged?", ("jogging",)),
    Question("reversing", "why is the {motion} reversed without a pause?", ("reversal_without_pause",)),
    Question(
        "duty",
        "why does the {motion} work more than it may?",
        ("starts_per_hour_high", "cyclic_duration_high", "run_too_long"),
    ),
    Question("record", "what is wrong with the record?", ("clock_step", "frozen_signal"), by_motion=False),
)


LOSSES: Final = ("losses", "ends_raise", "ends_lower")
"""Questions about motions that stop by themselves (ends.py: where a device that may do so is not logged)."""
PLAIN: Final = MappingProxyType(
    {
        "common_drop_out": ("all_fall_together",),
        "brake_confirmation_lost": ("lost_flicker", "lost_early", "lost_spread"),
        "drop_out": ("lost_early", "lost_spread", "lost_at_start", "lost_at_fast", "one_direction"),
        "brake_not_confirmed": ("no_release", "blocked_after_reversal"),
        "brake_release_late": ("release_drift", "release_step", "no_release"),
        "no_start": ("contactor_silent", "one_direction", "blocked_after_reversal"),
        "contactor_late": ("contactor_late",),
        "contactor_stuck": ("contactor_stays",),
        "opposed_directions": ("both_directions_on",),
        "brake_confirmed_at_rest": ("released_at_rest",),
        "brake_apply_late": ("set_longer_step",),
        "speed_change_missing": ("fast_at_once", "fast_early"),
        "speed_change_short": ("fast_early", "fast_at_once"),
        "fast_not_reached": ("fast_never",),
        "overload_trip": ("overload_mid_lift", "overload_when_light", "overload_early", "load_high"),
        "overload_snatch": ("overload_early",),
        "overload_no_trip": ("overload_never", "load_high"),
        "limit_as_stop": ("limit_often",),
        "motor_hot": ("motor_hot", "hot_after_duty", "hot_in_light_use"),
        "jogging": ("jogging",),
        "reversal_without_pause": ("plugging",),
        "starts_per_hour_high": ("duty_over",),
        "cyclic_duration_high": ("duty_over",),
        "clock_step": ("clock_jumps",),
    }
)
"""The evidence as which a pattern plainly shows. A cause that can bring the pattern about, and for which none of this
speaks, brings it about only now and then."""


@dataclass(frozen=True)
class Complaint:
    """One question about one motion, or about the machine as a whole."""

    question: Question
    motion: str | None
    subject: Subject
    occurrences: pl.DataFrame
    """schema.OCCURRENCES that belong to it."""

    @property
    def key(self) -> str:
        """The question and its motion, as 'losses hoist'."""
        return f"{self.question.key} {self.motion}" if self.motion else self.question.key

    @property
    def asks(self) -> str:
        """The question in words."""
        return self.question.asks.format(motion=self.motion)

    @cached_property
    def moments(self) -> pl.DataFrame:
        """When it went wrong (subject.MOMENTS), by time; none where a quantity only moved."""
        if self.question.key == "commands":
            return comings(self.subject)
        if self.question.events:
            return self.subject.comings(self.question.events)
        return self.subject.moments(self.occurrences)

    @cached_property
    def lines(self) -> tuple[int, ...]:
        """All lines behind its moments, ascending."""
        return lines_behind(self.moments)

    @cached_property
    def direction(self) -> str | None:
        """The direction in which it goes wrong, where nine of ten or more do in one."""
        ways = self.moments["direction"].drop_nulls().cast(pl.String).value_counts(sort=True)
        whole = int(ways["count"].sum())
        return str(ways["direction"][0]) if whole and ways["count"][0] >= ONE_WAY * whole else None

    @cached_property
    def patterns(self) -> frozenset[str]:
        """The patterns that occurred."""
        found = frozenset(self.occurrences["pattern"].to_list())
        return found | {"chatter"} if self.question.key == "commands" else found

    def typical(self, marks: Mapping[str, int]) -> bool:
        """Whether something of it plainly shows as what speaks for a cause with these marks."""
        plain = [key for name in self.patterns for key in PLAIN.get(name, tuple(marks))]
        return any(marks.get(key, 0) > 0 for key in (*plain, *self.question.shows))

    def shown_by(self, marks: Mapping[str, int]) -> bool:
        """Whether a cause with these marks is a candidate by the evidence that the question names."""
        return any(marks.get(key, 0) > 0 for key in self.question.shows)

    @cached_property
    def certain(self) -> frozenset[str]:
        """The patterns of which an occurrence is certain."""
        return frozenset(self.occurrences.filter(pl.col("certainty") == "certain")["pattern"].to_list())


def complaints_of(subject: Subject) -> list[Complaint]:
    """All complaints of a log, in the order of QUESTIONS and motions."""
    return [complaint for question in QUESTIONS for complaint in _about(question, subject)]


def _about(question: Question, subject: Subject) -> Iterator[Complaint]:
    if question.key == "commands" and comings(subject).height < LEAST_GAPS:
        return
    if question.events:
        if subject.comings(question.events).height >= LEAST_EVENTS:
            yield Complaint(question, None, subject, subject.occurrences.clear())
        return
    name = pl.col("signal").cast(pl.String)
    rattles = (
        (pl.col("pattern") == "chatter") & name.str.contains(f"({question.signals})$") if question.signals else False
    )
    own = subject.occurrences.filter(pl.col("pattern").is_in(list(question.patterns)) | rattles)
    if question.key in LOSSES:
        own = own.filter(turned_back(subject, own) == question.key.removeprefix("losses").removeprefix("ends_"))
    if not question.by_motion:
        if not own.is_empty() or question.key == "commands":
            yield Complaint(question, None, subject, own)
        return
    for motion in signals.MOTIONS:
        part = own.filter(pl.col("motion") == motion)
        if not part.is_empty() or (question.moved and question.moved(subject, motion)):
            yield Complaint(question, motion, subject, part)


def gravity(complaint: Complaint, severities: dict[str, str]) -> int:
    """Place of its most serious pattern in schema.SEVERITIES; severities: pattern -> severity."""
    return min((SEVERITIES.index(severities[name]) for name in complaint.patterns), default=len(SEVERITIES) - 1)
