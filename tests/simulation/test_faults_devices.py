"""Guards faults of the overload device and loads driven into the upper limit."""

from __future__ import annotations

from itertools import pairwise

from eventlens.simulation import Faults, Scenario, simulate


def test_a_faulty_device_refuses_lifting() -> None:
    simulated = simulate(Scenario(faults=Faults(device_fault_per_day=20.0, device_fault_s=(200.0, 600.0))), seed=3)
    track = simulated.tracks["overload.fault"]
    faults = [(a, b) for (a, on), (b, _) in pairwise(track) if on > 0.5]
    assert len(faults) > 3
    raises = [start for way, start, _, _ in simulated.runs["hoist"] if way == "raise"]
    # a contactor whose coil was fed just before may still close within its closing time
    assert not [s for s in raises for a, b in faults if a + 0.1 < s < b]
    assert "overload.fault" not in simulate(Scenario(), seed=3).tracks


def test_loads_driven_into_the_upper_limit() -> None:
    def limits(share: float) -> int:
        simulated = simulate(Scenario(faults=Faults(limit_drive=share), habits={"park_at_limit": 0.0}), seed=3)
        return sum(1 for way, _, _, reason in simulated.runs["hoist"] if (way, reason) == ("raise", "limit"))

    assert limits(0.0) <= 1  # the daily test
    assert limits(0.3) > 5
