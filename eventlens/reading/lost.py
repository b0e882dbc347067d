"""Rows that were set aside but name a signal: it may have changed there, so it is unknown until its next record.

time;tag;state
2026-03-02 06:00:00;K11;1
2026-03-0x 06:00:05;K11;0      the stamp is lost, or
2026-03-02 06:00:05;K11        the state is: K11 is unknown from the row before on
2026-03-02 06:00:09;K12;1
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

import polars as pl

from eventlens import schema
from eventlens.reading.extracted import Stretches
from eventlens.reading.mapping import map_names
from eventlens.reading.message_entries import messages_of
from eventlens.reading.profile import Profile
from eventlens.reading.raw import OTHER_TABLE

LINES_SAID: Final = 5


def forget(
    events: pl.DataFrame, rejected: pl.DataFrame, stretches: Stretches, profile: Profile
) -> tuple[pl.DataFrame, tuple[str, ...]]:
    """The events (schema.EVENTS) with the value null where a row of `rejected` (schema.REJECTED) names their signal,
    and a note. Only in layouts where a row tells of one name.

    Such a row came between the rows above and below it in its file. Where these stand apart in the record (a ring
    buffer, files that were merged) the signal is unknown from either of them on.
    """
    if rejected.is_empty() or stretches.shape.layout not in ("changes", "messages"):
        return events, ()
    lost = _signals(rejected.filter(pl.col("reason") != OTHER_TABLE), stretches, profile)
    if lost.is_empty():
        return events, ()
    place = pl.DataFrame({"row": stretches.lines}).with_row_index("at")
    unknown = _beside(lost, place)
    unknown = unknown.select(
        time=stretches.time.gather(unknown["at"]),
        signal="signal",
        value=pl.lit(None, pl.Float64),
        row="row",
        segment=stretches.segment.gather(unknown["at"]),
        at="at",
    )
    known = events.join(place, on="row", how="left", maintain_order="left")
    both = pl.concat([known, unknown]).sort("segment", "time", "at", maintain_order=True)
    return schema.EVENTS.check(both.drop("at")), (_note(lost["row"].unique().sort()),)


def _beside(lost: pl.DataFrame, place: pl.DataFrame) -> pl.DataFrame:
    """row, signal, and `at`: the place in the record of the row before; that of both neighbours in the file where they
    do not follow each other."""
    in_file = place.sort("row")
    above = lost.join_asof(in_file.rename({"at": "above"}), left_on="row", right_on="row", strategy="backward")
    near = above.join_asof(in_file.rename({"at": "below"}), left_on="row", right_on="row", strategy="forward")
    near = near.filter(pl.col("above").is_not_null())  # before the first row nothing is known anyway
    low, high = pl.min_horizontal("above", "below"), pl.max_horizontal("above", "below")
    first = near.select("row", "signal", at=low)
    second = near.filter((high - low) > 1).select("row", "signal", at=high)
    return pl.concat([first, second])


def _signals(rejected: pl.DataFrame, stretches: Stretches, profile: Profile) -> pl.DataFrame:
    """row and signal, by row, of the rows in whose text a cell is a mapped name."""
    marks = re.escape(stretches.delimiter or ";")
    cells = (
        rejected.select("row", cell=pl.col("text").str.extract_all(f'"[^"]*"|[^"{marks}]+'))
        .explode("cell")
        .drop_nulls()
        .with_columns(pl.col("cell").str.strip_chars(' "'))
        .filter(pl.col("cell") != "")
    )
    parts = [pl.col("cell").shift(-at).over("row") for at in range(len(stretches.shape.name))]
    names = cells.select("row", name=pl.concat_str(parts, separator=" ")).drop_nulls().unique(maintain_order=True)
    told = _told(names["name"].unique(maintain_order=True).to_list(), stretches, profile)
    return (
        names.join(told, on="name").select("row", pl.col("signal").cast(schema.SIGNAL)).unique().sort("row", "signal")
    )


def _told(names: Sequence[str], stretches: Stretches, profile: Profile) -> pl.DataFrame:
    """The signals of each name that stands for some: name, signal."""
    if stretches.shape.layout == "messages":
        entries = messages_of(names, profile).entries
        found = [(names[code], entry.mapped.signal) for entry in entries for code in entry.codes]
    else:
        mapped = map_names(names, profile)
        found = [(name, one.signal) for name in names for one in mapped[name].each() if one.signal]
        words = [name for name in names if name in profile.words]
        found += [(name, source.signal) for name in words for _, source in profile.words[name].sources()]
    return pl.DataFrame(found, schema={"name": pl.String, "signal": pl.String}, orient="row")


def _note(rows: pl.Series) -> str:
    lines = ", ".join(str(line) for line in rows.head(LINES_SAID))
    more = " ..." if len(rows) > LINES_SAID else ""
    return (
        f"{len(rows)} rows that were set aside name a signal (line {lines}{more}): "
        "it is unknown from there to its next record."
    )
