"""A model of the motor's heat: first order, in shares of the rise at which rated duty just keeps it.

The motor gains heat while it runs and with each start, and loses it in proportion to what it has. At the motor's rated
duty (starts per hour and cyclic duration of its group, in even cycles) the mean settles at 1. It is a model: it knows
no ambient, no load, no voltage; a thermistor knows better. It serves to tell a motor that was worked hot from one that
got hot on little work.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Final

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlens import schema
from eventlens.duty.groups import GroupLimits
from eventlens.limits import configure, limit

ASSUMES: Final = "a first-order model: no ambient temperature, no load, no voltage; cold where the log begins"
_FORGOTTEN: Final = 30.0
"""Decay exponent beyond which earlier heat is lost in rounding; sums start anew there."""

_AHEAD: Final = 64
"""Runs among which the end of a stretch is looked for at first."""

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
    motor_heat_explained_from: float = limit(
        1.0,
        "share",
        "common practice, no source: thermistors trip a little above the level of rated duty",
        "raising it asks for more work before a trip of the thermistor counts as explained by it",
    )
    motor_heat_unexplained_below: float = limit(
        0.7,
        "share",
        "common practice, no source: the model is hardly better than a third",
        "raising it looks for another cause (brake, phase, cooling) behind more trips",
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


@dataclass(frozen=True)
class Heat:
    """The hottest moment of a motor by the model."""

    peak: float
    """In shares of the level that rated duty keeps; above 1 it was worked hotter than rated."""
    from_starts: float
    """Share of this that came from starts, 0 to 1; the rest from running."""
    at: datetime
    confidence: str
    """'from memory' unless the machine file gives the time constant, its factor at rest and the share of the starts."""
    assumes: str = ASSUMES

    @property
    def reserve(self) -> float:
        """What was left up to the level of rated duty; below 0: above it."""
        return 1 - self.peak


def hottest(runs: pl.DataFrame, rated: GroupLimits, limits: Mapping[str, float]) -> Heat | None:
    """The hottest end of a run; None without runs. runs: as for `heat`; limits: of the machine file."""
    if runs.is_empty():
        return None
    heated = heat(runs, HeatModel.of(rated, configure(HeatParameters, limits)))
    top = heated.row(int(heated["at_end"].arg_max() or 0), named=True)
    own = {"motor_time_constant_s", "motor_rest_factor", "motor_start_heat_share"} <= set(limits)
    share = top["starts_at_end"] / top["at_end"] if top["at_end"] > 0 else 0.0
    return Heat(top["at_end"], share, top["end"], "machine file" if own else "from memory")


def heat(runs: pl.DataFrame, model: HeatModel) -> pl.DataFrame:
    """The heat of each run, by start: (start, end, kick, at_start, at_end, starts_at_start, starts_at_end).

    runs: (start, end, start_seen) of one motion, by start. at_start is the heat before the run, at_end that at its end,
    0 when cold; starts_*: the part of it that came from starts; kick: what the run's own start adds. Overlapping runs
    count from the end of the one before. The heat before the log is not known and taken as none: the figures are
    minima for about three time constants.
    """
    frame = runs.sort("start", maintain_order=True)
    begin, end = (frame[name].dt.timestamp("us").to_numpy() / 1e6 for name in ("start", "end"))
    before = np.maximum.accumulate(np.concatenate([begin[:1], end]))[: len(begin)]
    rest, run = np.maximum(begin - before, 0.0), np.maximum(end - np.maximum(begin, before), 0.0)
    kick = np.where(frame["start_seen"].to_numpy(), model.start, 0.0)
    cooled, kept = np.exp(-rest / model.tau_rest_s), np.exp(-run / model.tau_run_s)
    # at_end = (at_end of the run before * cooled + kick) * kept + running * (1 - kept)
    at_end, by_starts = _recurrences(cooled * kept, np.array([kick * kept + model.running * (1 - kept), kick * kept]))
    return frame.select("start", "end").with_columns(
        kick=pl.Series(kick),
        at_start=pl.Series(_before(at_end) * cooled),
        at_end=pl.Series(at_end),
        starts_at_start=pl.Series(_before(by_starts) * cooled),
        starts_at_end=pl.Series(by_starts),
    )


def at(instants: pl.Series, heated: pl.DataFrame, model: HeatModel) -> pl.DataFrame:
    """The heat at some instants, sorted: (heat, from_starts: the part of it that came from starts).

    Within a run it is on its way, between runs it decays from the last end. heated: from `heat`.
    """
    asked = pl.DataFrame({"at": instants}, schema={"at": schema.TIME})
    near = asked.join_asof(heated, left_on="at", right_on="start", strategy="backward", check_sortedness=False)

    def since(name: str) -> pl.Expr:
        return ((pl.col("at") - pl.col(name)).dt.total_microseconds() / 1e6).clip(0.0)

    inside, kept = pl.col("at") < pl.col("end"), (-since("start") / model.tau_run_s).exp()
    cooled = (-since("end") / model.tau_rest_s).exp()
    starts = pl.when(inside).then((pl.col("starts_at_start") + pl.col("kick")) * kept)
    level = pl.when(inside).then((pl.col("at_start") + pl.col("kick")) * kept + model.running * (1 - kept))
    return near.select(
        level.otherwise(pl.col("at_end") * cooled).fill_null(0.0).alias("heat"),
        starts.otherwise(pl.col("starts_at_end") * cooled).fill_null(0.0).alias("from_starts"),
    )


def _before(at_end: Array) -> Array:
    """For each run the value at the end of the run before; 0 before the first."""
    return np.concatenate([np.zeros(1), at_end])[: len(at_end)]


def _recurrences(factors: Array, gains: Array) -> Array:
    """x[n] = factors[n] * x[n - 1] + gains[n], x[-1] = 0, of each row of gains, by sums over stretches in which no
    precision is lost."""
    logs = np.log(np.maximum(factors, 1e-300))
    found = np.empty_like(gains)
    begin, carried, ahead = 0, np.zeros((len(gains), 1)), _AHEAD
    while begin < len(factors):
        decay = np.cumsum(logs[begin : begin + ahead])
        if decay[-1] > -_FORGOTTEN and begin + ahead < len(factors):
            ahead *= 2  # the stretch goes on: it is looked for no further than it reaches, else time grows squared
            continue
        stop = max(int(np.searchsorted(-decay, _FORGOTTEN)), 1)
        decay = decay[:stop]
        inside = np.exp(decay) * (carried + np.cumsum(gains[:, begin : begin + stop] * np.exp(-decay), axis=1))
        found[:, begin : begin + stop] = inside
        begin, carried, ahead = begin + stop, inside[:, -1:], 2 * stop  # the next is about as long
    return found
