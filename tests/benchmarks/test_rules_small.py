"""The benchmark of rules "N times in T": when each rule is fulfilled, by logs built by hand, and the table."""

from __future__ import annotations

from typing import Any

import pytest

from eventlens.machine import Machine
from eventlens.motion import RecordAxis
from eventlens.patterns import catalogue
from eventlens.wiring import context_of, known_limits
from tests.benchmarks.rule_cases import IN_ORDER, RULES, SCENARIOS, Rule
from tests.benchmarks.rules import Alarm, lines_of, table
from tests.logs import Records, at, merged, run
from tests.patterns.helpers import logged

BY_NAME = {(rule.pattern, rule.number): rule for rule in RULES}


def alarms(rule: Rule, records: Records, **limits: float) -> list[Any]:
    """When a rule is fulfilled on the hoist."""
    log = logged(records)
    machine = Machine.model_validate({"limits": dict(rule.fixed) | limits})
    context = context_of(log, machine, RecordAxis.of(log), lambda stage: None)
    pattern = catalogue()[rule.pattern]
    parameters = pattern.configured(machine)
    return rule.alarms(pattern.find(context, "hoist", parameters), context, "hoist", parameters)


def tried(*failed: bool) -> Records:
    """One try in ten seconds; those in vain last 2 s without a contactor."""
    parts = [
        [(10.0 * n, "hoist.raise.command", 1.0), (10.0 * n + 2, "hoist.raise.command", 0.0)]
        if in_vain
        else run(10.0 * n + 0.1, 10.0 * n + 2, command=(10.0 * n, 10.0 * n + 1.9))
        for n, in_vain in enumerate(failed, 1)
    ]
    return merged(*parts)


@pytest.mark.parametrize(("least", "second"), [(2.0, 32), (3.0, 42)])
def test_a_row_is_complete_at_the_end_of_its_last_try(least: float, second: float) -> None:
    records = tried(False, True, True, True, True)
    assert alarms(BY_NAME["lost_function", "lost_tries"], records, lost_tries=least) == [at(second)]


def test_a_share_counts_from_the_least_number_of_tries_on() -> None:
    # by hand: after four tries 2 of 4 are above 0.4; after two 1 of 2 would be, but two are too few
    rule = BY_NAME["lost_function", "lost_share"]
    records = tried(True, False, False, True, False)
    assert alarms(rule, records, lost_share=0.39, lost_least_tries=4) == [at(42)]
    assert alarms(rule, records, lost_share=0.39, lost_least_tries=5) == [at(51.9)]
    assert alarms(rule, records, lost_share=0.6, lost_least_tries=4) == []


def test_every_rule_has_its_default_among_its_choices_and_limits_that_exist() -> None:
    known = {item.name: item.default for item in known_limits()}
    for rule in RULES:
        assert {rule.faulty, rule.neighbour} <= set(SCENARIOS)
        assert all(set(choice) <= set(known) for choice in rule.choices)
        usual = rule.usual or {name: known[name] for name in rule.choices[0]}
        assert rule.choices.count(dict(usual)) == 1


def test_the_table_counts_days() -> None:
    rule = BY_NAME["overload_repeat", "once"]
    place = RULES.index(rule)
    found = [
        Alarm(place, 2, IN_ORDER, 0, None),
        Alarm(place, 2, IN_ORDER, 3, 3.0),
        Alarm(place, 2, rule.neighbour, 0, None),
        *(Alarm(place, 2, rule.faulty, count, hours) for count, hours in ((0, None), (2, 0.5), (1, 1.5), (1, 2.5))),
    ]
    row = table(found).filter(pattern="overload_repeat", default=True).row(0, named=True)
    assert (row["days"], row["false_per_day"], row["neighbour_per_day"], row["faulty_per_day"]) == (4, 1.5, 0.0, 1.0)
    assert (row["missed"], row["delay_h"]) == (0.25, 1.5)
    assert any(line.split()[:3] == ["*", "1", "30"] for line in lines_of(table(found)))
