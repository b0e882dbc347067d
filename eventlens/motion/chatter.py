"""Chatter: a signal that toggles faster than a hand can.

`chatter_pairs` pairs in a row within `chatter_window_s`, on and off again, or off and on again where the signal should
stay on: both from the first toggle to the last, and by the mean period (first on to last on, for one pair more). The
second keeps a quick hand out, whose presses may be as short as it likes. Windows that share a pair are one. Each toggle
is seen; nothing is bridged over a hole or an unknown state.

Contacts bounce for some milliseconds whenever they change: states no longer than `bounce_s`, two or more in a row, are
part of the change beside them.

A load that swings about the limit makes the overload device chatter: its signals are left out, they have patterns of
their own; so is the reset button.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import Final

import polars as pl

from eventlens import schema, signals
from eventlens.limits import limit
from eventlens.motion.spells import overlaps
from eventlens.motion.states import States
from eventlens.threads import in_threads

LEFT_OUT: Final = frozenset({"overload.warning", "overload.trip", "overload.fault", "fault.reset"})

SCHEMA: Final = pl.Schema(
    {
        "signal": schema.SIGNAL,
        "motion": schema.MOTION,
        "start": schema.TIME,
        "end": schema.TIME,
        "pairs": pl.UInt32(),
        "quickest_s": pl.Float64(),
        "sure": pl.Boolean(),
        "rows": pl.List(schema.ROW),
    }
)
"""Chatter: signal, motion (null: the machine as a whole), first toggle, last toggle, pairs of toggles, the time of the
quickest `chatter_pairs` of them [s], whether the log step leaves no doubt, lines of all toggles."""


@dataclass(frozen=True)
class ChatterParameters:
    """What is faster than a hand."""

    chatter_pairs: float = limit(
        3.0,
        "on-off pairs",
        "common practice: three pairs within a second are no hand",
        "raising it misses short rattling; lowering it takes a double press for a loose contact",
    )
    chatter_window_s: float = limit(
        1.0,
        "s",
        "common practice: three pairs within a second are no hand",
        "raising it takes quick inching for a loose contact; lowering it misses slow rattling",
    )
    quick_hand_s: float = limit(
        0.4,
        "s",
        "from memory: a quick hand presses a pendant button 2.5 times a second",
        "it says which log step tells a hand from a contact: lowering it asks for a finer one",
    )
    bounce_s: float = limit(
        0.02,
        "s",
        "common practice: contacts bounce for 1 to 20 ms",
        "raising it overlooks contacts that open for a moment only; lowering it takes a bounce for a toggle",
    )


def healthy_apart(p: ChatterParameters) -> float:
    """The coarsest log step [s] at which a quick hand is never taken for chatter."""
    pairs = max(p.chatter_pairs, 2.0)
    return max(round((p.quick_hand_s - p.chatter_window_s / pairs) * (pairs - 1) / 2, 6), 0.0)


def find_chatter(states: States, p: ChatterParameters, step_s: float) -> pl.DataFrame:
    """Chatter of every signal (SCHEMA), by start. Above the step that tells a hand apart, only what is certain."""
    names = [name for name in signals.STATES if states.has(name) and name not in LEFT_OUT]
    found = in_threads(lambda name: _of_signal(name, states.known(name), p, step_s), names, states.frame.height)
    frame = pl.concat([SCHEMA.to_frame(), *found]).sort("start", "signal", maintain_order=True)
    return frame.filter("sure") if step_s > healthy_apart(p) else frame


def first_of_chain(chatter: pl.DataFrame, after_s: float) -> pl.DataFrame:
    """Chatter that no other explains: of signals that follow each other only the first, where theirs overlap.

    What stops the machine as a whole comes first, then commands and devices of a motion, its contactors, and last its
    brake and its fast output. after_s [s]: how far one may lag behind the other.
    """
    if chatter.height < 2:
        return chatter
    rank = pl.col("signal").cast(pl.String).replace_strict(_RANKS, return_dtype=pl.Int8)
    chatter = chatter.with_columns(_rank=rank)
    kept = []
    for (motion, place), part in chatter.group_by("motion", "_rank", maintain_order=True):
        above = chatter.filter((pl.col("_rank") < place) & pl.col("motion").is_in([motion, None], nulls_equal=True))
        kept.append(part.filter(~overlaps(part, above, after_s)))
    return pl.concat(kept).drop("_rank").sort("start", "signal", maintain_order=True)


def _rank(signal: str) -> int:
    """How far down a signal stands in the chain from supply to brake."""
    if signals.motion_of(signal) is None:
        return 0
    if signal.endswith((".brake.released", ".fast.contactor")):
        return 3
    return 2 if signal.endswith(".contactor") else 1


_RANKS: Final = {name: _rank(name) for name in signals.STATES}


def _of_signal(name: str, known: pl.DataFrame, p: ChatterParameters, step_s: float) -> pl.DataFrame:
    """The chatter of one signal. known: its states; on and off take turns wherever the change was seen."""
    pairs = max(round(p.chatter_pairs), 2)
    most, doubt = p.chatter_window_s, 2 * step_s * pairs / (pairs - 1)
    windows = _windows(known, pairs, round(most + doubt, 6))
    if windows.height and step_s <= p.bounce_s:  # stamps that are coarser make short states of long ones
        known = _settled(known, p.bounce_s)
        windows = _windows(known, pairs, round(most + doubt, 6))
    if windows.is_empty():
        return SCHEMA.to_frame()
    apart = (pl.col("first") > pl.col("last").shift(1)).fill_null(value=True)
    spells = windows.group_by(apart.cum_sum().alias("spell"), maintain_order=True).agg(
        pl.col("first").first(), pl.col("last").last(), pl.col("quickest_s").min()
    )
    begin, final = known[spells["first"]], known[spells["last"]]
    # a step that is coarser makes a bounce as long as itself: twice as many pairs leave no doubt all the same
    enough = pairs if step_s <= p.bounce_s else 2 * pairs
    more = (pl.col("last") - pl.col("first")) // 2
    # cut into blocks of so many periods, at least one of them is no longer than the mean
    mean = (pl.lit(final["start"] - begin["start"]).dt.total_microseconds() / 1e6 + 2 * step_s) / (more // pairs)
    return spells.select(
        pl.lit(name, schema.SIGNAL).alias("signal"),
        pl.lit(signals.motion_of(name), schema.MOTION).alias("motion"),
        begin["start"],
        final["end"],
        (more + 1).cast(pl.UInt32).alias("pairs"),
        "quickest_s",
        sure=(pl.min_horizontal(pl.col("quickest_s") + doubt, mean).round(6) <= most) & (more + 1 >= enough),
        rows=_lines(known, spells),
    )


def _settled(known: pl.DataFrame, bounce_s: float) -> pl.DataFrame:
    """The states without bounces: two short ones or more in a row, beside a change that stays."""
    most = round(bounce_s * 1e6)
    short = pl.col("start_seen") & pl.col("end_seen") & (_length() <= most)
    marked = known.with_columns(_short=short, _row=short.rle_id())
    bounce = pl.col("_short") & (pl.len().over("_row") > 1) & (_length().sum().over("_row") <= 2 * most)
    steady = marked.filter(~bounce)
    other = (pl.col("on") != pl.col("on").shift(1)) | (pl.col("segment") != pl.col("segment").shift(1))
    return (
        steady.with_columns(_piece=(other.fill_null(value=True) | ~pl.col("start_seen")).cum_sum())
        .group_by("_piece", maintain_order=True)
        .agg(
            pl.col("signal", "on", "start", "start_seen", "start_row", "segment").first(),
            pl.col("end", "end_seen", "end_row").last(),
        )
        .select(known.columns)
    )


def _length() -> pl.Expr:
    return (pl.col("end") - pl.col("start")).dt.total_microseconds()


_NO_WINDOW: Final = pl.DataFrame(schema={"first": pl.Int64, "last": pl.Int64, "quickest_s": pl.Float64})


def _windows(known: pl.DataFrame, pairs: int, most_s: float) -> pl.DataFrame:
    """`pairs` pairs of toggles in a row within most_s: places of first and last state, and the time they take [s]."""
    ahead = 2 * (pairs - 1)
    start = known["start"]
    near = (start.shift(-ahead) - start) <= timedelta(microseconds=round(most_s * 1e6))
    if known.height <= ahead or not near.any():
        return _NO_WINDOW
    first = near.arg_true()
    unseen = (~known["start_seen"]).cum_sum()
    begin, final = known[first], known[first + ahead]
    span = (final["end"] - begin["start"]).dt.total_microseconds()
    periods = (final["start"] - begin["start"]).dt.total_microseconds() * (pairs / (pairs - 1))
    seen = begin["start_seen"] & final["end_seen"] & (unseen.gather(first) == unseen.gather(first + ahead))
    return (
        pl.DataFrame(
            {"first": first.cast(pl.Int64), "last": first.cast(pl.Int64) + ahead, "span": span, "by_mean": periods}
        )
        .select("first", "last", quickest_s=(pl.max_horizontal("span", "by_mean") / 1e6).round(6))
        .filter(seen)
        .filter(pl.col("quickest_s") <= most_s)
    )


def _lines(known: pl.DataFrame, spells: pl.DataFrame) -> pl.Series:
    """The lines of all toggles of each spell."""
    at = spells.select("spell", at=pl.int_ranges("first", pl.col("last") + 1)).explode("at")
    toggles = at.with_columns(on=known["start_row"].gather(at["at"]), off=known["end_row"].gather(at["at"]))
    lines = toggles.group_by("spell", maintain_order=True).agg(
        rows=pl.concat_list("on", "off").list.explode(keep_nulls=False, empty_as_null=False).unique().sort()
    )
    return lines["rows"]
