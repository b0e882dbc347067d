"""Common drop-outs: signals that have nothing to do with each other fall together, because their supply does.

Three ways show one. Contactors of at least two motions open together although their commands are held and no device of
their own cut them. Or a contactor opens (held or not: the button may hang on the same supply) and together with it at
least two inputs that have nothing to do with it change: limits of other directions, a thermistor, the overload device,
the slack-rope switch; where inputs are wired to fail safe, they operate when their supply goes. Or the log carries the
control supply: it goes, and something that was on opens. Where a direction's contactor is not logged, its command
stands for it in the second and third way.

Together means within `common_within_s`, or one log step where that is longer. An emergency stop opens everything on
purpose: it explains the first and the third way. A common drop-out lasts until anything comes on again.

The coarser the log step, the more often changes that have nothing to do with each other fall together by chance. It is
certain only where so many would coincide by chance, anywhere in this log, less often than `common_false_alarm`:
(n + 1) (r w)^k with n openings, r changes of the kind per second of running time, w the time that counts as together
and k further signals. The first way also needs a step no coarser than a hand, and a stop that is ruled out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import timedelta
from typing import Final, NamedTuple

import polars as pl
from polars.dataframe.group_by import GroupBy

from eventlens import schema
from eventlens.limits import limit
from eventlens.motion.doubt import is_known
from eventlens.motion.endings import EndingParameters
from eventlens.motion.falls import (
    against_command,
    held_until,
    inputs,
    near_unlike,
    openings,
    operated,
    outputs,
    related,
)
from eventlens.motion.falls import falls as _falls
from eventlens.motion.near import following, latest, seconds
from eventlens.motion.spells import during
from eventlens.motion.states import States

SCHEMA: Final = pl.Schema(
    {
        "start": schema.TIME,
        "end": schema.TIME,
        "start_seen": pl.Boolean(),
        "end_seen": pl.Boolean(),
        "start_row": schema.ROW(),
        "end_row": schema.ROW(),
        "segment": pl.UInt32(),
        "fallen": pl.UInt32(),
        "needed": pl.UInt32(),
        "sure": pl.Boolean(),
        "signals": pl.List(schema.SIGNAL),
        "rows": pl.List(schema.ROW),
    }
)
"""Common drop-outs: from the first fall until anything comes on again; how many signals that have nothing to do with
each other fell, how many are needed to be certain, whether it is, which signals, and the lines that prove it."""

_GROUP: Final = pl.Schema(
    {
        "start": schema.TIME,
        "segment": pl.UInt32(),
        "start_row": schema.ROW(),
        "last": schema.TIME,
        "until": schema.TIME,
        "back": schema.TIME,
        "fallen": pl.UInt32(),
        "needed": pl.UInt32(),
        "sure": pl.Boolean(),
        "signals": pl.List(schema.SIGNAL),
        "rows": pl.List(schema.ROW),
    }
)
"""What fell together: first and last fall, until when all stayed so, and the first return that was seen."""


@dataclass(frozen=True)
class CommonParameters:
    """What falls together."""

    common_within_s: float = limit(
        0.03,
        "s",
        "common practice: contactors open in 0.004 to 0.02 s, seen by the next scan",
        "raising it joins drop-outs of two causes; lowering it takes slow contactors out of a common drop-out",
    )
    common_false_alarm: float = limit(
        0.01,
        "expected in the whole log",
        "common practice: one log in a hundred; no source",
        "raising it calls fewer coinciding signals certain; lowering it asks for more of them",
    )


class _Log(NamedTuple):
    """What the three ways look at."""

    states: States
    openings: pl.DataFrame
    p: CommonParameters
    e: EndingParameters
    step_s: float

    @property
    def together_s(self) -> float:
        return max(self.p.common_within_s, self.step_s)

    @property
    def doubt_s(self) -> float:
        return 2 * self.step_s

    @property
    def fine(self) -> bool:
        """Whether the step is finer than a hand."""
        return self.step_s <= self.e.hand_s


def common_drop_outs(states: States, p: CommonParameters, e: EndingParameters, step_s: float) -> pl.DataFrame:
    """The common drop-outs of a log (SCHEMA), by start. Above a step that is coarser than a hand, certain ones only.

    Cost: nothing for a log of one motion without control supply and without inputs; else a sort of all openings.
    """
    if len(set(outputs(states).values())) < 2 and not inputs(states) and not states.has("supply.control"):
        return SCHEMA.to_frame()
    log = _Log(states, openings(states), p, e, step_s)
    groups = pl.concat([_GROUP.to_frame(), _together(log), _with_inputs(log), _by_supply(log)])
    if groups.is_empty():
        return SCHEMA.to_frame()
    return _merged(log, groups).filter(pl.col("sure") | pl.lit(log.fine))


def _together(log: _Log) -> pl.DataFrame:
    """Contactors of different motions that opened together under held commands."""
    limits = log.states, log.e.explained_within_s, log.doubt_s
    falls = against_command(near_unlike(log.openings, log.together_s), *limits)
    apart = (seconds("start", pl.col("start").shift(1)) > log.together_s).fill_null(value=True)
    groups = _as_groups(falls.group_by(apart.cum_sum().alias("_n"), maintain_order=True), 2)
    if groups.is_empty():
        return groups
    others = against_command(log.openings, *limits).height - int(groups["fallen"].sum())
    needed = _needed(log, others, others)
    sure = pl.lit(log.fine) & (pl.col("fallen") >= needed)
    return _not_stopped(log, groups.with_columns(sure=sure, needed=pl.lit(needed, pl.UInt32)))


def _with_inputs(log: _Log) -> pl.DataFrame:
    """An output that opened together with inputs that have nothing to do with it."""
    came, within = operated(log.states), timedelta(seconds=log.together_s)
    near = near_unlike(came, log.together_s)
    openings = log.openings.filter(during(log.openings, "start", near.with_columns(end="start"), *[log.together_s] * 2))
    if near.is_empty() or openings.is_empty():
        return _GROUP.to_frame()
    own = openings.with_row_index("_n").select("_n", *(pl.col(name).alias(f"_{name}") for name in openings.columns))
    met = near.join_where(
        own, pl.col("start") >= pl.col("_start") - within, pl.col("start") <= pl.col("_start") + within
    )
    met = met.filter((pl.col("segment") == pl.col("_segment")) & ~related(pl.col("_signal"), pl.col("unit")))
    fell = own.join(met.select("_n").unique(), on="_n", how="semi").select(
        "_n", *(pl.col(f"_{name}").alias(name) for name in openings.columns)
    )
    falls = pl.concat([fell, met.select("_n", *openings.columns)]).sort("_n", "start", maintain_order=True)
    groups = _as_groups(falls.group_by("_n", maintain_order=True), 3)
    kinds = near.height - int((groups["fallen"] - 1).sum()) if groups.height else near.height
    needed = max(_needed(log, log.openings.height, came.height - near.height + max(kinds, 0)), 3)
    return groups.with_columns(sure=pl.col("fallen") >= needed, needed=pl.lit(needed, pl.UInt32))


def _by_supply(log: _Log) -> pl.DataFrame:
    """Outputs that opened because the control supply was seen to go."""
    gone = log.states.off("supply.control").filter("start_seen").sort("start")
    after = log.e.explained_within_s + log.doubt_s
    near = log.openings.filter(during(log.openings, "start", gone.with_columns(end="start"), log.doubt_s, after))
    if near.is_empty():
        return _GROUP.to_frame()
    let_go = held_until(near, log.states)
    let_go = latest(let_go, pl.col("start") + timedelta(seconds=log.doubt_s), gone, "gone")
    before = let_go.filter(pl.col("held_end") < pl.col("gone_start") - timedelta(seconds=log.doubt_s))
    falls = near.join(before.select("signal", "start"), on=["signal", "start"], how="anti", maintain_order="left")
    falls = latest(falls, pl.col("start") + timedelta(seconds=log.doubt_s), gone, "gone").filter(
        pl.col("gone_start").is_not_null()
    )
    held = against_command(falls, log.states, log.e.explained_within_s, log.doubt_s)
    falls = falls.join(
        held.select("signal", "start", _held=pl.lit(value=True)),
        on=["signal", "start"],
        how="left",
        maintain_order="left",
    )
    sure = falls.group_by("gone_start", maintain_order=True).agg(
        sure=((pl.col("start") >= pl.col("gone_start")) & log.fine | pl.col("_held").fill_null(value=False)).any()
    )
    supply = gone.join(sure, left_on="start", right_on="gone_start", how="semi", maintain_order="left")
    both = pl.concat(
        [
            falls.select(*log.openings.columns, "gone_start"),
            _falls(supply, "supply.control", "supply").with_columns(gone_start="start"),
        ]
    ).sort("gone_start", "start", maintain_order=True)
    groups = _as_groups(both.group_by("gone_start", maintain_order=True), 2)
    return _not_stopped(log, groups.with_columns(sure["sure"], needed=pl.lit(2, pl.UInt32)))


def _as_groups(falls: GroupBy, least: int) -> pl.DataFrame:
    """Groups of falls (_GROUP, still without doubt) of at least so many units."""
    return (
        falls.agg(
            pl.col("start", "segment", "start_row").first(),
            last=pl.col("start").max(),
            until=pl.col("until").min(),
            back=pl.col("until").filter("returned").min(),
            fallen=pl.col("unit").n_unique().cast(pl.UInt32),
            needed=pl.lit(0, pl.UInt32),
            sure=pl.lit(value=True),
            signals=pl.col("signal").unique(maintain_order=True),
            rows=pl.col("start_row"),
        )
        .filter(pl.col("fallen") >= least)
        .select(*_GROUP)
    )


def _not_stopped(log: _Log, groups: pl.DataFrame) -> pl.DataFrame:
    """The groups that no emergency stop explains; certain only if one is known to be off, or ruled out."""
    near = timedelta(seconds=log.together_s + log.doubt_s)
    stops = log.states.on("stop.emergency")
    found = latest(groups.sort("start"), pl.col("start") + near, stops, "stop")
    recent = seconds("start", "stop_start") <= log.e.explained_within_s + log.doubt_s
    found = found.filter(~(recent | (pl.col("stop_end") >= pl.col("start"))).fill_null(value=False))
    quiet = is_known(found, pl.col("start"), log.states, "stop.emergency")
    at_once = (seconds("back", "start") <= log.e.stop_reset_s).fill_null(value=False)
    return found.with_columns(sure=pl.col("sure") & (pl.lit(quiet) | at_once)).select(*_GROUP)


def _merged(log: _Log, groups: pl.DataFrame) -> pl.DataFrame:
    """One row for each common drop-out, however many ways show it, from the first fall to the first return."""
    apart = seconds("start", pl.col("last").cum_max().shift(1)) > log.together_s + log.doubt_s
    merged = (
        groups.sort("start", maintain_order=True)
        .group_by(apart.fill_null(value=True).cum_sum().alias("_n"), maintain_order=True)
        .agg(
            pl.col("start", "start_row", "segment").first(),
            pl.col("last", "fallen").max(),
            pl.col("until", "back").min(),
            pl.col("needed").min(),
            pl.col("sure").any(),
            *(
                pl.col(name).list.explode(keep_nulls=False, empty_as_null=False).unique().sort()
                for name in ("signals", "rows")
            ),
        )
    )
    names = [name for name in (*outputs(log.states), "supply.control") if log.states.has(name)]
    merged = following(merged, pl.col("last"), log.states.on(*names).filter("start_seen"), "again")
    end = pl.coalesce(pl.min_horizontal("again_start", "back"), "until")
    return merged.select(
        "start",
        end.alias("end"),
        pl.lit(value=True).alias("start_seen"),
        end_seen=pl.col("again_start").is_not_null() | pl.col("back").is_not_null(),
        start_row="start_row",
        end_row=pl.when(pl.col("again_start") == end).then("again_start_row").otherwise("start_row"),
        segment="segment",
        fallen="fallen",
        needed="needed",
        sure="sure",
        signals="signals",
        rows=pl.concat_list("rows", "again_start_row").list.drop_nulls(),
    ).select(*SCHEMA)


def _needed(log: _Log, openings: int, changes: int) -> int:
    """How many signals must fall together so that chance is out of the question (the docstring of the module)."""
    rate = (changes + 1) / max(_running_s(log.states), log.together_s)
    share = min(rate * log.together_s, 0.999)
    return 1 + max(math.ceil(math.log(log.p.common_false_alarm / (openings + 1)) / math.log(share)), 1)


def _running_s(states: States) -> float:
    """Time for which outputs were on, all added up [s]."""
    lengths = [(on["end"] - on["start"]).dt.total_microseconds() for on in map(states.on, outputs(states))]
    return sum(int(length.sum()) for length in lengths) / 1e6
