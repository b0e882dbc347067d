"""A row for each message that came, went or was acknowledged; or messages in pairs, one text for on, one for off.

    Time;No;State               Time;Message
    2024-05-01 06:00:00;17;C    2024-05-01 06:00:00;Slack rope
    2024-05-01 06:00:20;17;A    2024-05-01 06:01:00;Rope tight again
    2024-05-01 06:01:00;17;G

A message is on from came to gone; an acknowledgement changes nothing. `[messages]` of the profile names the texts or
numbers: whole, by their beginning (match = "prefix") or by a pattern, whose first group holds a value. For one signal
a whole text goes before a beginning, and that before a pattern. A message that is gone first came before the log.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import polars as pl

from eventlens import schema
from eventlens.errors import ReadingError
from eventlens.reading.extracted import Extracted, Stretches, name_table
from eventlens.reading.mapping import Mapped
from eventlens.reading.message_entries import Entry, messages_of
from eventlens.reading.message_states import MessageStates, message_states
from eventlens.reading.profile import Profile
from eventlens.reading.raw import BAD_VALUE, row_text, set_aside
from eventlens.reading.sampled import quality_columns
from eventlens.reading.tall import Rows, name_rows, repeats_note
from eventlens.reading.validity import good_rows
from eventlens.reading.values import of_source, words_note

NAME = "messages"
NAMES_SAID: Final = 5


def extract(stretches: Stretches, profile: Profile) -> Extracted:
    """An event for each message that came or went. A row with an unknown state is set aside, its signal unknown."""
    codes = stretches.codes
    assert codes is not None
    column = stretches.shape.value
    states = None if column is None else message_states(stretches.frame[column], profile.log)
    told = messages_of(stretches.distinct, profile)
    entries = [entry.mapped for entry in told.entries]
    tall, notes = _tall(told.entries, stretches, states, profile)
    rows = Rows(tall["at"], tall["entry"], tall["value"], entries)
    events = pl.DataFrame(
        {
            "time": rows.pick(stretches.time),
            "signal": pl.Series([m.signal for m in entries], dtype=schema.SIGNAL).gather(tall["entry"]),
            "value": tall["value"],
            "row": rows.pick(stretches.lines),
            "segment": rows.pick(stretches.segment),
        }
    )
    names = name_rows(rows, events, tall["entry"], None, stretches.segment)
    for entry, name in zip(told.entries, names, strict=True):
        name["rows"] = int(codes.is_in(pl.Series(entry.codes, dtype=codes.dtype).implode()).sum())
    notes += [*_said_of_states(entries, tall), *repeats_note(names), *_one_sided(told.entries)]
    counts = dict(codes.value_counts(name="n").iter_rows())
    names += [_unmapped(stretches.distinct[code], counts[code]) for code in told.others]
    wrong = tall.filter("bad")["at"].unique().sort()
    rejected = (
        set_aside(stretches.lines.gather(wrong), BAD_VALUE, row_text(stretches.frame[wrong], stretches.delimiter))
        if len(wrong)
        else schema.REJECTED.empty()
    )
    if column is not None and states is not None:
        used = pl.repeat(False, len(codes), eager=True).scatter(wrong, True)
        notes += words_note(stretches.frame[column], used, "states of messages")
        if states.acknowledged.any():
            notes.append(f"{int(states.acknowledged.sum())} rows acknowledge a message: no change of its state.")
    return Extracted(events, name_table(names), rejected, tuple(dict.fromkeys(notes)))


def _tall(
    entries: Sequence[Entry], stretches: Stretches, states: MessageStates | None, profile: Profile
) -> tuple[pl.DataFrame, list[str]]:
    """The changes of all entries' signals as _PART, in order; values of rows of poor quality are unknown."""
    codes = stretches.codes
    assert codes is not None
    parts: list[pl.DataFrame] = []
    for number, entry in enumerate(entries):
        at = codes.is_in(pl.Series(entry.codes, dtype=codes.dtype).implode()).arg_true()
        parts.append(_events_of(entry, at, stretches, states, profile).with_columns(entry=pl.lit(number, pl.UInt32)))
    tall = pl.concat(parts).sort("at", "entry") if parts else pl.DataFrame(schema=_PART)
    quality = quality_columns(stretches.frame.columns, profile).get("")
    if quality is None:
        return tall, []
    good, notes = good_rows(stretches.frame[quality], profile)
    return tall.with_columns(pl.when(good.gather(tall["at"])).then("value").alias("value")), notes


_PART: Final = pl.Schema({"at": pl.UInt32, "value": pl.Float64, "bad": pl.Boolean, "entry": pl.UInt32})


def _events_of(
    entry: Entry, at: pl.Series, stretches: Stretches, states: MessageStates | None, profile: Profile
) -> pl.DataFrame:
    """at, value (null: unknown) and bad of the rows that change the state of one entry's signal."""
    message = entry.message
    source = entry.mapped.source
    assert source is not None
    if entry.values is not None:
        assert stretches.codes is not None
        found = of_source(entry.values.gather(stretches.codes.gather(at)), source, profile.log.decimal)
        return pl.DataFrame({"at": at, "value": found.number, "bad": found.bad})
    if states is None and message.sets is None:
        raise ReadingError(
            f"when the message '{entry.mapped.name}' begins and ends",
            "no column of came and gone",
            "name it in [log] value, or give this message and the one that ends it 'sets' in [messages]",
        )
    if states is None:
        frame = pl.DataFrame({"at": at, "number": pl.repeat(1.0, len(at), eager=True)})
        frame = frame.with_columns(bad=False, acknowledged=False)
    else:
        frame = pl.DataFrame(
            {
                "at": at,
                "number": states.number.gather(at),
                "bad": states.bad.gather(at),
                "acknowledged": states.acknowledged.gather(at),
            }
        )
    frame = frame.filter(~pl.col("acknowledged"))
    if message.sets is not None:
        frame = frame.filter((pl.col("number") == 1) | pl.col("bad"))
        value = pl.when(~pl.col("bad")).then(float(message.sets)).otherwise(None)
    elif message.on or message.off or message.above is not None or message.below is not None:
        assert stretches.shape.value is not None
        own = of_source(stretches.frame[stretches.shape.value].gather(frame["at"]), source, profile.log.decimal)
        return frame.select("at", value=own.number, bad=own.bad)
    else:
        value = 1 - pl.col("number") if message.invert else pl.col("number")
    return frame.select("at", value=value.cast(pl.Float64), bad="bad")


def _said_of_states(entries: Sequence[Mapped], tall: pl.DataFrame) -> list[str]:
    """Messages that came before the log, and those that are still there at its end."""
    known = tall.filter(pl.col("value").is_not_null())
    ends = known.group_by("entry").agg(first=pl.col("value").first(), last=pl.col("value").last()).sort("entry")
    paired = [m.source is not None and m.source.sets is not None for m in entries]
    states = [row for row in ends.iter_rows() if entries[row[0]].is_state and not paired[row[0]]]
    notes: list[str] = []
    for found, what in (
        (
            [entries[e].name for e, first, _ in states if first == 0],
            "came before the log began (gone is their first row)",
        ),
        ([entries[e].name for e, _, last in states if last == 1], "are still there at the end of the log"),
    ):
        if found:
            more = f" and {len(found) - NAMES_SAID} more" if len(found) > NAMES_SAID else ""
            notes.append(f"Messages that {what}: " + ", ".join(f"'{n}'" for n in found[:NAMES_SAID]) + more + ".")
    return notes


def _one_sided(entries: Sequence[Entry]) -> list[str]:
    """Signals whose messages say only on or only off."""
    sets: dict[str, set[bool]] = {}
    for entry in entries:
        if entry.message.sets is not None:
            sets.setdefault(entry.message.signal, set()).add(entry.message.sets)
    return [
        f"No message of this log sets {signal} {'off' if True in found else 'on'}: its state never changes."
        for signal, found in sets.items()
        if len(found) == 1
    ]


def _unmapped(name: str, rows: int) -> dict[str, object]:
    return {"name": name, "signal": None, "rows": rows, "edges": 0, "repeated": 0, "mapped_by": "unmapped"}
