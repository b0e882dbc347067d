"""overload_device_fault: the device reports a fault of its own; a trip is none. Numbers counted by hand."""

from __future__ import annotations

import pytest

from tests.logs import HOIST, Records, at, merged, run
from tests.patterns.helpers import found, reviewed, spans

NAME = "overload_device_fault"
CARRIES = (*HOIST, "overload.fault")


def fault(*spans_: tuple[float, float]) -> Records:
    return [(t, "overload.fault", v) for a, b in spans_ for t, v in ((a, 1.0), (b, 0.0))]


def test_it_spans_the_signal_and_takes_the_machine_out_of_service() -> None:
    review = reviewed(merged(run(10, 15), fault((20, 50)), run(30, 33)), CARRIES)
    assert spans(NAME, review) == [(at(20), at(50), "certain")]
    assert found(NAME, review).select("measured", "signal").rows() == [(30.0, "overload.fault")]
    assert review.findings.select("pattern", "severity").rows() == [(NAME, "out_of_service")]
    assert "1 raise runs began while it stood" in review.findings["summary"][0]


def test_a_trip_is_none() -> None:
    trip = [(14.0, "overload.trip", 1.0), (17.0, "overload.trip", 0.0)]
    assert spans(NAME, reviewed(merged(run(10, 14.02, command=(9.9, 15)), trip), CARRIES)) == []


@pytest.mark.parametrize(("gap", "count"), [(1.99, 1), (2.0, 2)])
def test_a_fault_that_flickers_is_one_and_no_chatter(gap: float, count: int) -> None:
    review = reviewed(fault((20, 20.1), (20.2, 20.3), (20.4, 20.5), (20.5 + gap, 40)), CARRIES)
    assert len(spans(NAME, review)) == count
    assert review.findings["pattern"].to_list() == [NAME]


def test_one_that_stands_at_the_beginning_counts_from_there() -> None:
    assert spans(NAME, reviewed(fault((0, 50)), CARRIES)) == [(at(0), at(50), "certain")]


def test_one_that_stands_at_the_end_is_said() -> None:
    review = reviewed([(20.0, "overload.fault", 1.0)], CARRIES, end=100)
    assert spans(NAME, review) == [(at(20), at(100), "certain")]
    assert "stood to the end" in review.findings["summary"][0]


def test_an_unknown_state_ends_it_and_a_hole_is_not_bridged() -> None:
    assert spans(NAME, reviewed([(20.0, "overload.fault", 1.0), (30.0, "overload.fault", None)], CARRIES)) == [
        (at(20), at(30), "certain")
    ]
    after = [(31.0, name, float(name == "overload.fault")) for name in CARRIES]
    review = reviewed([(20.0, "overload.fault", 1.0), *after], CARRIES, holes=[(30, 31)], end=40)
    assert spans(NAME, review) == [(at(20), at(30), "certain"), (at(31), at(40), "certain")]


def test_a_contact_that_fails_safe_in_a_dip_of_the_supply_is_the_dip() -> None:
    supply = [(0.0, "supply.control", 1.0), (20.0, "supply.control", 0.0), (20.5, "supply.control", 1.0)]
    work = run(10, 20, command=(9.9, 21))
    review = reviewed(merged(work, supply, fault((20, 20.52))), CARRIES)
    assert review.findings["pattern"].to_list() == ["common_drop_out"]
    stays = reviewed(merged(work, supply, fault((20, 60))), CARRIES)
    assert sorted(stays.findings["pattern"]) == ["common_drop_out", NAME]


def test_without_the_signal_it_is_not_assessed() -> None:
    assert NAME in reviewed(run(10, 15)).not_assessed["pattern"].to_list()
