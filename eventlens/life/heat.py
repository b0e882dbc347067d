"""A model of the motor's heat: first order, in shares of the rise at which rated duty just keeps it.

The motor gains heat while it runs and with each start, and loses it in proportion to what it has. At the motor's rated
duty (starts per hour and cyclic duration of its group, in even cycles) the mean settles at 1. It is a model: it knows
no ambient, no load, no voltage; a thermistor knows better. It serves to tell a motor that was worked hot from one that
got hot on little work.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlens import schema
from eventlens.duty.groups import GroupLimits
from eventlens.limits import limit

ASSUMES: Final = "a first-order model: no ambient temperature, no load, no voltage; cold where the log begins"
_FORGOTTEN: Final = 30.0
"""Decay exponent beyond which earlier heat is lost in rounding; sums start anew there."""

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class HeatParameters:
    """How the motor warms and cools."""

    motor_time_constant_s: float = limit(
        1800.0,
        "s",
        "from memory: 15 to 45 min for hoist motors of small and medium frames",
        "raising it makes the motor slower to warm and to cool",
    )
    motor_rest_factor: float = limit(
        1.5,
        "ratio",
        "from memory: a motor with its own fan cools slower at rest; 1 for one with a separate fan",
        "raising it keeps the motor warm through longer rests",
    )
    motor_start_heat_share: float = limit(
        0.5,
        "share",
        "common practice, no source: at rated duty about half of the heat of a cage hoist motor comes from its starts",
        "raising it weighs jogging more and long runs less",
    )


@dataclass(frozen=True)
class HeatModel:
    """Figures of one motor."""

    running: float
    """Level that it would settle at if it only ran."""
    start: float
    """What one start adds."""
    tau_run_s: float
    tau_rest_s: float

    @classmethod
    def of(cls, rated: GroupLimits, p: HeatParameters) -> HeatModel:
        """The model whose mean is 1 at rated duty."""
        tau = p.motor_time_constant_s
        share, starts = rated.cyclic_duration, rated.starts_per_hour / 3600.0
        # in short even cycles: gains per second = losses per second at level 1
        losses = share / tau + (1 - share) / (tau * p.motor_rest_factor)
        return cls(
            running=(1 - p.motor_start_heat_share) * losses * tau / share,
            start=p.motor_start_heat_share * losses / starts,
            tau_run_s=tau,
            tau_rest_s=tau * p.motor_rest_factor,
        )


def heat(runs: pl.DataFrame, model: HeatModel) -> pl.DataFrame:
    """(start, end, at_start, at_end) for each run, by start: the heat before its start and at its end, 0 when cold.

    runs: (start, end, start_seen) of one motion, by start. Overlapping runs count from the end of the one before. The
    heat before the log is not known and taken as none: the figures are minima for about three time constants.
    """
    frame = runs.sort("start", maintain_order=True)
    begin, end = (frame[name].dt.timestamp("us").to_numpy() / 1e6 for name in ("start", "end"))
    if not len(begin):
        return frame.select("start", "end", at_start=pl.lit(0.0), at_end=pl.lit(0.0)).clear()
    before = np.maximum.accumulate(np.concatenate([[begin[0]], end]))[:-1]
    rest, run = np.maximum(begin - before, 0.0), np.maximum(end - np.maximum(begin, before), 0.0)
    kick = np.where(frame["start_seen"].to_numpy(), model.start, 0.0)
    cooled, kept = np.exp(-rest / model.tau_rest_s), np.exp(-run / model.tau_run_s)
    # at_end = (at_end of the run before * cooled + kick) * kept + running * (1 - kept)
    at_end = _recurrence(cooled * kept, kick * kept + model.running * (1 - kept))
    at_start = np.concatenate([[0.0], at_end[:-1]]) * cooled
    return frame.select("start", "end").with_columns(at_start=pl.Series(at_start), at_end=pl.Series(at_end))


def at(instants: pl.Series, heated: pl.DataFrame, model: HeatModel) -> pl.Series:
    """The heat at some instants, sorted: between runs it decays from the last end. heated: from `heat`."""
    asked = pl.DataFrame({"at": instants}, schema={"at": schema.TIME})
    near = asked.join_asof(heated, left_on="at", right_on="start", strategy="backward", check_sortedness=False)
    rest = ((pl.col("at") - pl.col("end")).dt.total_microseconds() / 1e6).clip(0.0)
    decayed = pl.col("at_end") * (-rest / model.tau_rest_s).exp()
    return near.select(decayed.fill_null(0.0).alias("heat")).to_series()


def _recurrence(factors: Array, gains: Array) -> Array:
    """x[n] = factors[n] * x[n - 1] + gains[n], x[-1] = 0, by sums over stretches in which no precision is lost."""
    logs = np.log(np.maximum(factors, 1e-300))
    found = np.empty(len(factors))
    begin, carried = 0, 0.0
    while begin < len(factors):
        decay = np.cumsum(logs[begin:])
        stop = max(int(np.searchsorted(-decay, _FORGOTTEN)), 1)
        decay = decay[:stop]
        inside = np.exp(decay) * (carried + np.cumsum(gains[begin : begin + stop] * np.exp(-decay)))
        found[begin : begin + stop] = inside
        begin, carried = begin + stop, float(inside[-1])
    return found
