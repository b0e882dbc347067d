"""Kinds of work: the usual kinds of runs of each motion, and of work cycles, told in plain words.

A work cycle here is a stretch of runs of any motion with pauses of no more than PAUSE_S. Runs are told apart by their
length, the share of fast, the load and whether another motion runs too; cycles by their length, starts, share of fast,
share of travel and the load. One step is a factor of e in a length or a number, or half of a share (judgement: these
are what a person would tell apart). Groups are joined step by step so that they stay narrow (Ward, 1963), which leaves
nothing to chance; so many of them are taken as have the best mean silhouette, and one only where that shows no
structure (Rousseeuw, 1987; limits of Kaufman and Rousseeuw, 1990, from memory). The words say what is typical of a
kind, never whether it is right.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import polars as pl

from eventlens import schema
from eventlens.duty.words import words_of
from eventlens.motion.kinds import of_motion
from eventlens.motion.near import seconds
from eventlens.statistics.arrays import Floats
from eventlens.statistics.clusters import IntArray, silhouette, ward_groups

PAUSE_S: Final = 60.0
"""Longest pause within a work cycle [s] (common practice, no source: slinging takes longer)."""
LEAST: Final = {"runs": 100, "cycles": 50}
"""Fewer show no kinds (common practice, no source)."""
MOST_KINDS: Final = 5
STRUCTURE: Final = 0.65
"""Mean silhouette from which on groups are more than a way of cutting: one bell cut in two reaches 0.58, evenly spread
lengths 0.60 (tried out), a strong structure 0.7 (Kaufman and Rousseeuw 1990)."""
LEAST_SHARE: Final = 0.03
"""A group with less than this share of all is no kind of work (judgement)."""
DRAWN: Final = 250
"""So many, evenly spread over the log, are grouped; the others go to the nearest group (enough for a kind of three in a
hundred; more take seconds)."""
AT_ONCE: Final = 20_000
"""Rows whose group is found in one go: what is made on the way then stays in the cache of a core (tried out)."""
DESCRIBED: Final = 2000
"""Where runs are counted, not listed: so many, evenly spread, say what is typical of a kind (its middle is then known
to a few percent)."""


@dataclass(frozen=True)
class WorkKinds:
    """The kinds of work in a log."""

    table: pl.DataFrame
    """schema.KINDS, the most frequent of each subject first."""
    notes: tuple[str, ...]
    """Of what there is too little log, and what was taken for granted."""


def kinds_of_work(runs: pl.DataFrame, rated_load_kg: float | None) -> WorkKinds:
    """The kinds of runs and cycles in schema.RUNS. rated_load_kg: from the machine file; None: the load is in kg."""
    parts, notes = [schema.KINDS.empty()], []
    for subject, items in sorted(items_of_work(runs, rated_load_kg).items()):
        least = LEAST["cycles" if subject == "work cycles" else "runs"]
        if items.height < least:
            notes.append(f"{subject}: {items.height} in the log, kinds need {least}")
        else:
            parts.append(_kinds(subject, items, rated=rated_load_kg is not None))
    return WorkKinds(schema.KINDS.check(pl.concat(parts)), tuple(notes))


def items_of_work(runs: pl.DataFrame, rated_load_kg: float | None) -> dict[str, pl.DataFrame]:
    """(start, direction, and FEATURES) of what is told apart in schema.RUNS: the runs of each motion, as 'hoist runs',
    and the 'work cycles'. load: share of the rated one, or kg where that is not known."""
    whole = runs.lazy().filter(pl.col("start_seen") & pl.col("end_seen"))  # in the order of segment and start
    single = _runs(whole, pl.col("load_kg") / (rated_load_kg or 1.0))
    found = {f"{motion} runs": of_motion(single, motion) for motion in single["motion"].unique(maintain_order=True)}
    return found | {"work cycles": _cycles(single)}


@dataclass(frozen=True)
class Kinds:
    """The kinds among runs or cycles that were counted."""

    table: pl.DataFrame
    """schema.KINDS, the most frequent first."""
    labels: IntArray
    """The row of the table that each row of what was counted belongs to."""


def kinds_in(subject: str, items: pl.DataFrame) -> Kinds:
    """The kinds among runs or cycles of which so many (count) were alike.

    items: FEATURES, direction, load_unit ('share' or 'kg') and count, by time, so that those that are drawn are evenly
    spread over it.
    """
    rated, drawn = "kg" not in items["load_unit"], _drawn(items, DRAWN)
    found = _groups(*(_values(part, rated=rated, like=drawn) for part in (drawn, items)))
    parts = [items.filter(pl.Series(found == label)) for label in range(int(found.max()) + 1)]
    counts = [int(part["count"].sum()) for part in parts]
    order = [at for at in sorted(range(len(parts)), key=lambda at: -counts[at]) if counts[at]]
    rows = [
        _row(subject, _drawn(parts[at], DESCRIBED), sum(counts), rated=rated)
        | {"count": counts[at], "share": counts[at] / sum(counts)}
        for at in order
    ]
    places = np.array([order.index(at) if at in order else -1 for at in range(len(parts))])
    return Kinds(schema.KINDS.check(pl.DataFrame(rows, schema=schema.KINDS.schema)), places[found])


def _drawn(items: pl.DataFrame, most: int) -> pl.DataFrame:
    """A row for each of those that were counted, or for so many of them that are evenly spread."""
    ends = items["count"].cum_sum().to_numpy()
    whole = int(ends[-1])
    number = min(whole, most)
    return items[np.searchsorted(ends, (np.arange(number) + 0.5) * whole / number, side="right")]


def _runs(runs: pl.LazyFrame, load: pl.Expr) -> pl.DataFrame:
    """(motion, direction, segment, start, end, running_s, and FEATURES) of each run."""
    others = pl.col("latest").shift(1) > pl.col("start")
    return (
        runs.with_columns(latest=pl.col("end").cum_max().over("segment"))
        .select(
            "motion",
            "direction",
            "segment",
            "start",
            "end",
            length_s=pl.col("duration_s").clip(0.01),
            running_s=pl.col("duration_s"),
            starts=pl.lit(1.0),
            fast=(pl.col("fast_s") / pl.col("duration_s").clip(0.01)).clip(0.0, 1.0),
            load=load,
            # either it begins before those before it have ended, or one begins before it has
            together=(
                (others & (pl.col("segment") == pl.col("segment").shift(1))).fill_null(value=False)
                | (
                    (pl.col("start").shift(-1) < pl.col("end")) & (pl.col("segment") == pl.col("segment").shift(-1))
                ).fill_null(value=False)
            ).cast(pl.Float64),
            travel=(pl.col("motion") != "hoist").cast(pl.Float64),
        )
        .collect()
    )


def _cycles(runs: pl.DataFrame) -> pl.DataFrame:
    """The same of each work cycle; its fast, together and travel are shares of its running time."""
    before = pl.col("end").cum_max().over("segment").shift(1)
    new = (seconds("start", before) > PAUSE_S) | (pl.col("segment") != pl.col("segment").shift(1))
    weight = pl.col("running_s")
    shares = {name: (pl.col(name) * weight).sum() / weight.sum() for name in ("together", "travel")}
    known = pl.col("fast").is_not_null()
    return (
        runs.with_columns(cycle=new.fill_null(value=True).cum_sum())
        .group_by("cycle", maintain_order=True)
        .agg(
            start=pl.col("start").min(),
            length_s=seconds(pl.col("end").max(), pl.col("start").min()).clip(0.01),
            starts=pl.len().cast(pl.Float64),
            fast=(pl.col("fast") * weight).filter(known).sum() / weight.filter(known).sum(),
            load=pl.col("load").max(),
            direction=pl.lit(None, schema.DIRECTION),
            **shares,
        )
        .with_columns(pl.col("fast").fill_nan(None))
    )


FEATURES: Final = ("length_s", "starts", "fast", "load", "together", "travel")
_BY_LOGARITHM: Final = ("length_s", "starts")


def _kinds(subject: str, items: pl.DataFrame, *, rated: bool) -> pl.DataFrame:
    """schema.KINDS of one subject."""
    values = _values(items, rated=rated, like=items)
    labels = _groups(values[:: -(-len(values) // DRAWN)], values)
    rows = []
    for label in np.flatnonzero(np.bincount(labels)):
        part = items.filter(pl.Series(labels == label))
        rows.append(_row(subject, part, items.height, rated=rated))
    return pl.DataFrame(rows, schema=schema.KINDS.schema).sort("count", descending=True, maintain_order=True)


def _values(items: pl.DataFrame, *, rated: bool, like: pl.DataFrame) -> Floats:
    """The features in steps that a person would tell apart, each in one stretch of memory; what is not known stands in
    the middle of those of `like` that are."""
    known = {name: like[name].drop_nulls().cast(pl.Float64) for name in FEATURES}
    names = [name for name in FEATURES if len(known[name])]
    values = np.empty((len(names), items.height))
    for row, name in zip(values, names, strict=True):
        of = items[name].cast(pl.Float64)
        filled = (of.fill_null(known[name].median()) if of.null_count() else of).to_numpy()
        if name == "load" and not rated:  # no rated load: shares of the highest
            filled = filled / max(float(known[name].max() or 0.0), 1e-9)  # type: ignore[arg-type]
        row[:] = np.log(filled) if name in _BY_LOGARITHM else 2 * filled
    return values.T


def _groups(drawn: Floats, values: Floats) -> IntArray:
    """The group of each row, from 0: groups are found among those that are drawn."""
    drawn = np.ascontiguousarray(drawn)
    kinds, best, centres = len(np.unique(drawn, axis=0)), STRUCTURE, None
    numbers = range(2, min(MOST_KINDS, kinds) + 1)
    for number, labels in zip(numbers, ward_groups(drawn, numbers), strict=True):
        score = silhouette(drawn, labels)
        if np.bincount(labels, minlength=number).min() >= LEAST_SHARE * len(drawn) and score > best:
            best, centres = score, np.array([drawn[labels == label].mean(axis=0) for label in range(number)])
    if centres is None:
        return np.zeros(len(values), int)
    pieces = [values[begin : begin + AT_ONCE] for begin in range(0, len(values), AT_ONCE)]
    return np.concatenate([_nearest(piece, centres) for piece in pieces])


def _nearest(values: Floats, centres: Floats) -> IntArray:
    """The nearest centre of each row."""
    nearest: IntArray = np.array([((values - centre) ** 2).sum(axis=1) for centre in centres]).argmin(axis=0)
    return nearest


def _row(subject: str, part: pl.DataFrame, whole: int, *, rated: bool) -> dict[str, Any]:
    """What is typical of one kind."""
    lengths = part["length_s"]
    row: dict[str, Any] = {
        "subject": subject,
        "count": part.height,
        "share": part.height / whole,
        "length_s": lengths.median(),
        "length_low_s": lengths.quantile(0.1, "linear"),
        "length_high_s": lengths.quantile(0.9, "linear"),
        **{name: part[name].mean() for name in ("starts", "fast", "together", "travel")},
        "load": part["load"].median(),
        "load_unit": None if part["load"].null_count() == part.height else "share" if rated else "kg",
        "direction": _direction(part),
    }
    return row | {"words": "; ".join(words_of(row))}


def _direction(part: pl.DataFrame) -> str | None:
    """The direction of four in five of them."""
    known: Mapping[str, int] = dict(part["direction"].drop_nulls().value_counts().iter_rows())
    most = max(sorted(known), key=known.__getitem__, default=None)
    return most if most is not None and known[most] >= 0.8 * part.height else None
