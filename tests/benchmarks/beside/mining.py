"""What process mining can do of it: each run a case, its records the activities; runs and the mean release time."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from tests.benchmarks.beside.frames import events_of


def runs_and_release(log: Path) -> tuple[int, int]:
    """Number of runs, and mean time from contactor to brake release [us] over them, by pm4py's handover times.

    pm4py knows cases, not signals: which record belongs to which run has to be told to it, here by the presses.
    """
    import pm4py

    frame = events_of(log)
    frame = frame.iloc[6:].copy()  # the states at the beginning are no case
    frame["run"] = (frame["Tag"].isin(["S1", "S2"]) & (frame["State"] == 1)).cumsum().astype("string")
    kind = frame["Tag"].map({"S1": "S", "S2": "S", "K1": "K", "K2": "K", "K3": "F", "B3": "B"})
    frame["what"] = kind + frame["State"].map({1: "+", 0: "-"})
    cases: Any = pm4py.format_dataframe(frame, case_id="run", activity_key="what", timestamp_key="Time")
    follows, _, _ = pm4py.discover_dfg(cases)
    pairs = pm4py.discover_eventually_follows_graph(cases)
    assert pairs[("K+", "B+")] >= follows[("K+", "B+")]
    times = cases[cases["concept:name"].isin(["K+", "B+"])]
    handover, _, _ = pm4py.discover_performance_dfg(times)
    return int(cases["case:concept:name"].nunique()), round(float(handover[("K+", "B+")]["mean"]) * 1e6)
