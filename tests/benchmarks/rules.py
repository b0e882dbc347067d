"""Rules of the form "N times in T": what each choice of N and T costs in false, missed and late alarms.

    python -m tests.benchmarks.rules --days 12
    python -m tests.benchmarks.rules --days 12 --write tests/benchmarks/results/rules.csv

The operator model works in three ways: machines and people in order, who inch now and then as everybody does; the
fault or habit that the rule is for; and its nearest neighbour, which the rule should pass: the same in a small
measure, or something that looks alike. Alarms are counted per day of each: those in order and of the neighbour are
false (real bursts of inching are among the first); a day with the fault and without an alarm is missed; the delay
counts working hours from the beginning of the shift (of a function that is lost: from its loss) until the rule is
fulfilled for the first time. Each choice is one line; `*` marks the default. Seeds are shared, so that the lines of a
rule differ by the choice alone.

Every limit that counts is here, but for those that choose N by themselves from a probability that the user gives
(`frozen_signal`, `common_drop_out`, `unusual_period`): their false alarms are that probability; and for
`limit_repeats`: the operator model never drives into lower or travel limits. The limits of starts and of cyclic
duration are a standard's: for them "in order" says how often ordinary work, 6 to 11 cycles an hour, comes above; marked
is FEM 9.683, M4.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, Final, NamedTuple

import polars as pl

from eventlens.limits import configure
from eventlens.machine import Machine
from eventlens.motion import RecordAxis
from eventlens.motion.chatter import ChatterParameters, find_chatter
from eventlens.patterns import Context, catalogue
from eventlens.simulation import Simulated, as_log, simulate
from eventlens.wiring import context_of, known_limits
from tests.benchmarks.parallel import spread
from tests.benchmarks.rule_cases import IN_ORDER, RULES, SCENARIOS, Rule

COLUMNS: Final = {
    "pattern": pl.String,
    "faulty": pl.String,
    "neighbour": pl.String,
    "number": pl.String,
    "n": pl.Float64,
    "time": pl.String,
    "t": pl.Float64,
    "default": pl.Boolean,
    "days": pl.Int64,
    "false_per_day": pl.Float64,
    "neighbour_per_day": pl.Float64,
    "faulty_per_day": pl.Float64,
    "missed": pl.Float64,
    "delay_h": pl.Float64,
}


class Alarm(NamedTuple):
    """What a choice of a rule gave on a day: how many alarms, and after how many hours the first."""

    rule: int
    choice: int
    scenario: str
    count: int
    after_h: float | None


def day(task: tuple[int, str]) -> list[Alarm]:
    """The alarms of one simulated day under every choice of the rules that ask for its scenario."""
    seed, name = task
    simulated = simulate(SCENARIOS[name], seed=seed, step_s=0.01)
    log = as_log(simulated)
    context = context_of(log, simulated.machine, RecordAxis.of(log), lambda stage: None)
    return [
        Alarm(place, number, name, *_alarms(simulated, _changed(context, rule, limits), rule))
        for place, rule in enumerate(RULES)
        if name in (IN_ORDER, rule.faulty, rule.neighbour)
        for number, limits in enumerate(rule.choices)
    ]


def _changed(context: Context, rule: Rule, limits: dict[str, float]) -> Context:
    """The context of a machine with other limits."""
    machine = Machine(machine=context.machine.machine, limits=limits | rule.fixed)
    changed = replace(context, machine=machine)
    if rule.pattern != "chatter":
        return changed
    return replace(
        changed, chatter=find_chatter(context.states, configure(ChatterParameters, machine.limits), context.step_s)
    )


def _alarms(simulated: Simulated, context: Context, rule: Rule) -> tuple[int, float | None]:
    """How many alarms, and hours from the beginning of the work, or of the fault, to the first; None without one."""
    pattern = catalogue()[rule.pattern]
    parameters, alarms = pattern.configured(context.machine), []
    for motion in pattern.motions or ("",):
        if not pattern.missing(context.carried, motion):
            alarms += rule.alarms(pattern.find(context, motion, parameters), context, motion, parameters)
    begin = rule.since_h or simulated.scenario.shifts[0][0]
    first_h = max((min(alarms) - simulated.start).total_seconds() / 3600 - begin, 0.0) if alarms else None
    return len(alarms), first_h


def table(alarms: Sequence[Alarm]) -> pl.DataFrame:
    """A row for each choice of each rule (COLUMNS): shares of days, and the middle delay of those that were found."""
    known = {item.name: item.default for item in known_limits()}
    frame = pl.DataFrame(alarms, schema=list(Alarm._fields), orient="row", infer_schema_length=None)
    rows: list[tuple[Any, ...]] = []
    for place, rule in enumerate(RULES):
        for number, limits in enumerate(rule.choices):
            own = frame.filter((pl.col("rule") == place) & (pl.col("choice") == number))
            counts = [own.filter(scenario=kind)["count"] for kind in (IN_ORDER, rule.neighbour, rule.faulty)]
            waits = own.filter(scenario=rule.faulty)["after_h"]
            usual = rule.usual or {name: known[name] for name in limits}
            n, t = limits.get(rule.number, 1.0), limits.get(rule.time, rule.fixed_s)
            missed = waits.null_count() / len(waits) if len(waits) else None
            delay = waits.drop_nulls().sort()[waits.count() // 2] if waits.count() else None
            means = [part.mean() for part in counts]
            works = (rule.pattern, rule.faulty, rule.neighbour)
            rows.append((*works, rule.number, n, rule.time, t, limits == usual, len(waits), *means, missed, delay))
    return pl.DataFrame(rows, schema=COLUMNS, orient="row")


def lines_of(costs: pl.DataFrame) -> list[str]:
    """The table as text, a part for each rule."""
    lines = []
    for key, part in costs.group_by("pattern", "number", "time", "faulty", "neighbour", maintain_order=True):
        pattern, number, time, faulty, alike = key
        lines.append(f"{pattern}: {number} (N) in {time} (T); faulty: {faulty}; alike: {alike}")
        lines.append(f"  {'N':>6} {'T':>6} {'in order':>9} {'alike':>9} {'faulty':>9} {'missed':>8} {'delay [h]':>10}")
        for row in part.rows(named=True):
            cells = [
                row["false_per_day"],
                row["neighbour_per_day"],
                row["faulty_per_day"],
                row["missed"],
                row["delay_h"],
            ]
            shown = ["-" if cell is None else f"{cell:.2f}" for cell in cells]
            widths = (9, 9, 9, 8, 10)
            mark = "*" if row["default"] else " "
            text = " ".join(f"{cell:>{width}}" for cell, width in zip(shown, widths, strict=True))
            lines.append(f"{mark} {row['n']:6g} {row['t']:6g} {text}")
    return lines


def main(arguments: list[str] | None = None) -> int:
    """The command."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--days", type=int, default=12, help="of each way of work")
    parser.add_argument("--first", type=int, default=3000, help="the first seed")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--write", type=Path, help="also write the table as CSV")
    given = parser.parse_args(arguments)
    tasks = [(seed, name) for seed in range(given.first, given.first + given.days) for name in SCENARIOS]
    costs = table([alarm for part in spread(day, tasks, given.workers) for alarm in part])
    print("\n".join(lines_of(costs)))
    if given.write:
        costs.with_columns(pl.col(pl.Float64).round(4)).write_csv(given.write)
    return 0


if __name__ == "__main__":
    sys.exit(main())
