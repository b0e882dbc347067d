"""Builds small logs by hand: times are seconds after six o'clock on an invented Monday."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

import polars as pl

from eventlens import schema, signals
from eventlens.reading.log import Log, SourceFile, names_of

Records = list[tuple[float, str, float | None]]

ORIGIN = datetime(2026, 3, 2, 6, 0, 0, tzinfo=UTC)


def at(seconds: float) -> datetime:
    """The instant of a second of the log."""
    return ORIGIN + timedelta(microseconds=round(seconds * 1e6))


def make_log(
    records: Sequence[tuple[float, str, float | None]],
    *,
    step_s: float = 0.01,
    end: float | None = None,
    holes: Sequence[tuple[float, float]] = (),
    carries: Sequence[str] = (),
    rhythm_s: float | None = None,
    begin: float = 0.0,
) -> Log:
    """A log of records (second, signal, value), in their order; it lasts from `begin` to `end` (else last record).

    `carries` names signals that are logged although they never change: off at the beginning. Rows count from 2.
    """
    first = [(begin, name, 0.0) for name in carries]
    rows = [*first, *records]
    last = end if end is not None else max((r[0] for r in rows), default=begin)
    borders = [begin, *(t for hole in holes for t in hole), last]
    spans = list(zip(borders[::2], borders[1::2], strict=True))
    segment_of = [sum(t >= hole[1] for hole in holes) for t, _, _ in rows]
    events = pl.DataFrame(
        {
            "time": [at(t) for t, _, _ in rows],
            "signal": [name for _, name, _ in rows],
            "value": [value for _, _, value in rows],
            "row": range(2, len(rows) + 2),
            "segment": segment_of,
        },
        schema=schema.EVENTS.schema,
    )
    return Log(
        events=events,
        segments=pl.DataFrame(
            {
                "segment": range(len(spans)),
                "start": [at(a) for a, _ in spans],
                "end": [at(b) for _, b in spans],
                "rows": [segment_of.count(n) for n in range(len(spans))],
            },
            schema=schema.SEGMENTS.schema,
        ),
        holes=pl.DataFrame(
            [{"start": at(a), "end": at(b), "why": "silence", "rows": [2, 3]} for a, b in holes],
            schema=schema.HOLES.schema,
        ),
        clock_steps=schema.CLOCK_STEPS.empty(),
        names=names_of(events),
        rejected=schema.REJECTED.empty(),
        files=(SourceFile("built.csv", "0" * 64, len(rows), len(rows), 0, 0, len(rows), 2, 2),),
        layout="changes",
        profile=None,
        timezone="UTC",
        step_s=step_s,
        rhythm_s=rhythm_s,
        duplicates=0,
        reordered=0,
    ).check()


def pulse(signal: str, *spans: tuple[float, float]) -> Records:
    """Records of a signal that is on in the spans; off at second 0."""
    records: Records = [(0.0, signal, 0.0)]
    for on, off in spans:
        records += [(on, signal, 1.0), (off, signal, 0.0)]
    return records


def merged(*parts: Sequence[tuple[float, str, float | None]]) -> Records:
    """The records of several signals in the order of time (ties in the order given)."""
    return sorted((record for part in parts for record in part), key=lambda record: record[0])


def run(
    start: float,
    end: float,
    direction: str = "raise",
    *,
    motion: str = "hoist",
    command: tuple[float, float] | None = None,
    brake: tuple[float, float] | None = None,
    fast: tuple[float, float] | None = None,
    fast_command: tuple[float, float] | None = None,
) -> Records:
    """Records of one ordinary run: command 0.05 s before the start, brake released 0.15 s after it."""
    command = command or (start - 0.05, end - 0.03)
    spans = {
        f"{motion}.{direction}.command": command,
        f"{motion}.{direction}.contactor": (start, end),
        f"{motion}.brake.released": brake or (start + 0.15, end + 0.1),
        f"{motion}.fast.contactor": fast,
        f"{motion}.fast.command": fast_command,
    }
    records: Records = []
    for signal, span in spans.items():
        if span and span[1] > span[0] and not (motion != "hoist" and "brake" in signal):
            records += [(span[0], signal, 1.0), (span[1], signal, 0.0)]
    return sorted(records, key=lambda record: record[0])


def off(*names: str) -> Records:
    """Records that say at second 0 that the signals are off."""
    assert set(names) <= set(signals.ALL)
    return [(0.0, name, 0.0) for name in names]


HOIST = (
    "hoist.raise.command",
    "hoist.lower.command",
    "hoist.fast.command",
    "hoist.raise.contactor",
    "hoist.lower.contactor",
    "hoist.fast.contactor",
    "hoist.brake.released",
    "hoist.raise.limit",
    "hoist.lower.limit",
    "hoist.motor.hot",
    "overload.trip",
    "stop.emergency",
)
"""What a well-logged hoist carries."""
