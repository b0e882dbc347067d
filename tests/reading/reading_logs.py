"""Parts that the reading tests share: write a dump, read it, and recount it the slow way."""

from __future__ import annotations

from pathlib import Path

from eventlens.reading import Log, Profile, read
from eventlens.reading.profile import LogKeys, Source, Word

RUN = "hoist.raise.contactor"
SIGNALS = {
    "RUN": Source(signal=RUN),
    "TRIP": Source(signal="overload.trip"),
    "FB": Source(signal="hoist.brake.released"),
    "SPD": Source(signal="hoist.speed_m_per_min"),
}


def profile(signals: dict[str, Source] | None = None, words: dict[str, Word] | None = None, **log: object) -> Profile:
    """A profile that maps RUN, TRIP, FB and SPD."""
    keys = LogKeys.model_validate(log)
    return Profile(keys, SIGNALS if signals is None else signals, words or {})


def write(folder: Path, content: str | bytes, name: str = "log.csv") -> Path:
    """The content as a file."""
    path = folder / name
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return path


def read_text(
    folder: Path,
    content: str | bytes,
    signals: dict[str, Source] | None = None,
    words: dict[str, Word] | None = None,
    **log: object,
) -> Log:
    """The log in a text; every account must balance."""
    found = read(write(folder, content), profile(signals, words, **log))
    balanced(found)
    return found


def balanced(log: Log) -> None:
    """rows = taken + rejected + blank for every file, and every rejected row is listed."""
    for file in log.files:
        assert file.rows == file.taken + file.rejected + file.blank, file
    assert sum(file.rejected for file in log.files) == log.rejected.height
    assert sum(file.events for file in log.files) >= log.events.height
    assert log.segments["rows"].sum() <= sum(file.rows for file in log.files)


def history(log: Log, signal: str = RUN) -> list[tuple[int, int, float | None]]:
    """Segment, microseconds and value of each event of a signal."""
    rows = log.events.rows(named=True)
    return [
        (row["segment"], round(row["time"].timestamp() * 1e6), row["value"]) for row in rows if row["signal"] == signal
    ]


def starts(log: Log, signal: str = RUN, before: float | None = 0.0) -> int:
    """OFF seen before ON. `before`: state taken for granted before the first record of each stretch."""
    count, state, stretch = 0, before, 0
    for segment, _, value in history(log, signal):
        if segment != stretch:
            state, stretch = before, segment
        count += state == 0.0 and value is not None and value != 0.0
        state = value
    return count


def on_seconds(log: Log, signal: str = RUN) -> float:
    """Proven ON time: a state holds until the next record of its signal, never over the end of a stretch."""
    ends = {row["segment"]: round(row["end"].timestamp() * 1e6) for row in log.segments.rows(named=True)}
    events = history(log, signal)
    total = 0
    for at, (segment, time, value) in enumerate(events):
        same = at + 1 < len(events) and events[at + 1][0] == segment
        end = events[at + 1][1] if same else ends[segment]
        total += end - time if value else 0
    return total / 1e6


def toml(folder: Path, text: str) -> Path:
    """A profile file."""
    return write(folder, text, "profile.toml")
