"""The profile file (TOML): how one kind of dump is read. Every key is optional; an unknown key is an error.

[log]
layout = "changes"          # changes | samples | words | messages | runs: see eventlens/reading/layouts
time = "Time"               # one column, or several joined by a blank: ["Date", "Time"], ["Time", "Millis"]
time_format = "%d.%m.%Y %H:%M:%S"   # or a clock's name, see reading/clock.py: "epoch_ms", "ticks_ms", ...; else found
timezone = "Europe/Lisbon"  # for stamps that carry no offset; default UTC
epoch = 2000                # stamps that are counts: their first day, as a year or as "1980-01-06"; else 1970
start = "2024-05-01 06:00"  # stamps that are ticks of a counter: instant of the first row
year = 2024                 # stamps without a year: year of the first row; else by the file's name or date
date = "2024-05-01"         # stamps with the time of day only: date of the first row; else as above
name = "Tag"                # all but samples and words; several are joined by a blank: ["EventId", "Parameter"]
value = "State"             # layout changes; layout messages: came, gone or acknowledged
came = ["C"]                # layout messages: words of `value`, where the usual ones are not meant
gone = ["G"]
acknowledged = ["A"]        # neither the beginning nor the end of a message
begin = "Begin"             # layout runs: two of begin, end and duration; begin and end hold stamps
end = "End"
duration = "Length"         # numbers, h:mm:ss, m:ss, T#1m20s, PT1M20S, 80 s
duration_unit = "s"         # of plain numbers: ms | s | min | h; else from the column's name
quality = "Q"               # column with the quality of each value; "* Q": column "K11 Q" is that of column "K11"
good = ["GOOD", "192"]      # its words for a value that holds; the usual ones if not stated. Any other: unknown
arrived = "Received"        # the instant at which a record arrived; `time` is that of its source
empty = "unknown"           # layouts samples and words: an empty cell is "unknown", or "unchanged"
heartbeat = "ALIVE"         # a name that is recorded regularly: its silence is a hole
longest_silence_s = 60      # or: a longer silence [s] than this is a hole
boot = "RESTART"            # a name whose record says that the controller began again: what was before is cut off there
late_s = 2.0                # records up to this [s] behind their predecessor are late arrivals, not a clock step
encoding = "cp1252"         # the rest is found from the file where it is not stated
delimiter = ";"
decimal = ","
header = 5                  # row of the column names, from 1; false: none, columns are column_1, column_2, ...
sheet = "Log"               # which sheet of a spreadsheet ...
table = "events"            # ... or table or view of a database is the log; else the one that looks most like one
commands_from = "input"     # commands are read at the controller's input (the pushbutton), or: "order", what the
                            # controller orders its contactors to do. Only an input can clear pushbutton and cable
unpacked_gb = 4.0           # gzip, zip and the like may unpack to this many bytes [1e9]

[signals]                   # name in the dump -> signal
"K11" = "hoist.raise.contactor"
"S7" = { signal = "hoist.raise.limit", on = "0" }            # on when the value is this text, else off
"S8" = { signal = "hoist.lower.limit", on = ["hit", "2"], off = ["clear"] }   # any other word is set aside
"B3" = { signal = "hoist.brake.released", invert = true }    # a closed contact means off
"V" = { signal = "trolley.left.contactor", above = 0.5 }     # on above (or below) a number
"I" = { signal = "hoist.motor.current_a", factor = 0.1 }     # number in the dump times factor = signal's unit
"82 4" = { signal = "hoist.raise.command", sets = true }     # the record itself says on or off, whatever its
"81 4" = { signal = "hoist.raise.command", sets = false }    # value: two names drive one signal
"SPD" = [                                                    # one name tells several signals
    { signal = "hoist.lower.contactor", on = ["1", "2"] },
    { signal = "hoist.fast.contactor", on = "2" },
]

[words."MW20"]              # packed status words: a column of that name, or a name in the layout changes
encoding = "hex"            # decimal | signed | hex | binary | octal; found from the column where it is not stated
width = 16                  # 8 | 16 | 32 | 64 bits; else the least that holds what is there
byte_order = "low_first"    # bytes of each 16 bits are swapped; high_first if not stated
word_order = "low_first"    # 16-bit words of a wider one are swapped
signed = true               # numbers in it may be negative (two's complement)
bcd = true                  # each four bits are a decimal digit
0 = "trolley.left.command"  # bit 0 is the lowest
1 = { signal = "trolley.right.command", invert = true }
"4-7" = { signal = "trolley.fast.command", on = "3" }        # neighbouring bits as a number

[words."MW40"]
all = { signal = "load.kg", factor = 0.1 }                   # the whole word is a number

[messages]                  # layout messages: id or text -> signal, as in [signals]
"Overload" = "overload.trip"                                 # on from came to gone
"Slack rope" = { signal = "rope.slack", sets = true }        # without came and gone: two texts for one signal
"Rope tight" = { signal = "rope.slack", sets = false }
"Phase" = { signal = "supply.phase_fault", match = "prefix" }            # each text that begins so
"^Load ([0-9.,]+) %" = { signal = "load.percent", match = "pattern" }    # group 1 of the pattern is the value

[live]                      # what is followed at a broker or a server of values: see reading/live_keys.py
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Annotated, Any, Literal
from zoneinfo import available_timezones

from pydantic import AfterValidator, BeforeValidator, Field

from eventlens import settings
from eventlens.errors import ProfileError, nearest
from eventlens.reading.contradictions import check_log, one_name_each
from eventlens.reading.entries import (
    Message,
    Messages,
    Place,
    Source,
    Sources,
    Texts,
    Word,
    read_sources,
    read_word,
    sources_of,
)
from eventlens.reading.live_keys import LiveKeys, check_live, with_written_columns

__all__ = ["LiveKeys", "LogKeys", "Message", "Profile", "Source", "Word", "as_profile", "load_profile", "sources_of"]


def _as_list(value: Any) -> Any:
    return (value,) if isinstance(value, str) else value


def _header_row(value: int | bool | None) -> int | bool | None:
    if value is True or (value is not False and value is not None and value < 1):
        raise ValueError("a row number from 1, or false for no header")
    return value


def as_epoch(value: Any) -> Any:
    """The first day of a count: a year (2000), or a date ('1980-01-06'). ValueError otherwise."""
    if value is None or isinstance(value, dt.date):
        return value
    text = str(value).strip()
    try:
        return dt.date(int(text), 1, 1) if text.isdecimal() and len(text) == 4 else dt.date.fromisoformat(text[:10])
    except ValueError:
        raise ValueError("a year like 2000 or a date like '1980-01-06'") from None


Columns = Annotated[tuple[str, ...], BeforeValidator(_as_list)]


class LogKeys(settings.Settings):
    """The `[log]` table."""

    layout: Literal["changes", "samples", "words", "messages", "runs"] | None = None
    time: Columns = ()
    time_format: str | None = None
    timezone: str | None = None
    epoch: Annotated[dt.date | None, BeforeValidator(as_epoch)] = None
    start: dt.datetime | None = None
    year: Annotated[int | None, Field(ge=1970, le=2200)] = None
    date: dt.date | None = None
    name: Columns = ()
    value: str | None = None
    came: Texts = ()
    gone: Texts = ()
    acknowledged: Texts = ()
    begin: Columns = ()
    end: Columns = ()
    duration: str | None = None
    duration_unit: Literal["ms", "s", "min", "h"] | None = None
    quality: str | None = None
    good: Texts = ()
    arrived: Columns = ()
    empty: Literal["unknown", "unchanged"] = "unknown"
    heartbeat: str | None = None
    longest_silence_s: Annotated[float, Field(gt=0)] | None = None
    boot: str | None = None
    late_s: Annotated[float, Field(ge=0)] = 2.0
    """Bound of late arrivals [s]; 2 s is common practice for records of several sources in one log."""
    encoding: str | None = None
    delimiter: Annotated[str, Field(min_length=1, max_length=8)] | None = None
    decimal: Literal[".", ","] | None = None
    header: Annotated[int | bool | None, AfterValidator(_header_row)] = None
    sheet: str | None = None
    table: str | None = None
    commands_from: Literal["input", "order"] | None = None
    """Where commands are tapped; None: not known, and nothing is concluded from their steadiness."""
    unpacked_gb: Annotated[float | None, Field(gt=0)] = None


@dataclass(frozen=True)
class Profile:
    """How one kind of dump is read. `Profile()` states nothing: everything is found from the file."""

    log: LogKeys = field(default_factory=LogKeys)
    signals: Mapping[str, Sources] = field(default_factory=dict)
    """Each with one source or several: see `sources_of`."""
    words: Mapping[str, Word] = field(default_factory=dict)
    messages: Mapping[str, Messages] = field(default_factory=dict)
    live: LiveKeys | None = None
    """What is followed; the record that is written then is read by the rest."""
    name: str | None = None
    """Name of the file it came from."""
    proposed: bool = False
    """Nobody stated it: it holds what names and behaviour suggest."""


class _File(settings.Settings):
    """The file before its entries are looked at: they may be a text or a table."""

    log: LogKeys = LogKeys()
    signals: dict[str, Any] = Field(default_factory=dict)
    words: dict[str, dict[str, Any]] = Field(default_factory=dict)
    messages: dict[str, Any] = Field(default_factory=dict)
    live: LiveKeys | None = None


def load_profile(path: str | Path) -> Profile:
    """The profile in a TOML file; ProfileError (file, line, remedy) for anything it may not hold."""
    content = settings.load(path, _File, ProfileError)
    text = Path(path).read_bytes().decode("utf-8-sig")
    return _build(content, Place(Path(path), text))


def as_profile(given: Profile | str | Path | None) -> Profile:
    """The profile itself, the one in the file, or one that states nothing."""
    if given is None:
        return Profile()
    return given if isinstance(given, Profile) else load_profile(given)


@cache
def _zones() -> set[str]:
    """The zones that this computer knows; to find them takes longer than to read a profile."""
    return available_timezones()


def _build(content: _File, place: Place) -> Profile:
    zone = content.log.timezone
    if zone is not None and zone not in (zones := _zones()):
        hint = nearest(zone, zones)
        remedy = hint if hint.startswith("did you") else "write it like 'Europe/Lisbon' or 'UTC'"
        raise place.inside("log", "timezone").error("an IANA time zone", f"'{zone}'", remedy)
    check_log(content.log, place)
    log = content.log
    if content.live is not None:
        check_live(content.live, place)
        log = with_written_columns(log, place)
    profile = Profile(
        log,
        {name: read_sources(entry, place.inside("signals", name), Source) for name, entry in content.signals.items()},
        {name: read_word(entry, place.inside("words", name)) for name, entry in content.words.items()},
        {
            name: read_sources(entry, place.inside("messages", name), Message)
            for name, entry in content.messages.items()
        },
        content.live,
        place.path.name,
    )
    one_name_each(profile, place)
    return profile
