"""Each simulated cause shows in the exact tracks what it is known by, and a machine in order does not."""

from __future__ import annotations

import pytest

from eventlens.simulation import Scenario, Simulated, simulate
from eventlens.simulation.causes import CAUSES, FEW, HEALTHY, UNKNOWN, plan_of, simulate_cause
from tests.simulation.cause_facts import FACTS, spells

SEED = 2


@pytest.fixture(scope="module")
def healthy() -> Simulated:
    return simulate_cause(HEALTHY, SEED)


@pytest.mark.parametrize("cause", CAUSES)
def test_a_cause_shows_what_it_is_known_by(cause: str) -> None:
    assert FACTS[cause](simulate_cause(cause, SEED), plan_of(cause, SEED)[0])


@pytest.mark.parametrize("cause", CAUSES)
def test_a_machine_in_order_does_not(cause: str, healthy: Simulated) -> None:
    assert not FACTS[cause](healthy, plan_of(cause, SEED)[0])


def test_every_cause_has_its_facts() -> None:
    assert set(FACTS) == set(CAUSES)
    assert len(CAUSES) >= 26
    assert not set(CAUSES) & set(UNKNOWN)


def test_faults_in_no_list_leave_traces(healthy: Simulated) -> None:
    """Both directions asked for at once; a stop of less than 0.2 s; commands of less than 0.1 s; losses in both."""
    both = simulate_cause("two_pendants", SEED)
    raised, lowered = (spells(both, f"hoist.{way}.command") for way in ("raise", "lower"))
    assert sum(a < d and c < b for a, b in raised for c, d in lowered) >= 3
    stop = simulate_cause("stop_contact", SEED)
    assert sum(b - a < 0.2 for a, b in spells(stop, "stop.emergency")) >= 5
    pulses = simulate_cause("induced_pulses", SEED)
    assert sum(b - a < 0.1 for a, b in spells(pulses, "bridge.forward.command")) >= 5
    permit = simulate_cause("zone_permit", SEED)
    assert {run[0] for run in permit.runs["hoist"] if run[3] == "supply"} == {"raise", "lower"}
    assert not spells(healthy, "stop.emergency")
    assert not spells(healthy, "supply.control", on=False)


def test_the_same_seed_gives_the_same_log_and_few_signals_are_few() -> None:
    one, two = (simulate_cause("pendant_cable", 5, days=5) for _ in range(2))
    assert one.events.equals(two.events)
    few = simulate_cause("pendant_cable", 5, days=5, signals="few")
    assert set(few.events["signal"].cast(str).unique()) == set(FEW)
    assert few.tracks == one.tracks


def test_an_unknown_name_is_refused() -> None:
    with pytest.raises(ValueError, match="no cause 'bad_luck'"):
        simulate_cause("bad_luck", 0)


def test_a_machine_of_a_special_kind_changes_nothing_for_others() -> None:
    """An ordinary scenario gives the same with and without the special machine's module in use."""
    before = simulate(Scenario(), seed=4)
    simulate_cause("contactor_coil", 4, days=4)
    assert simulate(Scenario(), seed=4).events.equals(before.events)
