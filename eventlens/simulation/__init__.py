"""A hoist, its people, its controller, its faults and its log, with the truth; seeded, public.

The machine is written as physics and logic; nothing in it knows how a pattern is found. The truth is noted from the
hidden state as things happen, on exact time, and holds what an ideal reader of a perfect log would have to report.
"""

import polars as pl

from eventlens.reading.log import Log
from eventlens.simulation.faults import Faults
from eventlens.simulation.logger import as_log as _as_log
from eventlens.simulation.scenario import Scenario, Simulated, signals_of, simulate
from eventlens.simulation.traits import HELD_OUT, ORDINARY

__all__ = ["HELD_OUT", "ORDINARY", "Faults", "Scenario", "Simulated", "as_log", "signals_of", "simulate", "to_events"]


def as_log(simulated: Simulated) -> Log:
    """The simulated log as reading would hand it on."""
    return _as_log(simulated.recording)


def to_events(simulated: Simulated, step_s: float | None = None) -> pl.DataFrame:
    """The log as schema.EVENTS, at its own step or at another [s]."""
    return simulated.events if step_s is None else simulated.at_step(step_s).events
