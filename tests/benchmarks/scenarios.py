"""Diagnostic scenarios: does the ranking use what is known sensibly, and does it say so where the log cannot decide?

    python -m tests.benchmarks.scenarios [S01 S13 ...] [--show]

Two points for the right cause in first place, one for an acceptable second there; one more if the expected next check
is proposed first, or one of no higher risk for the same pair of causes. Where the log cannot decide, two points for
saying so of these causes and naming what would decide, none for a confident first. The scenarios and the knowledge are
by the same hand: they show that the knowledge is used, not that it is right.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Final

from eventlens.causes.diagnosis import Answer, Diagnosis
from eventlens.machine import Machine, Work
from eventlens.simulation import Simulated, as_log
from eventlens.wiring import review_log
from tests.benchmarks.scenario_machines import SETTINGS, simulated


@dataclass(frozen=True)
class Expected:
    """What a scenario should be answered."""

    complaints: tuple[str, ...]
    """Kinds of complaint at which it is looked."""
    top: tuple[str, ...]
    """The right cause; more than one: the log cannot decide between them."""
    second: tuple[str, ...]
    """Acceptable in first place."""
    check: str
    """The next check."""
    adds: tuple[str, ...] = ()
    """Words of which one must stand in what would decide."""


EXPECTED: Final = MappingProxyType(
    {
        "S01": Expected(("losses",), ("interface_relay",), ("aux_contact", "contactor_coil"), "relay_exchange"),
        "S03": Expected(("no_release",), ("lining_gap",), ("rectifier_half",), "brake_gap"),
        "S04": Expected(("no_release",), ("rectifier_half",), ("brake_coil",), "rectifier_diodes"),
        "S06": Expected(("falls_together",), ("supply_dip",), ("phase_feeder",), "voltage_recorder"),
        "S07": Expected(("falls_together",), ("common_terminal",), ("collector_gap",), "terminals"),
        "S09": Expected(("commands",), ("pendant_cable",), ("pendant_button",), "pendant_cable_moved"),
        "S10": Expected(("overload",), ("snatch",), ("speed_timer",), "watch_work"),
        "S11": Expected(("overload",), ("overload_low",), ("overload_sensor",), "overload_test"),
        "S13": Expected(
            ("no_release",),
            ("release_switch_intermittent", "lining_gap", "brake_coil"),
            (),
            "no_load_run",
            ("current", "hook", "height"),
        ),
        "S15": Expected(
            ("falls_together",),
            ("common_terminal", "supply_dip", "collector_gap"),
            (),
            "voltage_recorder",
            ("supply", "control voltage", "position"),
        ),
        "S18": Expected(("losses",), ("phase_feeder",), ("collector_gap",), "phase_voltages"),
    }
)
"""Scenario -> what it should be answered."""


@dataclass(frozen=True)
class Points:
    """What an answer earns."""

    cause: int
    check: int
    answer: Answer | None
    proposed: str

    @property
    def whole(self) -> int:
        """Together, at most 3."""
        return self.cause + self.check


def judge(expected: Expected, diagnosis: Diagnosis) -> Points:
    """The points of one diagnosis."""
    fitting = [one for one in diagnosis.answers if one.complaint.split()[0] in expected.complaints]
    answer = max(fitting, key=lambda one: one.count, default=None)
    own = [one for one in diagnosis.proposals if answer and one.complaint == answer.complaint]
    proposed = own[0].check if own else ""
    if answer is None:
        return Points(0, 0, None, proposed)
    check = int(bool(own) and (proposed == expected.check or _as_good(expected, diagnosis, proposed, own[0].cause)))
    return Points(_cause(expected, answer), check, answer, proposed)


def _cause(expected: Expected, answer: Answer) -> int:
    if len(expected.top) > 1:
        said = " ".join(str(one) for one in answer.would_split).lower()
        open_ = len(set(answer.undecided) & set(expected.top)) >= 2
        return 2 if open_ and any(word in said for word in expected.adds) else 0
    first = answer.first.cause
    return 2 if first == expected.top[0] else int(first in expected.second)


def _as_good(expected: Expected, diagnosis: Diagnosis, check: str, cause: str) -> bool:
    """Another check of no higher risk that splits the same pair: one of the pair asks for it."""
    checks = diagnosis.knowledge.checks
    return cause in (*expected.top, *expected.second) and checks[check].risk <= checks[expected.check].risk


def diagnosis_of(log: Simulated) -> Diagnosis:
    """The review of a scenario's log; its shifts are known, and commands are read at the input."""
    shifts = tuple(f"{_clock(a)}-{_clock(b)}" for a, b in log.scenario.shifts)
    machine = Machine(machine=log.machine.machine, work=Work(shifts=shifts))
    read = replace(as_log(log), commands_from="input", timezone=log.scenario.timezone)
    return review_log(read, machine).causes


def _clock(hours: float) -> str:
    return f"{int(hours):02}:{round(hours % 1 * 60):02}"


def main(arguments: list[str] | None = None) -> int:
    """The command."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("names", nargs="*", default=[], metavar="SCENARIO", help=", ".join(SETTINGS))
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--show", action="store_true", help="what spoke for and against the leading causes")
    given = parser.parse_args(arguments)
    names: Sequence[str] = given.names or list(SETTINGS)
    if unknown := [name for name in names if name not in SETTINGS]:
        parser.error(f"no scenario {', '.join(unknown)}; there are {', '.join(SETTINGS)}")
    whole = 0
    for name in names:
        points = judge(EXPECTED[name], diagnosis_of(simulated(name, given.seed)))
        whole += points.whole
        print("\n".join(_lines(name, points, show=given.show)), flush=True)
    print(f"{whole} of {3 * len(names)} points")
    return 0


def _lines(name: str, points: Points, *, show: bool) -> list[str]:
    answer = points.answer
    if answer is None:
        return [f"{name}  0 + 0  no complaint"]
    leading = ", ".join(f"{item.cause} {item.probability:.2f}" for item in answer.ranked[:3])
    lines = [f"{name}  {points.cause} + {points.check}  {answer.complaint} ({answer.count}): {leading}"]
    lines[0] += f"; next {points.proposed or 'none'}"
    if answer.undecided:
        lines.append(f"     undecided: {', '.join(answer.undecided)}; would tell: {answer.would_split}")
    if show:
        for item in answer.ranked[:3]:
            said = ", ".join(f"{one.sign.key} {one.ratio:.2g} ({one.sign.text})" for one in item.arguments)
            lines.append(f"     {item.cause}: {said}")
    return lines


if __name__ == "__main__":
    sys.exit(main())
