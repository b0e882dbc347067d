"""Events -> known states -> runs of every motion, each with its delays and how it ended."""

from eventlens.motion.axis import RecordAxis
from eventlens.motion.runs import build_runs
from eventlens.motion.states import States, build_states

__all__ = ["RecordAxis", "States", "build_runs", "build_states"]
