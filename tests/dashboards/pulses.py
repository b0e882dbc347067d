"""Three weeks of log with pulses planted in it, each as short as the log step, where they are easily lost."""

from __future__ import annotations

import random
from dataclasses import dataclass
from functools import cache
from typing import Final

from dashboards.data import Week
from eventlens.machine import Machine
from eventlens.wiring import review_log
from tests.logs import ORIGIN, Records, make_log, merged

LENGTH_S: Final = 21 * 86_400.0
STEP_S: Final = 0.001
HOLE: Final = (900_000.0, 903_600.0)
RESTS_ON: Final = {
    "hoist.raise.limit": False,
    "overload.trip": False,
    "hoist.brake.released": True,
    "supply.control": True,
}
"""Signals with pulses, and whether each is on but for them. Of two of them the pulse needs a person."""
AT_RANDOM: Final = 30
"""Pulses of each signal at random instants."""


@dataclass(frozen=True)
class Pulse:
    """One pulse; instants in microseconds since the log's beginning."""

    signal: str
    start: int
    end: int

    @property
    def on(self) -> bool:
        """Whether it is a time on; else it is a time off."""
        return not RESTS_ON[self.signal]


def places(seed: int) -> list[tuple[float, float]]:
    """Where the pulses of a signal lie [s]: at both ends of the log, at both borders of unknown time, two with one
    step between them, and at random."""
    step, (before, after) = STEP_S, HOLE
    pair = 700_000.0
    found = [(0.0, step), (LENGTH_S - step, LENGTH_S), (before - step, before), (after, after + step)]
    found += [(pair, pair + step), (pair + 2 * step, pair + 3 * step)]
    drawn = random.Random(seed)
    while len(found) < AT_RANDOM + 6:
        at = drawn.randrange(1, round(LENGTH_S / step) - 1) * step
        if not HOLE[0] - 1 < at < HOLE[1] + 1 and all(abs(at - other) > 1 for other, _ in found):
            found.append((at, at + step))
    return sorted(found)


def planted() -> list[Pulse]:
    """Every pulse."""
    return [
        Pulse(signal, round(1e6 * start), round(1e6 * end))
        for seed, signal in enumerate(RESTS_ON)
        for start, end in places(seed)
    ]


@cache
def week() -> Week:
    """The log, ready to be looked at: the pulses among ordinary runs, which fill three thousand intervals."""
    records: list[Records] = []
    for seed, (signal, rests_on) in enumerate(RESTS_ON.items()):
        rest, pulsed = float(rests_on), float(not rests_on)
        turns = dict.fromkeys((0.0, HOLE[1]), rest)  # after a hole every signal is recorded anew
        for start, end in places(seed):
            turns[start] = pulsed
            if end not in (LENGTH_S, HOLE[0]):  # there the record ends
                turns[end] = rest
        records.append([(at, signal, value) for at, value in sorted(turns.items())])
    runs = [
        (t + of, "hoist.raise.contactor", on) for t in range(1200, 1_800_000, 1200) for of, on in ((0, 1.0), (8, 0.0))
    ]
    quiet = [one for one in runs if not HOLE[0] - 10 < one[0] < HOLE[1]]
    log = make_log(merged(*records, quiet), step_s=STEP_S, end=LENGTH_S, holes=[HOLE], rhythm_s=60.0)
    return Week(review_log(log, Machine.model_validate({"machine": {"id": "SAW-3", "group": "M5"}})))


def axis_ms(micros: int) -> float:
    """A place of the log on the axis of the charts [ms]; its zone is UTC."""
    return ORIGIN.timestamp() * 1000 + micros / 1000
