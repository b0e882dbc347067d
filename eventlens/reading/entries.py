"""Entries of the profile: what a name, a bit or a message stands for. Each is checked, faults name file and line."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Any, Final, Literal, TypeVar

from pydantic import BeforeValidator

from eventlens import settings, signals
from eventlens.errors import ProfileError, nearest

WIDEST_WORD: Final = 64
Encoding = Literal["decimal", "signed", "hex", "binary", "octal"]
Order = Literal["high_first", "low_first"]


def _as_text(value: Any) -> Any:
    if isinstance(value, bool):
        return "true" if value else "false"
    return str(value) if isinstance(value, int | float) else value


def _as_texts(value: Any) -> Any:
    if value is None:
        return ()
    return tuple(_as_text(item) for item in value) if isinstance(value, list | tuple) else (_as_text(value),)


Texts = Annotated[tuple[str, ...], BeforeValidator(_as_texts)]


class Source(settings.Settings):
    """What a name (or a bit) in the dump stands for."""

    signal: str
    on: Texts = ()
    """Values that mean on; every other one means off, unless `off` is stated too."""
    off: Texts = ()
    above: float | None = None
    """On where the number is greater."""
    below: float | None = None
    invert: bool = False
    factor: float = 1.0
    sets: bool | None = None


class Message(Source):
    """What a message stands for."""

    match: Literal["exact", "prefix", "pattern"] = "exact"
    """How its text is found; the first group of a pattern holds a value."""


Sources = Source | tuple[Source, ...]
Messages = Message | tuple[Message, ...]


class _WordKeys(settings.Settings):
    encoding: Encoding | None = None
    width: Literal[8, 16, 32, 64] | None = None
    byte_order: Order = "high_first"
    word_order: Order = "high_first"
    signed: bool = False
    bcd: bool = False


@dataclass(frozen=True)
class Word:
    """One packed status word: its bits, and how its numbers are written (None: found)."""

    bits: Mapping[int, Source]
    encoding: Encoding | None = None
    fields: Mapping[tuple[int, int], tuple[Source, ...]] = field(default_factory=dict)
    """Neighbouring bits (lowest, highest) that are one number; see ALL_BITS."""
    width: int | None = None
    byte_order: Order = "high_first"
    word_order: Order = "high_first"
    signed: bool = False
    bcd: bool = False

    def sources(self) -> list[tuple[str, Source]]:
        """All its sources with the key of each."""
        found = [(str(bit), source) for bit, source in self.bits.items()]
        return found + [(field_key(*span), source) for span, entry in self.fields.items() for source in entry]


ALL_BITS: Final = (0, WIDEST_WORD - 1)


def field_key(low: int, high: int) -> str:
    """How the profile writes a field."""
    return "all" if (low, high) == ALL_BITS else f"{low}-{high}"


@dataclass(frozen=True)
class Place:
    """Where an entry stands, for the errors."""

    path: Path
    text: str
    at: tuple[str, ...] = ()

    def inside(self, *keys: str) -> Place:
        return Place(self.path, self.text, (*self.at, *keys))

    def error(self, wanted: str, got: str, remedy: str) -> ProfileError:
        line = settings.line_of(self.text, list(self.at))
        return ProfileError(wanted, got, remedy, file=self.path, line=line)


S = TypeVar("S", bound=Source)
M = TypeVar("M", bound=settings.Settings)


def sources_of(entry: Sources) -> tuple[Source, ...]:
    """One entry of `[signals]` as its sources."""
    return entry if isinstance(entry, tuple) else (entry,)


def read_sources(entry: Any, place: Place, model: type[S]) -> S | tuple[S, ...]:
    """A signal's name, a table, or a list of tables."""
    if not isinstance(entry, list):
        return _source(entry, place, model)
    if not entry:
        raise place.error("at least one signal", "an empty list", "name a signal, or remove the entry")
    found = tuple(_source(item, place, model) for item in entry)
    for item in found:
        if sum(other.signal == item.signal for other in found) > 1:
            raise place.error("different signals in one list", f"'{item.signal}' twice", "keep one of them")
    return found


def _source(entry: Any, place: Place, model: type[S]) -> S:
    found = _parse({"signal": entry} if isinstance(entry, str) else entry, model, place)
    if found.signal not in signals.ALL:
        raise place.error("a known signal", f"'{found.signal}'", nearest(found.signal, signals.ALL))
    by_words, by_limits = bool(found.on or found.off), found.above is not None or found.below is not None
    if found.signal in signals.MEASURES:
        if by_words or by_limits or found.invert or found.sets is not None:
            raise place.error(
                f"a number for {found.signal}",
                "on, off, above, below, invert or sets",
                "these keys are for on/off signals: remove them",
            )
        return found
    if found.factor != 1.0:
        raise place.error(f"on or off for {found.signal}", "a factor", "factor is for measured values: remove it")
    if found.sets is not None and (by_words or by_limits or found.invert):
        raise place.error("'sets' alone", "on, off, above, below or invert beside it", "keep one of them")
    if by_words and by_limits:
        raise place.error("words (on, off) or limits (above, below)", "both", "keep one of them")
    twice = {word.strip().lower() for word in found.on} & {word.strip().lower() for word in found.off}
    if twice:
        raise place.error("different words for on and off", f"'{sorted(twice)[0]}' in both", "remove one of them")
    if isinstance(found, Message) and found.match == "pattern":
        _check_pattern(place)
    return found


def _check_pattern(place: Place) -> None:
    try:
        re.compile(place.at[-1])
    except re.error as fault:
        raise place.error("a regular expression", f"'{place.at[-1]}' ({fault})", "correct it") from None


def read_word(entry: Mapping[str, Any], place: Place) -> Word:
    """One table of `[words]`."""
    known = set(_WordKeys.model_fields)
    for key in entry:
        if key not in known and _span(key) is None:
            raise place.inside(key).error(
                f"a bit number from 0 to {WIDEST_WORD - 1}, bits like '4-7', 'all', or {', '.join(sorted(known))}",
                f"'{key}'",
                "correct the key",
            )
    for key in known & set(entry):
        try:
            settings.parse({key: entry[key]}, _WordKeys, ProfileError)
        except ProfileError as fault:
            raise place.inside(key).error(fault.wanted, fault.got, fault.remedy) from None
    keys = settings.parse({key: entry[key] for key in known & set(entry)}, _WordKeys, ProfileError)
    bits: dict[int, Source] = {}
    fields: dict[tuple[int, int], tuple[Source, ...]] = {}
    for key, value in entry.items():
        span = _span(key)
        if span is None:
            continue
        inside = place.inside(key)
        found = read_sources(value, inside, Source)
        if any(source.sets is not None for source in sources_of(found)):
            raise inside.error("a signal for bits", "'sets'", "sets is for names and messages: remove it")
        if keys.width and span != ALL_BITS and span[1] >= keys.width:
            raise inside.error(f"a bit below the width of {keys.width}", f"'{key}'", "correct the key or the width")
        if key.isdecimal():
            if isinstance(found, tuple) or found.signal in signals.MEASURES or found.above is not None or found.on:
                raise inside.error("an on/off signal for a bit", f"'{value}'", "take another signal")
            bits[span[0]] = found
        else:
            fields[span] = sources_of(found)
    return Word(bits, keys.encoding, fields, keys.width, keys.byte_order, keys.word_order, keys.signed, keys.bcd)


def _span(key: str) -> tuple[int, int] | None:
    """Lowest and highest bit of a key like `3`, `4-7` or `all`; None: no such key."""
    if key == "all":
        return ALL_BITS
    parts = key.split("-")
    if len(parts) > 2 or not all(part.isdecimal() for part in parts):
        return None
    low, high = int(parts[0]), int(parts[-1])
    return (low, high) if low <= high < WIDEST_WORD else None


def _parse(entry: Any, model: type[M], place: Place) -> M:
    if not isinstance(entry, dict):
        raise place.error("a signal name or a table with 'signal'", repr(entry), 'write it like "K1" = "signal"')
    try:
        return settings.parse(entry, model, ProfileError)
    except ProfileError as fault:
        raise place.error(fault.wanted, fault.got, fault.remedy) from None
