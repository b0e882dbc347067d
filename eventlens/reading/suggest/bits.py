"""A name of the dump as a track in time, and as stretches of on."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

Longs = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Track:
    """One name with its changes. Times are microseconds on an axis that never goes back (clock steps taken out)."""

    name: str
    """As the log's names table shows it: column, tag, or word.bit."""
    time: Longs
    """Of each change, and of the first record of each stretch."""
    value: Floats
    """NaN: unknown."""
    segment: Longs
    word: str | None = None
    bit: int | None = None

    @property
    def is_state(self) -> bool:
        """Whether it only ever is 0 or 1."""
        known = self.value[~np.isnan(self.value)]
        return len(known) > 0 and bool(np.isin(known, (0.0, 1.0)).all())


@dataclass(frozen=True)
class Bit:
    """A name that is on or off: its stretches of on (sorted, apart from each other)."""

    name: str
    start: Longs
    end: Longs
    start_seen: npt.NDArray[np.bool_]
    end_seen: npt.NDArray[np.bool_]
    known_us: int
    """Time for which its state is known."""
    inverted: bool = False
    """On here is 0 in the dump."""

    @property
    def count(self) -> int:
        return len(self.start)

    @property
    def on_us(self) -> int:
        return int((self.end - self.start).sum())

    @property
    def share(self) -> float:
        """Share of the known time in which it is on."""
        return self.on_us / self.known_us if self.known_us else 0.0


def bit_of(track: Track, end: dict[int, int]) -> Bit:
    """The stretches of on of a state. end: last instant of each segment."""
    if not len(track.time):
        none = np.array([], np.int64)
        return Bit(track.name, none, none, none.astype(bool), none.astype(bool), 0)
    after = np.append(track.time[1:], 0)
    same = np.append(track.segment[1:] == track.segment[:-1], False)
    until = np.where(same, after, np.array([end[int(s)] for s in track.segment]))
    before = np.append(False, same[:-1])
    previous, following = np.append(np.nan, track.value[:-1]), np.append(track.value[1:], np.nan)
    on = track.value == 1.0
    known = ~np.isnan(track.value)
    return Bit(
        track.name,
        track.time[on],
        until[on],
        (before & (previous == 0.0))[on],
        (same & (following == 0.0))[on],
        int((until - track.time)[known].sum()),
    )


def turned(bit: Bit, track: Track, end: dict[int, int]) -> Bit:
    """The same name with on and off exchanged."""
    other = bit_of(replace(track, value=1.0 - track.value), end)
    return replace(other, inverted=not bit.inverted)
