"""Examples of the catalogue: a few drawn signals become a log, which is reviewed like any other.

    0.1 s
    hoist.raise.command    ..####..(#.)*3
    load.kg*100            000123332222..
    log                    ......??......

First line: the time of one character. Then a line for each signal: `#` on, `.` off, `?` unknown; `(...)*N` repeats,
also inside one another; a measured signal carries digits, each times the factor behind its name. The line `log`, where
there is one, is the record itself: `?` a hole, `+` and `-` the clock is set on or back by an hour before the record.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Final

import polars as pl

from eventlens import patterns, schema, signals
from eventlens.machine import Machine
from eventlens.reading.log import Log, SourceFile, names_of
from eventlens.result import Review
from eventlens.wiring import review_log

STEP_S: Final = 0.001
"""Log step of an example: fine enough that nothing is in doubt."""
ORIGIN: Final = datetime(2026, 3, 2, 6, 0, tzinfo=UTC)
MACHINE: Final = Machine.model_validate(
    {"machine": {"rated_load_kg": 3200, "group": "M5", "trolley_group": "M5", "bridge_group": "M5"}}
)
_UNITS: Final = {"ms": 0.001, "s": 1.0, "min": 60.0, "h": 3600.0, "d": 86400.0}
_SET: Final = {"+": 3600.0, "-": -3600.0}
_INNERMOST: Final = re.compile(r"\(([^()]*)\)\*(\d+)")


@dataclass(frozen=True)
class Example:
    """A drawn log."""

    character_s: float
    lanes: dict[str, str]
    """Signal -> its characters, repeats written out."""
    factors: dict[str, float]
    """Measured signal -> what a digit is multiplied with."""
    record: str
    """The line `log`; all `.` where there is none."""


def parse(text: str) -> Example:
    """An example from its text. ValueError for a line that is no lane, or lanes of unlike length."""
    head, *lines = (line.split() for line in text.strip().splitlines())
    lanes: dict[str, str] = {}
    factors: dict[str, float] = {}
    record = ""
    for label, *drawn in lines:
        line = _written_out("".join(drawn))
        name, _, factor = label.partition("*")
        if name == "log":
            record = line
        elif name in signals.ALL:
            lanes[name], factors[name] = line, float(factor or 1)
        else:
            raise ValueError(f"'{name}' is no signal")
    lengths = {len(line) for line in (*lanes.values(), *([record] if record else []))}
    if len(lengths) != 1:
        raise ValueError(f"wanted lanes of one length, got {sorted(lengths)}")
    return Example(float(head[0]) * _UNITS[head[1]], lanes, factors, record or "." * lengths.pop())


def review_example(name: str) -> Review:
    """The review of a pattern's example. ValueError where it has none."""
    text = patterns.catalogue()[name].example
    if not text:
        raise ValueError(f"{name} has no example")
    return review_log(log_of(parse(text)), MACHINE)


def log_of(example: Example) -> Log:
    """The example as a log that records changes, with a heartbeat of one character."""
    events = pl.DataFrame(
        [
            {"time": time, "signal": name, "value": value, "segment": segment}
            for time, segment, name, value in _records(example)
        ],
        schema={name: column.dtype for name, column in schema.EVENTS.columns.items() if name != "row"},
    ).with_columns(row=pl.int_range(2, pl.len() + 2, dtype=schema.ROW))
    stretches = _stretches(example)
    segments = pl.DataFrame(
        [
            {"segment": n, "start": _clock(example, a), "end": _clock(example, b), "rows": b - a + 1}
            for n, (a, b) in enumerate(stretches)
        ],
        schema=schema.SEGMENTS.schema,
    )
    borders = list(pairwise(stretches))
    holes = [(a[1], b[0]) for a, b in borders if example.record[b[0] - 1] == "?"]
    steps = [(a[1], b[0]) for a, b in borders if example.record[b[0]] in _SET]
    return Log(
        events=events.select(*schema.EVENTS.columns),
        segments=segments,
        holes=pl.DataFrame(
            [{"start": _clock(example, a), "end": _clock(example, b), "why": "silence", "rows": []} for a, b in holes],
            schema=schema.HOLES.schema,
        ),
        clock_steps=pl.DataFrame(
            [
                {"at": _clock(example, a), "seconds": _SET[example.record[b]], "rows": [], "why": "drawn"}
                for a, b in steps
            ],
            schema=schema.CLOCK_STEPS.schema,
        ),
        names=names_of(events),
        rejected=schema.REJECTED.empty(),
        files=(SourceFile("example", "0" * 64, events.height, events.height, 0, 0, events.height, 2, 2),),
        layout="changes",
        profile=None,
        timezone="UTC",
        step_s=STEP_S,
        rhythm_s=example.character_s,
        duplicates=0,
        reordered=0,
    ).check()


def _written_out(line: str) -> str:
    """The line with its repeats written out, the innermost first."""
    while (found := _INNERMOST.search(line)) is not None:
        line = line[: found.start()] + found[1] * int(found[2]) + line[found.end() :]
    if "(" in line or ")" in line:
        raise ValueError(f"'{line}': a repeat is written (...)*N")
    return line


def _stretches(example: Example) -> list[tuple[int, int]]:
    """First and last column of each stretch without hole or clock step."""
    cuts = [m.span() for m in re.finditer(r"[^?+-][^?+-]*|[+-][^?+-]*", example.record)]
    return [(a, b - 1) for a, b in cuts]


def _clock(example: Example, column: int) -> datetime:
    """What the clock shows at a column."""
    moved = sum(_SET.get(mark, 0.0) for mark in example.record[: column + 1])
    return ORIGIN + timedelta(seconds=column * example.character_s + moved)


def _records(example: Example) -> Iterator[tuple[datetime, int, str, float | None]]:
    """(time, segment, signal, value) of each change; every stretch begins with the state of each signal."""
    for segment, (first, last) in enumerate(_stretches(example)):
        for column in range(first, last + 1):
            for name, line in example.lanes.items():
                if column == first or line[column] != line[column - 1]:
                    yield _clock(example, column), segment, name, _value(line[column], example.factors[name])


def _value(mark: str, factor: float) -> float | None:
    return None if mark == "?" else {"#": 1.0, ".": 0.0}.get(mark) if mark in "#." else int(mark) * factor
