"""How well causes are ranked: logs of simulated machines with one known cause, reviewed and scored.

    python -m tests.benchmarks.causes --seeds 40
    python -m tests.benchmarks.causes --seeds 10 --signals few --causes interface_relay contactor_coil --show

Scored is, in each log, the complaint that the fault brings about (`COMPLAINTS`), of several that with most findings:
whether the right cause stands first or among three, the Brier score of all stated probabilities (sum over the causes;
0 best, 2 worst), and how often what was stated with some probability was so. Where the log of few signals cannot tell
causes apart, the group counts (`GROUPS`). Faults that are in no list should be answered by `other`. Then checks are
made, with outcomes drawn with the chances of the knowledge, until the right cause stands first with 80 %: always the
proposed next one, against the first check of the likeliest cause, and against all checks in the order of the priors.
`--write FILE` keeps every case as CSV.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Final

from eventlens.causes.diagnosis import Answer, Diagnosis
from eventlens.machine import Machine, Work
from eventlens.reading.log import Log
from eventlens.simulation import Simulated, as_log
from eventlens.simulation.causes import CAUSES, HEALTHY, UNKNOWN, plan_of, simulate_cause
from eventlens.wiring import review_log
from tests.benchmarks.cause_scores import Case, frame_of, report
from tests.benchmarks.cause_walks import STRATEGIES, walk
from tests.benchmarks.damage import as_dump, read
from tests.benchmarks.parallel import spread

COMPLAINTS: Final[dict[str, tuple[str, ...]]] = {
    "interface_relay": ("losses", "no_start"),
    "contactor_coil": ("losses", "no_start"),
    "main_contact_worn": ("losses", "phase", "heat"),
    "main_contact_weld": ("stays_on", "brake_at_rest"),
    "aux_contact": ("losses", "no_start"),
    "interlock": ("no_start", "no_release"),
    "speed_timer": ("speed",),
    "fast_contactor": ("speed",),
    "release_switch_intermittent": ("losses", "no_release"),
    "release_switch_stuck": ("brake_at_rest",),
    "lining_gap": ("no_release",),
    "brake_coil": ("no_release",),
    "rectifier_half": ("no_release",),
    "ac_side": ("brake_at_rest",),
    "supply_dip": ("falls_together", "commands", "losses"),
    "common_terminal": ("falls_together", "commands", "losses"),
    "collector_gap": ("falls_together", "commands", "losses"),
    "phase_feeder": ("losses", "phase", "no_start"),
    "pendant_button": ("commands", "losses"),
    "pendant_cable": ("commands", "losses"),
    "overload_low": ("overload", "ends_raise", "losses"),
    "overload_high": ("overload",),
    "overload_sensor": ("overload", "losses", "ends_raise"),
    "true_overload": ("overload", "ends_raise", "losses"),
    "snatch": ("overload", "ends_raise", "losses"),
    "slack_rope": ("slack", "ends_lower", "losses", "no_start"),
    "limit_fault": ("limit_place", "limits", "ends_raise", "losses"),
    "limit_as_stop": ("limits", "ends_raise"),
    "jogging": ("jogging",),
    "plugging": ("reversing",),
    "motor_thermal": ("heat", "duty"),
    "controller_log": ("losses", "record"),
    "clock": ("record",),
    "two_pendants": ("losses", "no_start", "stays_on", "commands"),
    "stop_contact": ("losses", "no_start", "falls_together"),
    "induced_pulses": ("losses", "no_start", "stays_on", "commands", "limits", "falls_together"),
    "zone_permit": ("losses", "no_start", "falls_together"),
}
"""Cause -> kinds of complaint that it brings about."""
SEEN_FIRST: Final = (
    "overload_sensor",
    "overload_low",
    "true_overload",
    "snatch",
    "limit_fault",
    "limit_as_stop",
    "slack_rope",
    "main_contact_weld",
)
"""Causes of which a complaint counts only where those named before it are not made (their device is not logged)."""
SHIFTS: Final = ("06:00-10:00", "14:00-18:00")


def log_of(simulated: Simulated, cause: str) -> Log:
    """The log as read; what befell the record itself goes through the reading of a dump."""
    if cause not in UNKNOWN and cause != HEALTHY and plan_of(cause, simulated.seed)[0].record is not None:
        log = read(*as_dump(simulated))
    else:
        log = as_log(simulated)
    return replace(log, commands_from="input", timezone=simulated.scenario.timezone)


def machine_of(simulated: Simulated) -> Machine:
    """The machine file, with the shifts, which everybody knows."""
    return Machine(machine=simulated.machine.machine, work=Work(shifts=SHIFTS))


def case(task: tuple[str, int], signals: str) -> Case:
    """One log of one cause, reviewed and scored."""
    cause, seed = task
    simulated = simulate_cause(cause, seed, signals="few" if signals == "few" else "full")
    try:
        diagnosis = review_log(log_of(simulated, cause), machine_of(simulated)).causes
    except Exception as error:  # a log that brings the review down is a result too, and not the end of the others
        return Case(cause, seed, None, (), (), (), {}, crash=f"{type(error).__name__}: {error}")
    answer = answer_of(diagnosis, cause, seed)
    others = tuple((one.complaint, one.first.cause, one.first.probability) for one in diagnosis.answers)
    if answer is None:
        return Case(cause, seed, None, (), (), others, {})
    ranked = tuple((item.cause, item.probability) for item in answer.ranked)
    walks = {}
    if cause in diagnosis.knowledge.causes:
        for name in STRATEGIES:
            walks[name] = walk(name, answer, cause, diagnosis.knowledge, random.Random(f"walk {cause} {seed}"))
    return Case(cause, seed, answer.complaint, ranked, answer.undecided, others, walks, _signs(answer, cause))


def answer_of(diagnosis: Diagnosis, cause: str, seed: int) -> Answer | None:
    """The answer to the complaint that the cause brings about: the first of COMPLAINTS, with the most findings."""
    motion = None if cause == HEALTHY else plan_of(cause, seed)[0].motion
    kinds = COMPLAINTS.get(cause, ())
    known = [one for one in diagnosis.answers if one.complaint.split()[0] in kinds]
    known = [one for one in known if motion is None or one.motion in (None, motion)]
    if cause in SEEN_FIRST:
        return min(known, key=lambda one: (kinds.index(one.complaint.split()[0]), -one.count), default=None)
    return max(known, key=lambda one: one.count, default=None)


def _signs(answer: Answer, cause: str) -> str:
    """What spoke for the cause that stands first, and what for and against the right one: for `--show`."""
    lines = [f"    {answer.complaint}: {answer.count} findings"]
    for item in answer.ranked:
        if item.cause in (answer.first.cause, cause):
            said = ", ".join(f"{one.sign.key} {one.ratio:.2g} ({one.sign.text})" for one in item.arguments)
            lines.append(f"    {item.probability:.2f} {item.cause}: {said}")
    return "\n".join(lines)


def run(causes: Sequence[str], seeds: Sequence[int], *, signals: str = "full", workers: int = 1) -> list[Case]:
    """Every cause for every seed."""
    tasks = [(cause, seed) for seed in seeds for cause in causes]
    return list(spread(partial(case, signals=signals), tasks, workers))


def main(arguments: list[str] | None = None) -> int:
    """The command."""
    everything = [*CAUSES, *UNKNOWN, HEALTHY]
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, default=40, help="how many")
    parser.add_argument("--first", type=int, default=0, help="the first of them")
    parser.add_argument("--signals", choices=("full", "few"), default="full")
    parser.add_argument("--causes", nargs="+", default=everything, choices=everything, metavar="CAUSE")
    parser.add_argument("--show", action="store_true", help="what was said in each log that went wrong")
    parser.add_argument("--write", type=Path, metavar="FILE", help="every case as CSV")
    parser.add_argument("--workers", type=int, default=2)
    given = parser.parse_args(arguments)
    began = time.perf_counter()
    seeds = range(given.first, given.first + given.seeds)
    cases = run(given.causes, seeds, signals=given.signals, workers=given.workers)
    print("\n".join(report(cases, show=given.show)))
    if given.write:
        frame_of(cases).write_csv(given.write, float_precision=4)
    print(f"{time.perf_counter() - began:.0f} s", file=sys.stderr)
    return 0


if __name__ == "__main__":
    sys.exit(main())
