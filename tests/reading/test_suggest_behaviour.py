"""Guards what behaviour alone says: the smallest machine that shows a role, and its neighbour that must not."""

from __future__ import annotations

import random
import re
from collections.abc import Sequence

import numpy as np
import pytest

from eventlens.reading.suggest.behaviour import observe
from eventlens.reading.suggest.bits import Track, bit_of
from eventlens.reading.suggest.combine import Proposal, combine
from eventlens.reading.suggest.edges import covered_until, exclusive, overlap_us, relation
from eventlens.reading.suggest.names import read_names
from eventlens.reading.suggest.tracks import EDGES, in_step

STEP_S = 0.01
END_S = 8000.0
Spans = list[tuple[float, float]]


def track(name: str, spans: Sequence[tuple[float, float]], *, invert: bool = False) -> Track:
    """A bit that is on during the spans [s], as the dump would hold it."""
    edges = [(0.0, 0.0), *((t, v) for a, b in spans for t, v in ((a, 1.0), (b, 0.0)))]
    time = np.array([round(t * 100) * 10_000 for t, _ in edges], np.int64)
    value = np.array([1.0 - v if invert else v for _, v in edges])
    return Track(name, time, value, np.zeros(len(time), np.int64))


def number(name: str, steps: Sequence[tuple[float, float]]) -> Track:
    time = np.array([round(t * 100) * 10_000 for t, _ in steps], np.int64)
    return Track(name, time, np.array([v for _, v in steps]), np.zeros(len(time), np.int64))


def look(*tracks: Track, step_s: float = STEP_S) -> dict[str, Proposal]:
    names = [one.name for one in tracks]
    behaviour = observe(tracks, {0: int(END_S * 1e6)}, step_s)
    return {one.name: one for one in combine(read_names(names), behaviour)}


@pytest.fixture
def machine() -> dict[str, Track]:
    """80 runs each way, of 3 to 9 s: command, contactor, brake, fast, and the load that hangs on while it is up."""
    rng, at = random.Random(3), 60.0
    up: Spans = []
    down: Spans = []
    load = [(0.0, 0.0)]
    for _ in range(80):
        for runs, weight in ((up, rng.uniform(300, 2500)), (down, 0.0)):
            length = rng.uniform(3.0, 9.0)
            runs.append((at, at + length))
            load.append((at + 1.0, round(weight)))
            at += length + rng.uniform(8.0, 60.0)
    both = sorted(up + down)

    def later(spans: Spans, rise: tuple[float, float], fall: tuple[float, float]) -> Spans:
        return [(a + rng.uniform(*rise), b + rng.uniform(*fall)) for a, b in spans]

    contactors = {"A": later(up, (0.02, 0.04), (0.01, 0.03)), "B": later(down, (0.02, 0.04), (0.01, 0.03))}
    runs = sorted(contactors["A"] + contactors["B"])
    parts = {
        "I0": track("I0", up),
        "I1": track("I1", down),
        "I2": track("I2", contactors["A"]),
        "I3": track("I3", contactors["B"]),
        "I4": track("I4", later(runs, (0.15, 0.2), (0.08, 0.11))),
        "I5": track("I5", [(a + rng.uniform(0.05, 0.3), b - rng.uniform(0.5, 1.0)) for a, b in both]),
        "I6": track("I6", [(a + 0.41, b - 0.48) for a, b in runs]),
        "N": number("N", load),
    }
    assert at < END_S
    return parts


def test_everything_is_found_where_the_load_tells_raise(machine: dict[str, Track]) -> None:
    found = look(*machine.values())
    assert {name: one.signal for name, one in found.items()} == {
        "I0": "hoist.raise.command",
        "I1": "hoist.lower.command",
        "I2": "hoist.raise.contactor",
        "I3": "hoist.lower.contactor",
        "I4": "hoist.brake.released",
        "I5": "hoist.fast.command",
        "I6": "hoist.fast.contactor",
        "N": "load.kg",
    }
    # 0.15 to 0.20 s, drawn evenly
    assert re.search(r"rises 0\.1[78] s \(median of 80\) after 'I2', likewise after 'I3'", found["I4"].reason)
    assert all(0.65 <= one.confidence <= 1 for one in found.values())
    assert not any(one.invert for one in found.values())


def test_the_order_of_the_names_does_not_matter(machine: dict[str, Track]) -> None:
    found = look(*machine.values())
    assert look(*reversed(machine.values())) == found


def test_raise_stays_open_without_load_and_is_never_guessed(machine: dict[str, Track]) -> None:
    found = look(*(one for name, one in machine.items() if name != "N"))
    assert {name for name, one in found.items() if one.signal} == {"I4", "I5", "I6"}
    assert found["I2"].candidates == ("hoist.lower.contactor", "hoist.raise.contactor")
    assert "which of 'I2' and 'I3' is raise" in found["I2"].reason


def test_a_load_that_falls_in_the_first_direction_turns_the_answer(machine: dict[str, Track]) -> None:
    load = machine["N"]
    turned = Track("N", load.time, load.value.max() - load.value, load.segment)
    found = look(*(one for name, one in machine.items() if name != "N"), turned)
    assert found["I2"].signal == "hoist.lower.contactor"
    assert found["I3"].signal == "hoist.raise.contactor"


def test_a_number_that_follows_nothing_tells_nothing(machine: dict[str, Track]) -> None:
    rng = random.Random(8)
    noise = number("N", [(at * 5.0, rng.uniform(0, 2000)) for at in range(1500)])
    found = look(*(one for name, one in machine.items() if name != "N"), noise)
    assert "N" not in found
    assert found["I2"].signal is None


def test_contacts_that_are_logged_the_other_way_round(machine: dict[str, Track]) -> None:
    brake = machine["I4"]
    machine["I4"] = Track("I4", brake.time, 1.0 - brake.value, brake.segment)
    found = look(*machine.values())
    assert (found["I4"].signal, found["I4"].invert) == ("hoist.brake.released", True)


def test_strangers_stay_unmapped(machine: dict[str, Track]) -> None:
    """A sign of life, random toggles, and a bit of the same kind as a run that keeps to nothing."""
    rng = random.Random(4)
    beat = track("H", [(at * 10.0, at * 10.0 + 5.0) for at in range(700)])
    toggles = sorted(rng.uniform(0, END_S) for _ in range(400))
    noise = track("T", list(zip(toggles[::2], toggles[1::2], strict=True)))
    other = track("O", [(at * 97.0 + 3.0, at * 97.0 + 9.0 + rng.random()) for at in range(80)])
    found = look(*machine.values(), beat, noise, other)
    assert not {"H", "T", "O"} & {name for name, one in found.items() if one.signal}
    assert found["I2"].signal == "hoist.raise.contactor"


def test_a_constant_bit_is_nothing(machine: dict[str, Track]) -> None:
    found = look(*machine.values(), track("C", []), track("D", [], invert=True))
    assert not {"C", "D"} & set(found)


def test_two_bits_that_never_overlap_are_not_yet_a_motion(machine: dict[str, Track]) -> None:
    found = look(machine["I2"], machine["I3"])
    assert not [one for one in found.values() if one.signal]


def test_commands_alone_are_told_from_outputs_by_the_hand_on_fast(machine: dict[str, Track]) -> None:
    commands = look(machine["I0"], machine["I1"], machine["I4"], machine["I5"], machine["N"])
    outputs = look(machine["I2"], machine["I3"], machine["I4"], machine["I6"], machine["N"])
    assert commands["I0"].signal == "hoist.raise.command"
    assert commands["I5"].signal == "hoist.fast.command"
    assert outputs["I2"].signal == "hoist.raise.contactor"
    assert outputs["I6"].signal == "hoist.fast.contactor"


def limited(machine: dict[str, Track], *, first: bool) -> tuple[Track, Track]:
    """A slow-down and a limit that end some raise runs, among the first after a rest or not at all then."""
    ups = machine["I2"].time[1::2] / 1e6, machine["I2"].time[2::2] / 1e6
    downs = machine["I3"].time[1::2] / 1e6
    chosen = [1, 30, 50] if first else [30, 50, 70]
    ends = [(ups[1][at] - 0.03, downs[at] + 0.4) for at in chosen]
    return track("L", ends, invert=True), track("S", [(a - 1.0, b + 0.8) for a, b in ends])


def test_limits_and_the_daily_test_tell_raise(machine: dict[str, Track]) -> None:
    limit, slow = limited(machine, first=True)
    found = look(*(one for name, one in machine.items() if name not in ("N", "I5", "I6")), limit, slow)
    assert (found["L"].signal, found["L"].invert) == ("hoist.raise.limit", True)
    assert (found["S"].signal, found["S"].invert) == ("hoist.raise.slowdown", False)
    assert found["I2"].signal == "hoist.raise.contactor"


def test_a_limit_that_is_not_tested_leaves_raise_open(machine: dict[str, Track]) -> None:
    """A lower limit would look the same."""
    limit, slow = limited(machine, first=False)
    found = look(*(one for name, one in machine.items() if name not in ("N", "I5", "I6")), limit, slow)
    assert found["L"].signal is None
    assert set(found["L"].candidates) == {"hoist.lower.limit", "hoist.raise.limit"}


def test_overload_ends_young_runs_of_one_direction_and_tells_raise(machine: dict[str, Track]) -> None:
    up = machine["I2"]
    value, time = up.value.copy(), up.time.copy()
    cut = [11, 41, 91]  # every second change is a start
    for at in cut:
        time[at + 1] = time[at] + 1_500_000
    short = Track("I2", time, value, up.segment)
    trips = track("T", [(time[at] / 1e6 + 1.47, time[at] / 1e6 + 4.0) for at in cut])
    found = look(short, *(machine[name] for name in ("I3", "I4")), trips)
    assert found["T"].signal == "overload.trip"
    assert found["I2"].candidates == ("hoist.raise.command", "hoist.raise.contactor")  # raise; the layer stays open


def test_relations_by_hand() -> None:
    a = bit_of(track("a", [(10, 20), (30, 40)]), {0: 100_000_000})
    b = bit_of(track("b", [(12, 21), (35, 38), (50, 51)]), {0: 100_000_000})
    r = relation(a, b)
    assert (round(r.into, 3), r.answered) == (0.667, 1.0)  # two of three starts, both runs
    assert r.rise.values.tolist() == [2.0, 5.0]
    assert r.fall.values.tolist() == [1.0, -2.0]
    assert overlap_us(a, b) == 11_000_000  # 8 s + 3 s
    assert not exclusive(a, b)
    slow = [sum(max(0, min(t, e) - s) for s, e in ((10, 20), (30, 40))) for t in range(0, 60, 7)]
    assert covered_until(a, np.arange(0, 60, 7) * 1_000_000).tolist() == [t * 1_000_000 for t in slow]


def test_a_long_log_is_looked_at_up_to_one_instant(machine: dict[str, Track]) -> None:
    """Tracks that were cut off earlier than others must not look as if their bit had come to rest."""
    count = EDGES // 160 + 20

    def repeated(one: Track, times: int) -> Track:
        time = np.concatenate([one.time + day * int(END_S * 1e6) for day in range(times)])[:EDGES]
        return Track(one.name, time, np.tile(one.value, times)[:EDGES], np.zeros(len(time), np.int64))

    long = [repeated(one, count) for one in machine.values()]
    assert {len(one.time) == EDGES for one in long} == {True}
    busy = track("H", [(at * 0.5, at * 0.5 + 0.2) for at in range(EDGES // 2)])
    tracks, end = in_step([*long, busy], {0: int(count * END_S * 1e6)})
    assert "H" not in {one.name for one in tracks}
    assert max(int(one.time[-1]) for one in tracks) <= end[0] < count * END_S * 1e6
    behaviour = observe(tracks, end, STEP_S)
    found = combine(read_names([one.name for one in tracks]), behaviour)
    assert {one.signal for one in found} == {one.signal for one in look(*machine.values()).values()}
