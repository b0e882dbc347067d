"""A row for each change: stamp, name, value. Also records whose name alone says on or off (see `sets`).

    Time;Tag;State
    2026-03-02 06:00:00.120;K11;1
    2026-03-02 06:00:00.480;K11;0

A name in `[words]` of the profile carries a packed word: the bits that changed are the events.
"""

from __future__ import annotations

from dataclasses import replace

import polars as pl

from eventlens import schema
from eventlens.reading.extracted import Extracted, Stretches, events_of_channels, name_table
from eventlens.reading.mapping import map_names, spread
from eventlens.reading.profile import Profile
from eventlens.reading.raw import BAD_VALUE, row_text, set_aside
from eventlens.reading.sampled import quality_columns
from eventlens.reading.tall import Rows, name_rows, read_rows, repeats_note
from eventlens.reading.validity import good_rows
from eventlens.reading.values import words_note
from eventlens.reading.word_bits import channels_of_word

NAME = "changes"


def extract(stretches: Stretches, profile: Profile) -> Extracted:
    """An event for each record of a mapped name.

    A record whose value is not understood is set aside, and its signal is unknown from there on (value null).
    """
    codes = stretches.codes
    assert codes is not None
    entries, further = spread(list(map_names(stretches.distinct, profile).values()))
    value = stretches.frame[stretches.shape.value] if stretches.shape.value else None
    rows = Rows.of(codes, value, entries, further)
    events, bad, notes = read_rows(rows, stretches, profile)
    poor, said = poor_rows(stretches, profile)
    notes += said
    if poor is not None:
        doubted = rows.pick(poor)
        events = events.with_columns(pl.when(~doubted).then("value").alias("value"))
        bad = None if bad is None else bad & ~doubted
    names = name_rows(rows, events, codes, value, stretches.segment, further)
    notes += repeats_note(names)
    rejected = schema.REJECTED.empty()
    if bad is not None and rows.value is not None and bad.any():
        at = rows.pick(pl.int_range(len(codes), dtype=pl.UInt32, eager=True)).filter(bad).unique().sort()
        rejected = _rejected(stretches, at)
        notes += words_note(rows.value, bad, "values")
    words = {name: code for code, name in enumerate(stretches.distinct) if name in profile.words}
    if not words or value is None:
        return Extracted(events, name_table(names), rejected, tuple(notes))
    at = rows.pick(pl.int_range(len(codes), dtype=pl.UInt32, eager=True))
    parts = [events.with_columns(at=at)]
    names = [name for name in names if name["name"] not in words or name["signal"] is not None]
    for name, code in words.items():
        found, at, wrong = _word_events(stretches, name, (codes == code).arg_true(), value, poor, profile)
        parts.append(found.events.with_columns(at=at))
        names += found.names.to_dicts()
        rejected = pl.concat([rejected, _rejected(stretches, wrong)])
        notes += found.notes
    tall = pl.concat(parts).sort("at", maintain_order=True)
    return Extracted(tall.drop("at"), name_table(names), rejected, tuple(dict.fromkeys(notes)))


def poor_rows(stretches: Stretches, profile: Profile) -> tuple[pl.Series | None, list[str]]:
    """The rows whose value is not of good quality (None: the log writes no quality), and notes."""
    column = quality_columns(stretches.frame.columns, profile).get("")
    if column is None:
        return None, []
    good, notes = good_rows(stretches.frame[column], profile)
    return ~good, notes


def _word_events(
    stretches: Stretches, name: str, at: pl.Series, value: pl.Series, poor: pl.Series | None, profile: Profile
) -> tuple[Extracted, pl.Series, pl.Series]:
    """The events of one packed word, their positions in the record, and the positions of words not understood."""
    cells = value.gather(at)
    found = channels_of_word(name, cells, profile.words[name])
    channels = found.channels
    bad = found.bad
    if poor is not None:
        doubted = poor.gather(at)
        channels = [
            replace(channel, value=pl.select(pl.when(~doubted).then(channel.value))[:, 0]) for channel in channels
        ]
        bad = bad & ~doubted
    part = replace(
        stretches,
        frame=stretches.frame.head(0),
        time=stretches.time.gather(at),
        lines=at,
        segment=stretches.segment.gather(at),
    )
    events = events_of_channels(part, channels)
    where = events.events["row"]
    lined = events.events.with_columns(row=stretches.lines.gather(where))
    notes = (*found.notes, *words_note(cells, bad, f"words of '{name}'"))
    return replace(events, events=lined, notes=notes), where, at.filter(bad)


def _rejected(stretches: Stretches, at: pl.Series) -> pl.DataFrame:
    """The rows at some positions as schema.REJECTED."""
    rows = stretches.frame[at] if len(at) else stretches.frame.head(0)
    return set_aside(stretches.lines.gather(at), BAD_VALUE, row_text(rows, stretches.delimiter))
