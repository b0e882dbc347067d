"""The profile file (TOML): how one kind of dump is read. Every key is optional; an unknown key is an error.

[log]
layout = "changes"          # changes | samples | words (messages and runs: not read yet)
time = "Time"               # one column, or several joined by a blank: ["Date", "Time"], ["Time", "Millis"]
time_format = "%d.%m.%Y %H:%M:%S"   # or "epoch_s", "epoch_ms", "epoch_us", "serial_days"; else found
timezone = "Europe/Lisbon"  # for stamps that carry no offset; default UTC
name = "Tag"                # layout changes; several columns are joined by a blank: ["EventId", "Parameter"]
value = "State"             # layout changes
empty = "unknown"           # layouts samples and words: an empty cell is "unknown", or "unchanged"
heartbeat = "ALIVE"         # a name that is recorded regularly: its silence is a hole
longest_silence_s = 60      # or: a longer silence [s] than this is a hole
late_s = 2.0                # records up to this [s] behind their predecessor are late arrivals, not a clock step
encoding = "cp1252"         # the rest is found from the file where it is not stated
delimiter = ";"
decimal = ","
header = 5                  # row of the column names, from 1; false: none, columns are column_1, column_2, ...

[signals]                   # name in the dump -> signal
"K11" = "hoist.raise.contactor"
"S7" = { signal = "hoist.raise.limit", on = "0" }            # on when the value is this text, else off
"B3" = { signal = "hoist.brake.released", invert = true }    # a closed contact means off
"I" = { signal = "hoist.motor.current_a", factor = 0.1 }     # number in the dump times factor = signal's unit
"82 4" = { signal = "hoist.raise.command", sets = true }     # the record itself says on or off, whatever its
"81 4" = { signal = "hoist.raise.command", sets = false }    # value: two names drive one signal

[words."MW20"]              # a column of packed status words: bit -> signal, bit 0 is the lowest
encoding = "hex"            # decimal | signed | hex; found from the column where it is not stated
0 = "hoist.raise.command"
1 = { signal = "hoist.lower.command", invert = true }

[messages]                  # text -> signal: checked, not read yet
"Load limit reached" = "overload.trip"
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Any, Final, Literal, TypeVar
from zoneinfo import available_timezones

from pydantic import AfterValidator, BeforeValidator, Field

from eventlens import settings, signals
from eventlens.errors import ProfileError, nearest

LAYOUTS_TO_COME: Final = ("messages", "runs")
WIDEST_WORD: Final = 64


def _as_list(value: Any) -> Any:
    return (value,) if isinstance(value, str) else value


def _header_row(value: int | bool | None) -> int | bool | None:
    if value is True or (value is not False and value is not None and value < 1):
        raise ValueError("a row number from 1, or false for no header")
    return value


Columns = Annotated[tuple[str, ...], BeforeValidator(_as_list)]


class LogKeys(settings.Settings):
    """The `[log]` table."""

    layout: Literal["changes", "samples", "words", "messages", "runs"] | None = None
    time: Columns = ()
    time_format: str | None = None
    timezone: str | None = None
    name: Columns = ()
    value: str | None = None
    empty: Literal["unknown", "unchanged"] = "unknown"
    heartbeat: str | None = None
    longest_silence_s: Annotated[float, Field(gt=0)] | None = None
    late_s: Annotated[float, Field(ge=0)] = 2.0
    """Bound of late arrivals [s]; 2 s is common practice for records of several sources in one log."""
    encoding: str | None = None
    delimiter: Annotated[str, Field(min_length=1, max_length=1)] | None = None
    decimal: Literal[".", ","] | None = None
    header: Annotated[int | bool | None, AfterValidator(_header_row)] = None


def _as_text(value: Any) -> Any:
    if isinstance(value, bool):
        return "true" if value else "false"
    return str(value) if isinstance(value, int | float) else value


class Source(settings.Settings):
    """What a name (or a bit) in the dump stands for."""

    signal: str
    on: Annotated[str | None, BeforeValidator(_as_text)] = None
    invert: bool = False
    factor: float = 1.0
    sets: bool | None = None


@dataclass(frozen=True)
class Word:
    """One column of packed status words: its bits, and how its numbers are written (None: found)."""

    bits: Mapping[int, Source]
    encoding: Literal["decimal", "signed", "hex"] | None = None


@dataclass(frozen=True)
class Profile:
    """How one kind of dump is read. `Profile()` states nothing: everything is found from the file."""

    log: LogKeys = field(default_factory=LogKeys)
    signals: Mapping[str, Source] = field(default_factory=dict)
    words: Mapping[str, Word] = field(default_factory=dict)
    messages: Mapping[str, Source] = field(default_factory=dict)
    name: str | None = None
    """Name of the file it came from."""


class _File(settings.Settings):
    """The file before its entries are looked at: they may be a text or a table."""

    log: LogKeys = LogKeys()
    signals: dict[str, Any] = Field(default_factory=dict)
    words: dict[str, dict[str, Any]] = Field(default_factory=dict)
    messages: dict[str, Any] = Field(default_factory=dict)


def load_profile(path: str | Path) -> Profile:
    """The profile in a TOML file; ProfileError (file, line, remedy) for anything it may not hold."""
    content = settings.load(path, _File, ProfileError)
    text = Path(path).read_bytes().decode("utf-8-sig")
    return _build(content, _Place(Path(path), text))


def as_profile(given: Profile | str | Path | None) -> Profile:
    """The profile itself, the one in the file, or one that states nothing."""
    if given is None:
        return Profile()
    return given if isinstance(given, Profile) else load_profile(given)


@dataclass(frozen=True)
class _Place:
    """Where an entry stands, for the errors."""

    path: Path
    text: str
    at: tuple[str, ...] = ()

    def inside(self, *keys: str) -> _Place:
        return _Place(self.path, self.text, (*self.at, *keys))

    def error(self, wanted: str, got: str, remedy: str) -> ProfileError:
        line = settings.line_of(self.text, list(self.at))
        return ProfileError(wanted, got, remedy, file=self.path, line=line)


def _build(content: _File, place: _Place) -> Profile:
    zone = content.log.timezone
    if zone is not None and zone not in (zones := available_timezones()):
        hint = nearest(zone, zones)
        remedy = hint if hint.startswith("did you") else "write it like 'Europe/Lisbon' or 'UTC'"
        raise place.inside("log", "timezone").error("an IANA time zone", f"'{zone}'", remedy)
    if content.log.layout in LAYOUTS_TO_COME:
        raise place.inside("log", "layout").error(
            "layout changes, samples or words",
            f"'{content.log.layout}', which is not read yet",
            "export the dump as one of these",
        )
    profile = Profile(
        content.log,
        {name: _source(entry, place.inside("signals", name)) for name, entry in content.signals.items()},
        {name: _word(entry, place.inside("words", name)) for name, entry in content.words.items()},
        {name: _source(entry, place.inside("messages", name)) for name, entry in content.messages.items()},
        place.path.name,
    )
    _one_name_each(profile, place)
    return profile


def _source(entry: Any, place: _Place) -> Source:
    found = _parse({"signal": entry} if isinstance(entry, str) else entry, Source, place)
    if found.signal not in signals.ALL:
        raise place.error("a known signal", f"'{found.signal}'", nearest(found.signal, signals.ALL))
    if found.signal in signals.MEASURES:
        if found.on is not None or found.invert or found.sets is not None:
            raise place.error(
                f"a number for {found.signal}", "on, invert or sets", "these keys are for on/off signals: remove them"
            )
    elif found.factor != 1.0:
        raise place.error(f"on or off for {found.signal}", "a factor", "factor is for measured values: remove it")
    return found


def _word(entry: Mapping[str, Any], place: _Place) -> Word:
    bits: dict[int, Source] = {}
    for key, value in entry.items():
        if key == "encoding":
            continue
        if not key.isdecimal() or int(key) >= WIDEST_WORD:
            raise place.inside(key).error(
                f"a bit number from 0 to {WIDEST_WORD - 1}, or 'encoding'", f"'{key}'", "correct the key"
            )
        bits[int(key)] = _source(value, place.inside(key))
        if bits[int(key)].signal in signals.MEASURES or bits[int(key)].sets is not None:
            raise place.inside(key).error("an on/off signal for a bit", f"'{value}'", "take another signal")
    encoding = entry.get("encoding")
    if encoding not in (None, "decimal", "signed", "hex"):
        raise place.inside("encoding").error("decimal, signed or hex", repr(encoding), "correct the value")
    return Word(bits, encoding)


M = TypeVar("M", bound=settings.Settings)


def _parse(entry: Any, model: type[M], place: _Place) -> M:
    if not isinstance(entry, dict):
        raise place.error("a signal name or a table with 'signal'", repr(entry), 'write it like "K1" = "signal"')
    try:
        return settings.parse(entry, model, ProfileError)
    except ProfileError as fault:
        raise place.error(fault.wanted, fault.got, fault.remedy) from None


def _one_name_each(profile: Profile, place: _Place) -> None:
    """Two names may drive one signal only where their records themselves say on or off (`sets`)."""
    seen: dict[str, str] = {}
    entries: list[tuple[tuple[str, ...], Source]]
    entries = [(("signals", name), source) for name, source in profile.signals.items()]
    entries += [(("words", w, str(bit)), s) for w, word in profile.words.items() for bit, s in word.bits.items()]
    for at, source in entries:
        other = seen.get(source.signal)
        if other is not None and source.sets is None:
            raise place.inside(*at).error(
                "one name for each signal",
                f"'{other}' and '{'.'.join(at[1:])}' for {source.signal}",
                "keep one of them, or give both 'sets'",
            )
        seen[source.signal] = ".".join(at[1:])
