"""Drop-outs that nobody goes on from: the work of a device or a limit, where these are not logged.

A protective device or a limit lets only the other way through, so that the next run goes back; after a loose contact
people press the same button again. Without the device in the log both end a run alike. They are questions of their own,
by direction: the tests and uses of a limit, which any machine has, would else hide the losses of a loose contact.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import Final

import polars as pl

from eventlens import schema
from eventlens.causes.subject import Subject

GUARDS: Final = MappingProxyType(
    {"raise": ("hoist.raise.limit", "overload.trip"), "lower": ("hoist.lower.limit", "rope.slack")}
)
"""What stops a direction of the hoist without a fault: with all of them logged no drop-out is their work."""


def turned_back(subject: Subject, occurrences: pl.DataFrame) -> pl.Series:
    """For each occurrence (schema.OCCURRENCES) the direction in which a device that is not logged may have stopped it.

    That is of a drop-out of the hoist in a direction whose GUARDS are not all logged, after which the next run goes
    the other way; tries that are lost as well are passed over. Empty text for all others.
    """
    hoist = pl.col("motion") == pl.lit("hoist", schema.MOTION)
    ended = pl.when((pl.col("pattern") == "drop_out") & hoist).then("end")
    asked = occurrences.select(end=ended)["end"].drop_nulls()
    back = subject.once("turned back", _turned_back).filter(pl.col("end").is_in(asked.implode())).unique("end")
    way = ended.replace_strict(back["end"], back["way"].cast(pl.String), default="", return_dtype=pl.String)
    return occurrences.select(way.fill_null("")).to_series()


def _turned_back(subject: Subject) -> pl.DataFrame:
    """(end, way): the runs of the hoist after which the next one goes the other way, where that may say something."""
    ways = [way for way, guards in GUARDS.items() if subject.lacks(guards)]
    own, then = pl.col("direction"), pl.col("direction").shift(-1)
    lost_again = (own == then) & (pl.col("ending").shift(-1) == "dropped_out")
    runs = subject.runs_of("hoist").select("end", way=own, then=pl.when(~lost_again).then(then).backward_fill())
    asked = pl.col("way").is_in(pl.Series(ways, dtype=schema.DIRECTION).implode())
    return runs.filter(asked & (pl.col("way") != pl.col("then"))).select("end", "way")
