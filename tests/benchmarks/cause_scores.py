"""Scores of ranked causes: first and among three, Brier score, reliability, confusions, groups, checks."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from statistics import fmean
from typing import Final

import polars as pl

from eventlens.causes.ranking import OTHER
from eventlens.simulation.causes import HEALTHY, UNKNOWN
from tests.benchmarks.cause_walks import STRATEGIES, Walk

GROUPS: Final = (
    ("interface_relay", "contactor_coil", "aux_contact"),
    ("release_switch_intermittent", "lining_gap", "brake_coil", "rectifier_half"),
    ("supply_dip", "common_terminal", "collector_gap"),
    ("ac_side", "main_contact_weld", "release_switch_intermittent", "release_switch_stuck"),
    ("release_switch_intermittent", "controller_log"),
    ("overload_low", "true_overload", "snatch", "limit_fault", "limit_as_stop"),
    ("contactor_coil", "phase_feeder"),
    ("interface_relay", "contactor_coil", "aux_contact", "interlock"),
    ("slack_rope", "limit_fault", "limit_as_stop"),
    ("interface_relay", "contactor_coil", "aux_contact", "limit_fault", "overload_sensor"),
    ("interface_relay", "contactor_coil", "aux_contact", "limit_fault", "slack_rope"),
    ("interface_relay", "contactor_coil", "aux_contact", "main_contact_worn"),
)
"""Causes that a log of commands and brake confirmation cannot tell apart (the table of what cannot be decided)."""


@dataclass(frozen=True)
class Case:
    """What was said of one log."""

    cause: str
    seed: int
    complaint: str | None
    """The complaint that was scored; None: the fault brought none about."""
    ranked: tuple[tuple[str, float], ...]
    undecided: tuple[str, ...]
    others: tuple[tuple[str, str, float], ...]
    """All complaints of the log: its name, the cause that stands first, its probability."""
    walks: Mapping[str, Walk]
    said: str = field(default="", compare=False)
    crash: str = ""
    """What brought the review down."""

    @property
    def truth(self) -> str:
        """What should stand first."""
        return OTHER if self.cause in UNKNOWN else self.cause

    @property
    def first(self) -> str | None:
        """What stands first."""
        return self.ranked[0][0] if self.ranked else None

    @property
    def place(self) -> int | None:
        """Place of the right cause, from 1."""
        return next((at for at, (name, _) in enumerate(self.ranked, 1) if name == self.truth), None)

    @property
    def group_first(self) -> bool:
        """A cause that this one cannot be told from, or it itself, stands first."""
        return self.first == self.truth or any(self.truth in group and self.first in group for group in GROUPS)

    @property
    def brier(self) -> float:
        """Sum over all causes of the squared error of their probabilities."""
        known = dict(self.ranked)
        return sum((p - (name == self.truth)) ** 2 for name, p in known.items()) + (self.truth not in known)


def frame_of(cases: Sequence[Case]) -> pl.DataFrame:
    """A row for each case."""
    rows = [
        {
            "cause": one.cause,
            "seed": one.seed,
            "complaint": one.complaint,
            "first": one.first,
            "first_p": one.ranked[0][1] if one.ranked else None,
            "place": one.place,
            "p": dict(one.ranked).get(one.truth, 0.0),
            "brier": one.brier if one.ranked else None,
            "undecided": " ".join(one.undecided),
            "stated": " ".join(f"{name}={p:.4f}" for name, p in one.ranked),
            **{f"{name} {key}": value for name, w in one.walks.items() for key, value in w._asdict().items()},
        }
        for one in cases
    ]
    return pl.DataFrame(rows, infer_schema_length=None)


def reliability(cases: Sequence[Case]) -> list[tuple[float, float, int]]:
    """For each tenth of stated probability: the mean stated, how often it was so, and how many statements."""
    said = [(p, name == one.truth) for one in cases for name, p in one.ranked]
    found = []
    for tenth in range(10):
        part = [(p, so) for p, so in said if min(int(p * 10), 9) == tenth]
        if part:
            found.append((fmean(p for p, _ in part), fmean(so for _, so in part), len(part)))
    return found


def report(cases: Sequence[Case], *, show: bool = False) -> list[str]:
    """Everything as lines of text."""
    known = [one for one in cases if one.cause not in UNKNOWN and one.cause != HEALTHY]
    lines = list(_by_cause(known))
    if known:
        lines += ["", *_together(known)]
    lines += [f"CRASH {one.cause}, seed {one.seed}: {one.crash}" for one in cases if one.crash]
    lines += ["", *_reliable([one for one in cases if one.ranked and one.cause != HEALTHY])]
    lines += ["", "right cause -> first (of how many logs)", *_confusions(known)]
    lines += ["", *_unknown([one for one in cases if one.cause in UNKNOWN])]
    lines += [f"healthy, seed {one.seed}: {_all(one)}" for one in cases if one.cause == HEALTHY]
    lines += ["", *_walks(known)]
    if show:
        for one in cases:
            if one.first != one.truth and one.cause != HEALTHY:
                lines += [f"{one.cause}, seed {one.seed}, place {one.place}: {_all(one)}", one.said]
    return lines


def _by_cause(cases: Sequence[Case]) -> Iterator[str]:
    yield f"{'cause':28} {'logs':>4} {'silent':>6} {'first':>6} {'three':>6} {'group':>6} {'Brier':>6} {'mean p':>6}"
    for cause in dict.fromkeys(one.cause for one in cases):
        own = [one for one in cases if one.cause == cause]
        yield f"{cause:28} {_scores(own)}"


def _scores(own: Sequence[Case]) -> str:
    spoken = [one for one in own if one.ranked]
    first = fmean(one.first == one.truth for one in own)
    three = fmean((one.place or 99) <= 3 for one in own)
    group = fmean(one.group_first for one in own)
    brier = f"{fmean(one.brier for one in spoken):6.3f}" if spoken else "     -"
    stated = fmean(dict(one.ranked).get(one.truth, 0.0) for one in own)
    silent = len(own) - len(spoken)
    return f"{len(own):4} {silent:6} {first:6.2f} {three:6.2f} {group:6.2f} {brier} {stated:6.2f}"


def _together(cases: Sequence[Case]) -> Iterator[str]:
    yield f"{'all logs':28} {_scores(cases)}"
    spoken = [one for one in cases if one.ranked]
    if spoken:
        yield f"{'logs with a complaint':28} {_scores(spoken)}"
    undecided = [one for one in spoken if one.undecided]
    if undecided:
        right = sum(one.truth in one.undecided for one in undecided)
        yield f"undecided in {len(undecided)} logs, the right cause among the named in {right}"


def _reliable(cases: Sequence[Case]) -> Iterator[str]:
    yield f"{'stated':>7} {'was so':>7} {'statements':>10}"
    for stated, so, count in reliability(cases):
        yield f"{stated:7.3f} {so:7.3f} {count:10}"


def _confusions(cases: Sequence[Case]) -> Iterator[str]:
    wrong = Counter((one.cause, one.first or "(no complaint)") for one in cases if one.first != one.truth)
    logs = Counter(one.cause for one in cases)
    for (cause, first), count in sorted(wrong.items(), key=lambda item: (-item[1], item[0])):
        yield f"{cause:28} -> {first:28} {count} of {logs[cause]}"


def _unknown(cases: Sequence[Case]) -> Iterator[str]:
    if not cases:
        return
    spoken = [one for one in cases if one.ranked]
    led = sum(one.first == OTHER for one in spoken)
    yield f"faults in no list: `other` leads in {led} of {len(spoken)} logs with a complaint ({len(cases)} logs)"
    for cause in dict.fromkeys(one.cause for one in cases):
        firsts = Counter(one.first or "(no complaint)" for one in cases if one.cause == cause)
        yield f"{cause:28} {', '.join(f'{name} {count}' for name, count in firsts.most_common())}"


def _walks(cases: Sequence[Case]) -> Iterator[str]:
    yield f"{'next check':12} {'logs':>4} {'settled':>8} {'checks':>7} {'minutes':>8}"
    for name in STRATEGIES:
        walks = [one.walks[name] for one in cases if name in one.walks]
        if walks:
            settled = fmean(w.settled for w in walks)
            checks, minutes = fmean(w.checks for w in walks), fmean(w.minutes for w in walks)
            yield f"{name:12} {len(walks):4} {settled:8.2f} {checks:7.2f} {minutes:8.1f}"


def _all(one: Case) -> str:
    return ", ".join(f"{name}: {cause} {p:.2f}" for name, cause, p in one.others) or "nothing"
