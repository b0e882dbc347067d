"""Which signals the texts or numbers of messages stand for, by `[messages]` and `[signals]` of the profile."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import polars as pl

from eventlens.reading.entries import Message
from eventlens.reading.mapping import Mapped, map_names
from eventlens.reading.profile import Profile, Source, sources_of


@dataclass(frozen=True)
class Entry:
    """One entry of the profile, and the messages (by code) that it stands for."""

    mapped: Mapped
    message: Message
    codes: tuple[int, ...]
    values: pl.Series | None = None
    """For a pattern with a group: the value in the text of each code."""


@dataclass(frozen=True)
class Told:
    """What the messages of a log stand for."""

    entries: list[Entry]
    others: list[int]
    """Codes of messages that stand for nothing."""


def messages_of(distinct: Sequence[str], profile: Profile) -> Told:
    """The entries that the texts fit, in the order whole text, longest beginning, pattern; each signal once a text."""
    texts = pl.Series(distinct, dtype=pl.String)
    entries: list[Entry] = []
    seen: dict[int, set[str]] = {}
    for key, message in _in_order(distinct, profile):
        groups = None
        if message.match == "exact":
            fits = texts == key
        elif message.match == "prefix":
            fits = texts.str.starts_with(key)
        else:
            fits = texts.str.contains(key)
            groups = texts.str.extract(key, 1) if pl.Series([""]).str.extract_groups(key).struct.fields else None
        signal = message.signal
        codes = [code for code in fits.arg_true() if signal not in seen.get(code, set()) or message.sets is not None]
        if message.sets is None:
            for code in codes:
                seen.setdefault(code, set()).add(signal)
        if codes:
            by = "profile" if key in profile.messages or key in profile.signals else "name"
            mapped = Mapped(key, Source.model_validate(message.model_dump(exclude={"match"})), by)  # type: ignore[arg-type]
            entries.append(Entry(mapped, message, tuple(codes), groups))
    told = {code for entry in entries for code in entry.codes}
    return Told(entries, [code for code in range(len(distinct)) if code not in told])


def _in_order(distinct: Sequence[str], profile: Profile) -> list[tuple[str, Message]]:
    found = [(key, m) for key, entry in profile.messages.items() for m in sources_of(entry)]
    plain = map_names([text for text in distinct if text not in profile.messages], profile)
    own = [(name, s.source) for name, mapped in plain.items() for s in mapped.each() if s.source is not None]
    whole = [(name, Message.model_validate(source.model_dump())) for name, source in own]
    ranks = {"exact": 0, "prefix": 1, "pattern": 2}
    messages = [*((key, m) for key, m in found if isinstance(m, Message)), *whole]
    return sorted(messages, key=lambda pair: (ranks[pair[1].match], -len(pair[0]) if pair[1].match == "prefix" else 0))
