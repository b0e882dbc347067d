"""Whether what is known about causes fits together: every name that one table uses stands in another."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import product
from pathlib import Path
from typing import NamedTuple, Protocol

from eventlens import signals
from eventlens.causes.models import NEEDED, Check, Knowledge
from eventlens.causes.ways import Ways, spelled
from eventlens.errors import KnowledgeError, nearest
from eventlens.patterns import catalogue


class Place(NamedTuple):
    """Where something stands."""

    file: Path
    line: int | None


class Where(Protocol):
    """Finds the place of an entry, or of a key in it."""

    def __call__(self, section: str, key: str, *path: str) -> Place: ...


def verify(knowledge: Knowledge, where: Where) -> None:
    """Raises KnowledgeError for the first name that is unknown or used wrongly."""
    for name in knowledge.checks:
        _check(knowledge, name, where)
    for name in knowledge.evidence:
        _evidence(knowledge, name, where)
    for name in knowledge.causes:
        _cause(knowledge, name, where)
    for name in knowledge.undecided:
        _undecided(knowledge, name, where)


def _known(kind: str, names: Iterable[str], known: Iterable[str], at: tuple[str, ...], where: Where) -> None:
    """`at`: section, entry, key."""
    choices = set(known)
    for name in names:
        if name not in choices:
            place = where(*at)
            raise KnowledgeError(
                f"a known {kind} in {'.'.join(at)}",
                f"'{name}'",
                nearest(name, choices),
                file=place.file,
                line=place.line,
            )


def _cause(knowledge: Knowledge, name: str, where: Where) -> None:
    cause, at = knowledge.causes[name], ("causes", name)
    _known("pattern", cause.explains, catalogue(), (*at, "explains"), where)
    _known("evidence", cause.for_, knowledge.evidence, (*at, "for"), where)
    _known("evidence", cause.against, knowledge.evidence, (*at, "against"), where)
    _known("evidence with a mark", cause.why, {*cause.for_, *cause.against}, (*at, "why"), where)
    _known("other cause", cause.confused_with, set(knowledge.causes) - {name}, (*at, "confused_with"), where)
    _known("check", (step.check for step in cause.checks), knowledge.checks, (*at, "checks"), where)
    danger = {*knowledge.evidence, *catalogue()}
    _known("evidence or pattern", cause.out_of_use_if, danger, (*at, "out_of_use_if"), where)
    both = sorted(key for key in cause.for_ if cause.for_[key] and cause.against.get(key, 0))
    if both:
        place = where(*at, "against")
        raise KnowledgeError(
            f"each evidence for or against {'.'.join(at)}",
            f"'{both[0]}' in both",
            "give it a mark in one of them, and 0 in the other",
            file=place.file,
            line=place.line,
        )
    if cause.out_of_use_if and not cause.out_of_use:
        place = where(*at, "out_of_use_if")
        raise KnowledgeError(
            f"the reason as out_of_use in {'.'.join(at)}",
            "out_of_use_if alone",
            "say why the machine must not be used",
            file=place.file,
            line=place.line,
        )


def _evidence(knowledge: Knowledge, name: str, where: Where) -> None:
    evidence = knowledge.evidence[name]
    _signals(evidence.signals, ("evidence", name, "signals"), where)
    if not any(name in cause.marks for cause in knowledge.causes.values()):
        place = where("evidence", name)
        raise KnowledgeError(
            f"a cause that evidence.{name} speaks for or against",
            "none",
            "give it a mark in a cause, or take it out",
            file=place.file,
            line=place.line,
        )


def _check(knowledge: Knowledge, name: str, where: Where) -> None:
    check, at = knowledge.checks[name], ("checks", name, "cautions")
    _known("caution", check.cautions, knowledge.cautions, at, where)
    strange = [key for key in check.cautions if not knowledge.cautions[key].fits(check)]
    needed = NEEDED[check.state]
    if strange:
        _refuse(at, check, f"'{strange[0]}', which belongs to others", "choose one that fits", where)
    if not any(caution.when == needed for caution in knowledge.cautions_of(name)):
        fitting = [key for key, c in knowledge.cautions.items() if c.when == needed and c.fits(check)]
        _refuse(at, check, f"none of '{needed}'", f"add one of {', '.join(fitting)}", where)


def _refuse(at: tuple[str, ...], check: Check, got: str, remedy: str, where: Where) -> None:
    place = where(*at)
    raise KnowledgeError(
        f"cautions in {'.'.join(at)} that fit its state '{check.state}' and risk {check.risk}",
        got,
        remedy,
        file=place.file,
        line=place.line,
    )


def _undecided(knowledge: Knowledge, name: str, where: Where) -> None:
    group, at = knowledge.undecided[name], ("undecided", name)
    _known("pattern", group.patterns, catalogue(), (*at, "patterns"), where)
    _known("evidence", group.evidence, knowledge.evidence, (*at, "evidence"), where)
    _known("cause", group.causes, knowledge.causes, (*at, "causes"), where)
    _known("check", (group.check,), knowledge.checks, (*at, "check"), where)
    _signals(group.decided_by, (*at, "decided_by"), where)
    _signals(tuple((one.signal,) for one in group.add if one.signal), (*at, "add"), where)


def _signals(ways: Ways, at: tuple[str, ...], where: Where) -> None:
    names = dict.fromkeys(name for way in ways for name in way)
    _known("signal", (name for name in names if not _is_signal(name)), _templates(), at, where)


def _is_signal(name: str) -> bool:
    """Whether a name, its placeholders filled, is a signal for one motion at least."""
    try:
        return any(spelled(((name,),), motion) for motion in signals.MOTIONS)
    except (KeyError, ValueError, IndexError):  # a placeholder or a brace that means nothing
        return False


def _templates() -> set[str]:
    """Every signal name, as it stands and with placeholders: what a mistyped one is compared with."""
    found = set(signals.ALL)
    for name, motion in product(signals.ALL, signals.MOTIONS):
        head, _, rest = name.partition(".")
        if head == motion:
            direction, _, kind = rest.partition(".")
            found.add(f"{{motion}}.{{direction}}.{kind}" if direction in signals.DIRECTIONS else f"{{motion}}.{rest}")
    return found
