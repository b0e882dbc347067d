"""Slow and fast winding of a two-speed (pole-changing) hoist motor: starts, running time and limits of each.

A start of a winding is each time it is switched on. So a run that goes from slow to fast is a start of the slow winding
and one of the fast winding, and going back to slow before the stop is another one of the slow winding, which then
brakes the motor electrically. Pieces at either end of a run that last no longer than a contactor needs to open
(`fast_lag_s`) are no starts. Running time of a winding is that in which the motion runs and the fast output is known to
be on, or known to be off. The starts of the motion itself (duty.starts) count every run once and stay beside these.

The limits are the group's, shared out as one user guide and the memory of FEM 9.683 do: of the starts two thirds to the
slow winding, of the cyclic duration one third. Figures on the motor's plate replace them through `WindingPlate`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Final

import polars as pl

from eventlens.duty import cyclic, starts
from eventlens.duty.groups import CONFIDENCES, motor_limits
from eventlens.duty.windows import TEN_MINUTES_S, Peak
from eventlens.errors import MachineError
from eventlens.limits import configure, limit
from eventlens.machine import Machine
from eventlens.motion.near import crossing
from eventlens.motion.spells import united

SHARES: Final[Mapping[str, tuple[float, float]]] = MappingProxyType({"slow": (2 / 3, 1 / 3), "fast": (1 / 3, 2 / 3)})
"""Winding -> its share of the group's starts per hour, and of its cyclic duration."""
SHARED_BY: Final = "shared out to two windings as one user guide does"
_WINDING: Final = pl.Enum(tuple(SHARES))
AT_ONCE: Final = 1 << 21
"""Blocks of runs that are cut at once: the memory it takes is bounded so, however long the log (common practice)."""
SHARES_CONFIDENCE: Final = "from one place"

START_OF_A_WINDING: Final = "a start of a winding is each time it is switched on, from rest or by a change of speed"


def _own_starts(winding: str) -> Any:
    return limit(
        0.0,
        "1/h",
        "0: its share of the group's figure; else the starts per hour of this winding on the motor's plate",
        f"raising it lets the {winding} winding be switched more often before that is said",
    )


def _own_duration(winding: str) -> Any:
    return limit(
        0.0,
        "share",
        "0: its share of the group's figure; else the cyclic duration of this winding on the motor's plate as a share",
        f"raising it lets the {winding} winding run longer in any ten minutes before that is said",
    )


@dataclass(frozen=True)
class WindingPlate:
    """The plate of a two-speed hoist motor, where it differs from the shares of the group; 0 stands for the share."""

    hoist_slow_starts_per_hour: float = _own_starts("slow")
    hoist_slow_cyclic_duration: float = _own_duration("slow")
    hoist_fast_starts_per_hour: float = _own_starts("fast")
    hoist_fast_cyclic_duration: float = _own_duration("fast")


@dataclass(frozen=True)
class WindingLimits:
    """What one winding may be asked."""

    starts_per_hour: float
    cyclic_duration: float
    """Share of any ten minutes, 0 to 1."""
    source: str
    confidence: str
    """One of duty.groups.CONFIDENCES: that of the least certain of what it was made from."""


@dataclass(frozen=True)
class Winding:
    """What one winding did. Holes and times of an unknown fast output are in none of the figures."""

    winding: str
    """'slow' or 'fast'."""
    starts: int
    changes: int
    """Of these: switched on by a change from the other winding, not from rest."""
    running_s: float
    """Time switched on [s]."""
    starts_per_hour_max: Peak | None
    """Most starts in any hour (t - 3600 s, t]; None without starts."""
    cyclic_duration_max: Peak | None
    """Largest share of running time in any ten minutes, 0 to 1; None where it never ran."""
    limits: WindingLimits | None
    """None where neither a FEM or ISO group nor the plate gives figures."""


def winding_limits(machine: Machine, winding: str) -> WindingLimits | None:
    """The limits of one winding ('slow' or 'fast') of the hoist motor; None where the machine file gives none.

    MachineError for a cyclic duration above 1. ASME HST classes know no windings.
    """
    own = configure(WindingPlate, machine.limits)
    begun: float = getattr(own, f"hoist_{winding}_starts_per_hour")
    share: float = getattr(own, f"hoist_{winding}_cyclic_duration")
    if share > 1:
        raise MachineError(
            f"hoist_{winding}_cyclic_duration as a share from 0 to 1", str(share), "write 40 % as 0.40 in [limits]"
        )
    if begun and share:
        return WindingLimits(begun, share, "machine file", "machine file")
    whole = motor_limits(machine, "hoist")
    if whole is None or whole.window_s != TEN_MINUTES_S:
        return None
    of_starts, of_time = SHARES[winding]
    return WindingLimits(
        begun or whole.starts_per_hour * of_starts,
        share or whole.cyclic_duration * of_time,
        f"{'machine file, else ' if begun or share else ''}{whole.source}, {SHARED_BY}",
        max(SHARES_CONFIDENCE, whole.confidence.replace("machine file", "confirmed"), key=CONFIDENCES.index),
    )


def count_windings(switched: pl.DataFrame, machine: Machine, clock: pl.Series | None = None) -> tuple[Winding, ...]:
    """Slow and fast winding of the hoist motor. switched: from `pieces`; clock: as for `duty.counts.count_motion`."""
    labelled = switched.with_columns((pl.lit(0) if clock is None else clock).alias("clock"))
    return tuple(_count(labelled.filter(pl.col("winding") == name), name, machine) for name in SHARES)


def _count(own: pl.DataFrame, name: str, machine: Machine) -> Winding:
    begun = own.filter("start")
    spans = own.select(start="begin", end="end")
    return Winding(
        winding=name,
        starts=begun.height,
        changes=begun.filter("change").height,
        running_s=int((own["end"] - own["begin"]).dt.total_microseconds().sum()) / 1e6,
        starts_per_hour_max=starts.busiest(starts.sliding_starts(begun["begin"], clock=begun["clock"])),
        cyclic_duration_max=cyclic.busiest(spans, clock=own["clock"]),
        limits=winding_limits(machine, name),
    )


def pieces(runs: pl.DataFrame, fast: pl.DataFrame, lag_s: float) -> pl.DataFrame:
    """The stretches in which one winding was on: (begin, end, winding, start, change, segment), by segment and begin.

    runs: schema.RUNS of one motion; fast: known states of its fast output (columns of schema.STATES), on the same time
    axis; lag_s: what a contactor may need to open [s]. start: it counts as a start, whose beginning is in the log;
    change: it followed the other winding within a run. A run of no length is one of the slow winding.
    """
    blocks = _blocks(runs)
    parts = [_on_windings(blocks.slice(at, AT_ONCE), fast) for at in range(0, max(blocks.height, 1), AT_ONCE)]
    whole = pl.concat(parts)
    parts.clear()
    moments = blocks.filter(pl.col("start") == pl.col("end")).select(
        "segment", "block", on=pl.lit(0, pl.Int8), seen="start_seen", begin="start", end="end"
    )
    if moments.is_empty():
        return _told(whole, lag_s)
    told = pl.concat([_told(whole, lag_s), _told(moments, lag_s)])  # each with the pieces of a block side by side
    return told.sort("segment", "begin", maintain_order=True)


def _on_windings(blocks: pl.DataFrame, fast: pl.DataFrame) -> pl.DataFrame:
    """The stretches of some blocks: (segment, block, on, seen, begin, end)."""
    if not blocks.is_empty():
        first = fast["end"].search_sorted(blocks["start"][0])
        fast = fast.slice(first, fast["start"].search_sorted(blocks["end"][-1]) - first)
    block, state = crossing(blocks, fast)
    begun, known = blocks[block], fast.select("start", "end", "on", "start_seen")[state]
    inside = known["start"] > begun["start"]  # else the piece begins with its block
    cuts = begun.select("segment", "block").with_columns(
        known["on"].cast(pl.Int8),
        seen=pl.when(inside).then(known["start_seen"]).otherwise(begun["start_seen"]),
        begin=pl.when(inside).then(known["start"]).otherwise(begun["start"]),
        end=pl.when(known["end"] < begun["end"]).then(known["end"]).otherwise(begun["end"]),
    )
    other = (cuts["block"] != cuts["block"].shift(1)) | (cuts["on"] != cuts["on"].shift(1))
    return united(cuts, other.fill_null(value=True), end=pl.col("end")).select(
        "segment", "block", "on", "seen", "begin", "end"
    )


def _blocks(runs: pl.DataFrame) -> pl.DataFrame:
    """(segment, block, start, end, start_seen): runs, those that overlap (an interlock that fails) taken together."""
    ordered = runs.select("segment", "start", "end", "start_seen").sort("segment", "start", maintain_order=True)
    # on an axis that never goes back what ended in the segment before ended before
    apart = (pl.col("start") >= pl.col("end").cum_max().shift(1)) | (pl.col("segment") != pl.col("segment").shift(1))
    fresh = ordered.select(apart.fill_null(value=True)).to_series()
    # a block begins after all before it have ended: the latest end up to its last row is its own
    found = united(ordered, fresh, end=pl.col("end").cum_max()).with_row_index("block")
    return found.select("segment", pl.col("block").cast(pl.Int64), "start", "start_seen", "end")


def _told(whole: pl.DataFrame, lag_s: float) -> pl.DataFrame:
    """Says of each piece whether it is a start, and whether it came by a change from the other winding.

    The pieces of a block stand side by side.
    """
    brief = pl.col("end") - pl.col("begin") <= pl.duration(microseconds=round(lag_s * 1e6))
    first = (pl.col("block") != pl.col("block").shift(1)).fill_null(value=True)
    last = (pl.col("block") != pl.col("block").shift(-1)).fill_null(value=True)
    counts = ~(brief & (first ^ last))
    # only the first and the last piece may not count: what counts has changed where it stands behind one that does
    counted = whole.with_columns(counts=counts, _change=~first & counts & counts.shift(1, fill_value=False))
    return counted.select(
        "begin",
        "end",
        pl.when(pl.col("on") == 1).then(pl.lit("fast", _WINDING)).otherwise(pl.lit("slow", _WINDING)).alias("winding"),
        (pl.col("counts") & pl.col("seen").fill_null(value=False)).alias("start"),
        pl.col("_change").alias("change"),
        "segment",
    )
