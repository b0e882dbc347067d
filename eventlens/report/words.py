"""The words in which reports say what the tables hold: one place, so that every report says the same."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType
from typing import Final
from zoneinfo import ZoneInfo

from eventlens.reading.log import Log, SourceFile
from eventlens.signals import MOTIONS

SEVERITY: Final = MappingProxyType(
    {"out_of_service": "out of service until looked at", "repair": "repair", "watch": "watch", "note": "note"}
)
"""What a finding asks for (schema.SEVERITIES, the most serious first)."""

ENDING: Final = MappingProxyType(
    {
        "let_go": "let go",
        "limit": "limit reached",
        "overload": "overload",
        "emergency_stop": "emergency stop",
        "motor_hot": "motor hot",
        "supply": "supply lost",
        "reversed": "reversed",
        "dropped_out": "dropped out",
        "unknown": "not known",
    }
)
"""How a run ended (schema.ENDINGS)."""

WHY_NOT: Final = MappingProxyType(
    {
        "missing_signal": "the log does not carry the signal",
        "missing_setting": "a setting is missing",
        "not_resolvable": "the log step is too coarse",
        "too_little_log": "the log is too short",
    }
)
"""Why a pattern could not be assessed (schema.NOT_ASSESSED_WHY)."""

CONFIDENCE: Final = MappingProxyType(
    {
        "confirmed": "",
        "from one place": "found in one place only: check it",
        "from memory": "from memory: check it",
        "machine file": "",
    }
)
"""The mark that a limit carries, by how sure its figure is (duty.groups.CONFIDENCES)."""

RANGES_SHOWN: Final = 4
"""Ranges of lines of the log that are named before the rest is only counted."""


@dataclass(frozen=True)
class Clock:
    """Writes instants in the zone of the log, with the offset where it changes within the log."""

    zone: ZoneInfo
    with_offset: bool

    @classmethod
    def of(cls, log: Log) -> Clock:
        zone = ZoneInfo(log.timezone)
        return cls(zone, log.start.astimezone(zone).utcoffset() != log.end.astimezone(zone).utcoffset())

    def __call__(self, instant: datetime) -> str:
        return instant.astimezone(self.zone).isoformat(" ", "seconds")[: None if self.with_offset else 19]


def figure(value: float) -> str:
    """A number to three places, without exponent."""
    if value == 0 or abs(value) >= 100:
        return f"{value:.0f}"
    return f"{value:.3g}" if abs(value) >= 0.0001 else "below 0.0001"


def span(seconds: float) -> str:
    """A length of time in the unit that suits it: seconds to two minutes, minutes to two hours, then hours."""
    if seconds <= 120:
        return f"{figure(seconds)} s"
    if seconds < 7200:
        return f"{seconds / 60:.1f} min"
    return f"{seconds / 3600:.1f} h"


def counted(number: int, one: str, many: str = "") -> str:
    """A number with its noun: '1 run', '2 runs'."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def listed(items: Iterable[str], most: int) -> str:
    """Items with commas; those beyond `most` are only counted."""
    every = list(items)
    rest = len(every) - most
    return ", ".join(every[:most]) + (f" and {rest} more" if rest > 0 else "")


def either(name: str) -> str:
    """A needed signal with its directions written out: `hoist.*.contactor` is 'hoist.raise/lower.contactor'."""
    motion = name.split(".", 1)[0]
    return name.replace("*", "/".join(MOTIONS.get(motion, ("DIRECTION",))))


def lines_of(rows: Sequence[int], files: Sequence[SourceFile]) -> str:
    """Lines of the log as lines of the files they came from: see `ranges_of`."""
    shown, rest = ranges_of(rows, files)
    return ("line " if len(rows) == 1 else "lines ") + ", ".join(shown) + (f" and {rest} more" if rest else "")


def ranges_of(rows: Sequence[int], files: Sequence[SourceFile]) -> tuple[list[str], int]:
    """Lines of the log as ranges of lines of their files, named where there are several; and how many are left out.

    rows: ascending. Neighbouring lines are one range; lines in ranges beyond RANGES_SHOWN are only counted.
    """
    ranges: list[tuple[SourceFile, int, int]] = []
    said = 0
    for row in rows:
        file = max((f for f in files if f.first_row <= row), key=lambda f: f.first_row, default=files[0])
        line = row - file.first_row + file.first_line
        if ranges and ranges[-1][0] is file and ranges[-1][2] + 1 == line:
            ranges[-1] = (file, ranges[-1][1], line)
        elif len(ranges) < RANGES_SHOWN:
            ranges.append((file, line, line))
        else:
            break  # there may be a million more, which nobody reads
        said += 1
    shown = [
        (f"{file.name} " if len(files) > 1 else "") + (f"{first}" if first == last else f"{first}-{last}")
        for file, first, last in ranges
    ]
    return shown, len(rows) - said
