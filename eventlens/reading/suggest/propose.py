"""Draft of a log -> proposals -> a profile made of those that are sure enough."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from eventlens import signals
from eventlens.reading.entries import Message, Source, Word
from eventlens.reading.extracted import Stretches
from eventlens.reading.profile import Profile
from eventlens.reading.suggest.behaviour import Behaviour, observe
from eventlens.reading.suggest.bits import Bit
from eventlens.reading.suggest.combine import Proposal, combine
from eventlens.reading.suggest.names import read_names
from eventlens.reading.suggest.tracks import in_step, segment_ends, tracks_of


@dataclass(frozen=True)
class Proposals:
    """What the names of a dump most likely stand for."""

    each: tuple[Proposal, ...]
    places: Mapping[str, tuple[str, int] | None]
    """Name -> word and bit, where it is a bit of a packed word; every name of the dump."""

    messages: bool = False
    """The names are texts of messages."""

    @property
    def settled(self) -> tuple[Proposal, ...]:
        """Those sure enough to be used."""
        return tuple(one for one in self.each if one.signal is not None)

    @property
    def notes(self) -> tuple[str, ...]:
        """One sentence for the log's notes."""
        count = len(self.settled)
        if not count:
            return ()
        lowest = min(one.confidence for one in self.settled)
        return (
            f"No profile maps the names: {count} of {len(self.places)} were taken for signals by their names and"
            f" behaviour (confidence {lowest:.2f} or more); 'inspect' gives the reasons and, with --write-profile,"
            " a file to check.",
        )


def is_needed(names: tuple[str, ...], profile: Profile) -> bool:
    """Whether nothing says what the names stand for: neither the profile nor the names themselves."""
    stated = profile.signals or profile.words or profile.messages
    return not stated and not any(name in signals.ALL for name in names)


def propose(stretches: Stretches, profile: Profile, layout: str | None, step_s: float) -> Proposals:
    """Proposals for every name of a record; bounded work, whatever its length."""
    if layout == "messages":
        return _of_messages(stretches)
    tracks = tracks_of(stretches, profile, layout)
    places = {t.name: (t.word, t.bit) if t.word is not None and t.bit is not None else None for t in tracks}
    behaviour = observe(*in_step(tracks, segment_ends(stretches)), step_s)
    return Proposals(combine(read_names(places), behaviour), places)


def _of_messages(stretches: Stretches) -> Proposals:
    """Proposals for messages that come and go, from their texts alone."""
    none = np.array([], np.int64)
    texts = list(stretches.distinct) if stretches.shape.value else []
    never = {text: Bit(text, none, none, none.astype(bool), none.astype(bool), 0) for text in texts}
    each = combine(read_names(texts), Behaviour((), (), (), never))
    return Proposals(each, dict.fromkeys(texts), messages=True)


def with_proposals(profile: Profile, proposals: Proposals) -> Profile:
    """The profile with the settled proposals as its entries."""
    found: dict[str, Source] = {}
    bits: dict[str, dict[int, Source]] = {}
    for one in proposals.settled:
        assert one.signal is not None
        source = Source(signal=one.signal, invert=one.invert)
        place = proposals.places[one.name]
        if place is None:
            found[one.name] = source
        else:
            bits.setdefault(place[0], {})[place[1]] = source
    if proposals.messages:
        texts = {one.name: Message(signal=one.signal) for one in proposals.settled if one.signal and not one.invert}
        return replace(profile, messages=texts, proposed=True)
    words = {name: Word(part) for name, part in bits.items()}
    return replace(profile, signals=found, words=words, proposed=True)
