"""The form of what is known about causes: causes, evidence, checks, cautions, and what cannot be told apart.

Every prior, mark and probability is judgement unless its `source` says otherwise.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cached_property
from typing import Annotated, Final, Literal, Protocol

from pydantic import Field, model_validator

from eventlens.causes.ways import Text, Ways, spelled
from eventlens.settings import Settings

Family = Literal[
    "losses",
    "commands",
    "brake",
    "contactors",
    "speed",
    "overload",
    "limits",
    "use",
    "motor",
    "supply",
    "place",
    "time",
    "record",
]
"""Evidence of one family hangs together and does not count in full each time."""

State = Literal["desk", "work", "no_load_run", "isolated", "live", "test"]
"""What the machine does during a check: papers only; ordinary operation, watched; run without load; off and locked;
covers open under voltage; known load just above the floor."""

Motion = Literal["hoist", "trolley", "bridge"]
Direction = Literal["raise", "lower", "left", "right", "forward", "reverse"]
When = Literal["before", "live", "moving", "out_of_use", "after", "log"]

NEEDED: Final[dict[str, str]] = {
    "desk": "log",
    "work": "before",
    "no_load_run": "moving",
    "isolated": "before",
    "live": "live",
    "test": "moving",
}
"""For each state the kind of caution that a check in it must carry (common practice)."""

Mark = Annotated[int, Field(ge=0, le=3)]
"""Strength of evidence: 1 to 3, as `Strengths` weighs them; 0 takes a mark away."""
Probability = Annotated[float, Field(gt=0, lt=1)]


class Strengths(Settings):
    """What marks weigh, and how far evidence that hangs together counts."""

    for_: tuple[float, float, float] = Field(alias="for")
    """Likelihood ratio of 1, 2 and 3 marks for a cause."""
    against: tuple[float, float, float]
    usual: tuple[Probability, Probability, Probability]
    """Chance of a piece of evidence of 1, 2 and 3 marks with the average other cause."""
    anything: Probability
    """Chance of a piece of evidence with a cause that is in no list."""
    now_and_then: Annotated[float, Field(gt=0, le=1)]
    """A cause that brings a complaint about only now and then counts with this part of its prior."""
    most_of_a_family: Annotated[int, Field(ge=1)]
    """So many pieces of evidence of one family count for a cause, the strongest."""
    further_share: Annotated[float, Field(gt=0, le=1)]
    """Each further one counts this share of the one before it."""
    power: Annotated[float, Field(gt=0)]
    """The product of all families is raised to this power."""
    unlisted_prior: Annotated[float, Field(gt=0, lt=1)]
    """Prior of a cause that is in no list."""
    undecided_factor: Annotated[float, Field(ge=1)]
    """Leading causes nearer than this factor are undecided while a signal that splits them is missing."""
    source: Text

    @model_validator(mode="after")
    def _ordered(self) -> Strengths:
        if not 1 <= self.for_[0] <= self.for_[1] <= self.for_[2]:
            raise ValueError("ratios from 1 up in 'for', not falling")
        if not 1 >= self.against[0] >= self.against[1] >= self.against[2] > 0:
            raise ValueError("ratios from 1 down to above 0 in 'against', not rising")
        return self


class Evidence(Settings):
    """Something that a log can show and that speaks for or against causes."""

    family: Family
    title: Text
    meaning: Text
    signals: Ways
    """What must be logged for it to be known. What is not logged is unknown, never absent."""
    outside: str = ""
    """What is needed besides that no signal shows; may be empty."""
    source: Text

    def ways(self, motion: str, direction: str | None = None) -> tuple[tuple[str, ...], ...]:
        """`signals` spelled for a motion; empty where it has none, or where none is needed (`needs_none`)."""
        return spelled(self.signals, motion, direction)

    @property
    def needs_none(self) -> bool:
        """Whether any log shows it."""
        return not self.signals

    def known(self, carried: frozenset[str], motion: str, direction: str | None = None) -> bool:
        """Whether the signals that a log carries show it; `outside` is not asked about."""
        return self.needs_none or any(carried.issuperset(way) for way in self.ways(motion, direction))


class Caution(Settings):
    """What anybody must know, and which checks it belongs to."""

    when: When
    text: Text
    states: tuple[State, ...] = ()
    """Empty: all."""
    least_risk: Annotated[int, Field(ge=0, le=4)] = 0

    def fits(self, check: Check) -> bool:
        """Whether it belongs to a check of this state and risk."""
        return (not self.states or check.state in self.states) and check.risk >= self.least_risk


class Check(Settings):
    """Something that can be done to find out."""

    what: Text
    tool: Text
    minutes: Annotated[float, Field(gt=0)]
    """Without the way to the machine (judgement)."""
    state: State
    risk: Annotated[int, Field(ge=0, le=4)]
    """0 none, 1 moving with covers shut, 2 isolated, 3 live parts within reach, 4 load, brake, height or conductors."""
    cautions: tuple[Text, ...]

    @property
    def dead(self) -> bool:
        """Whether the machine stands still and without power, or is not touched at all."""
        return self.state in ("desk", "isolated")


class Step(Settings):
    """A check as one cause asks for it."""

    check: Text
    positive: Text
    """The outcome that speaks for the cause (against it where `if_true` is the smaller)."""
    if_true: Probability
    """Probability of that outcome if it is this cause."""
    if_other: Probability
    """The same if it is one of its usual rivals."""
    negative: Text
    """What the other outcome means."""

    @model_validator(mode="after")
    def _tells(self) -> Step:
        if self.if_true == self.if_other:
            raise ValueError(
                f"if_true and if_other that differ (both are {self.if_true}: the check would tell nothing)"
            )
        return self


class Cause(Settings):
    """One cause. What it explains, what speaks for and against it, and how to settle it."""

    title: Text
    part: Text
    """The part or habit in two or three words."""
    group: Text
    prior: Annotated[float, Field(gt=0)]
    """Percent of the service calls that leave a trace in a log."""
    motions: tuple[Motion, ...] = ()
    """Motions that it can be a cause on; empty: all."""
    explains: Annotated[tuple[Text, ...], Field(min_length=1)]
    """Names of the patterns that it can bring about."""
    for_: dict[str, Mark] = Field(default_factory=dict, alias="for")
    against: dict[str, Mark] = Field(default_factory=dict)
    why: dict[str, Text] = Field(default_factory=dict)
    """Short reasons, by evidence."""
    confused_with: dict[str, Text] = Field(default_factory=dict)
    """What separates it from other causes, by cause."""
    checks: Annotated[tuple[Step, ...], Field(min_length=1)]
    """In order."""
    remedy: Text
    out_of_use: str = ""
    """Why the machine must not be used until it is settled; empty: it may."""
    out_of_use_if: tuple[Text, ...] = ()
    """Evidence or patterns of which one must have been seen for `out_of_use` to hold; empty: whatever was seen."""
    source: Text

    @cached_property
    def marks(self) -> dict[str, int]:
        """The marks by evidence: above zero for it, below zero against it."""
        return {key: n for key, n in self.for_.items() if n} | {key: -n for key, n in self.against.items() if n}


class Addition(Settings):
    """Something that, once logged, would split causes: a signal with a name, or else in words."""

    signal: str = ""
    what: str = ""
    tells: Text

    @model_validator(mode="after")
    def _one_of_both(self) -> Addition:
        if bool(self.signal) == bool(self.what):
            raise ValueError("either 'signal' or 'what'")
        return self


class Shown(Protocol):
    """What a log says of a piece of evidence (signs.Sign)."""

    @property
    def factor(self) -> float: ...


class Undecided(Settings):
    """Causes that a log with few signals cannot tell apart."""

    seen: Text
    motions: tuple[Motion, ...] = ()
    """Where it is so; empty: everywhere."""
    directions: tuple[Direction, ...] = ()
    patterns: Annotated[tuple[Text, ...], Field(min_length=1)]
    evidence: tuple[Text, ...] = ()
    """What describes it."""
    causes: Annotated[tuple[Text, ...], Field(min_length=2)]
    decided_by: Ways = ()
    """What must be logged for it not to hold; empty: no signal that has a name decides it."""
    add: Annotated[tuple[Addition, ...], Field(min_length=1)]
    """What would split them, best first."""
    note: str = ""
    check: Text
    """What splits them without more signals."""

    def seen_in(self, signs: Mapping[str, Shown]) -> bool:
        """Whether nothing that describes it is missing from what a log shows."""
        return all(signs[key].factor > 1 for key in self.evidence if key in signs)

    def holds(self, carried: frozenset[str], motion: str, direction: str | None = None) -> bool:
        """Whether a log with these signals cannot tell them apart on a motion (in a direction)."""
        if self.motions and motion not in self.motions:
            return False
        if direction is not None and self.directions and direction not in self.directions:
            return False
        return not any(carried.issuperset(way) for way in spelled(self.decided_by, motion, direction))


class Knowledge(Settings):
    """All of it. Raw likelihoods only: how to weigh them together is for who ranks."""

    causes: dict[str, Cause]
    evidence: dict[str, Evidence]
    checks: dict[str, Check]
    cautions: dict[str, Caution]
    undecided: dict[str, Undecided]
    strengths: Strengths
    replaced: tuple[str, ...] = ()
    """Values that a user's file replaced, as 'causes.interface_relay.prior'."""
    added: tuple[str, ...] = ()
    """What it added, as 'causes.my_cause'."""

    def explaining(self, pattern: str, motion: str | None = None) -> tuple[str, ...]:
        """The causes that can bring a pattern about (on a motion, if one is given), in the order of the file."""
        return tuple(
            name
            for name, cause in self.causes.items()
            if pattern in cause.explains and (motion is None or not cause.motions or motion in cause.motions)
        )

    def ratio(self, cause: str, evidence: str) -> float:
        """How many times likelier a piece of evidence is with the cause than with the average other one; 1: neutral."""
        mark = self.causes[cause].marks.get(evidence, 0)
        if mark == 0:
            return 1.0
        return self.strengths.for_[mark - 1] if mark > 0 else self.strengths.against[-mark - 1]

    def cautions_of(self, check: str) -> Iterator[Caution]:
        """The cautions of a check, in its order."""
        yield from (self.cautions[key] for key in self.checks[check].cautions)
