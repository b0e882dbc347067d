"""A scenario (what machine, which people, which faults) and its simulation: log, truth, machine file."""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from functools import partial
from types import MappingProxyType
from typing import Final
from zoneinfo import ZoneInfo

import polars as pl

from eventlens.machine import Machine, Plate
from eventlens.signals import MOTIONS
from eventlens.simulation import ideal, windows
from eventlens.simulation import truth as truths
from eventlens.simulation.faults import Dice, Faults
from eventlens.simulation.hoist import Build, Crane
from eventlens.simulation.logger import Recording, Tracks, record
from eventlens.simulation.operator import Operator
from eventlens.simulation.traits import ORDINARY, ControlTraits, Habits, HoistTraits, Ranges, TravelTraits, draw

DAY_S: Final = 86400.0


def signals_of(motions: Sequence[str] = tuple(MOTIONS), *, load: bool = False) -> tuple[str, ...]:
    """Signals that a logger of these motions usually carries, in its order."""
    carried: list[str] = []
    for motion in motions:
        carried += [f"{motion}.{direction}.command" for direction in MOTIONS[motion]] + [f"{motion}.fast.command"]
    for motion in motions:
        carried += [f"{motion}.{direction}.contactor" for direction in MOTIONS[motion]] + [f"{motion}.fast.contactor"]
        if motion == "hoist":
            carried += ["hoist.brake.released", "hoist.motor.hot"]
        for direction in MOTIONS[motion]:
            carried += [f"{motion}.{direction}.slowdown", f"{motion}.{direction}.limit"]
    carried += ["overload.trip", "stop.emergency", "supply.control"]
    return (*carried, "load.kg") if load else tuple(carried)


@dataclass(frozen=True)
class Scenario:
    """What is simulated. Traits that are not set here are drawn from the ranges with the machine's seed."""

    id: str = "HOIST-1"
    rated_kg: float = 3200.0
    group: str = "M5"
    ranges: Ranges = field(default_factory=lambda: ORDINARY)
    hoist: Mapping[str, float] = field(default_factory=dict)
    control: Mapping[str, float] = field(default_factory=dict)
    habits: Mapping[str, float] = field(default_factory=dict)
    second_crew: Mapping[str, float] | None = None
    """Habits of the people on every shift but the first; None: the same people."""
    faults: Faults = field(default_factory=Faults)
    shifts: tuple[tuple[float, float], ...] = ((6.0, 14.0),)
    """Begin and end of each shift, hours of the local day."""
    workdays: tuple[int, ...] = (0, 1, 2, 3, 4)
    """Days of the week with work, Monday is 0."""
    start: date = date(2026, 3, 2)
    timezone: str = "Europe/Lisbon"
    signals: tuple[str, ...] = field(default_factory=signals_of)
    """Signals that the logger carries."""
    limits: Mapping[str, float] = field(default_factory=dict)
    """Limits of the machine file, as a motor's short-time rating."""
    cell_share: float | None = None
    """Steps of the load cell while a rope goes taut (hoist.Build)."""
    visits: tuple[tuple[float, float], ...] = ()
    """Hours of the simulation (begin, end): the second crew works the shifts that begin in them, and no other."""
    heartbeat_s: float = 10.0
    identity: int | None = None
    """Seed of the machine's own traits; None: that of the simulation."""


@dataclass(frozen=True)
class Simulated:
    """A simulated stretch of a machine's life."""

    scenario: Scenario
    seed: int
    start: datetime
    """Beginning, UTC."""
    length_s: float
    tracks: Tracks
    """Every change of every signal with its exact time [s from start]: the hidden machine."""
    off: tuple[tuple[float, float], ...]
    """Stretches [s from start] in which the logger was off."""
    runs: Mapping[str, Sequence[tuple[str, float, float, str]]]
    """Motion -> its runs: direction, start, end [s], reason of the end; hidden as well."""
    spans: tuple[truths.Span, ...]
    """Everything that happened, whether or not the logger was on."""
    recording: Recording
    truth: pl.DataFrame
    """pattern, motion, start, end: what happened while the logger was on, on the machine's exact time."""
    build: Build

    @property
    def events(self) -> pl.DataFrame:
        """The log as schema.EVENTS."""
        return self.recording.events

    @property
    def machine(self) -> Machine:
        """The machine file that belongs to it."""
        return Machine(
            machine=Plate(id=self.scenario.id, rated_load_kg=self.scenario.rated_kg, group=self.scenario.group),
            limits=dict(self.scenario.limits),
        )

    def at_step(self, step_s: float) -> Simulated:
        """The same machine and the same days, logged at another step [s]."""
        return _logged(self, step_s)


def simulate(
    scenario: Scenario,
    *,
    seed: int,
    days: int = 1,
    step_s: float = 0.01,
    machine: Callable[[Build, Dice, random.Random], Crane] = Crane,
    people: type[Operator] = Operator,
) -> Simulated:
    """Let a machine work for some days from the scenario's first local midnight, logged at a step [s].

    machine, people: what is built and who works on it, for machines and people of a special kind.

    The same scenario and seed give the same log. What can be drawn is drawn from independent streams for traits,
    people, parts and faults, so that a fault does not change what the machine is.
    """
    zone = ZoneInfo(scenario.timezone)
    midnights = [
        datetime.combine(scenario.start + timedelta(days=day), datetime.min.time(), zone).astimezone(UTC)
        for day in range(days + 1)
    ]
    start = midnights[0]
    length_s = (midnights[-1] - start).total_seconds()
    identity = seed if scenario.identity is None else scenario.identity
    build = _build(scenario, random.Random(f"traits {identity}"))
    dice = Dice(scenario.faults, random.Random(f"faults {seed}"), seed)
    crane = machine(build, dice, random.Random(f"parts {seed}"))
    crews = _crews(scenario, identity, people, crane, random.Random(f"people {seed}"))
    off = tuple(dice.holes(length_s / DAY_S))
    begins = _worked(scenario, crane, crews, [(midnight - start).total_seconds() for midnight in midnights[:-1]])
    crane.engine.advance(length_s)
    crane.recorder.finish()
    noted = crane.recorder.spans
    bare = Simulated(
        scenario=scenario,
        seed=seed,
        start=start,
        length_s=length_s,
        tracks=MappingProxyType(crane.tracks),
        off=off,
        runs={motion: tuple(crane.recorder.runs(motion)) for motion in MOTIONS},
        spans=(*noted, *ideal.spans(crane.tracks, noted, begins, scenario.rated_kg, scenario.limits)),
        recording=Recording(pl.DataFrame(), step_s, scenario.heartbeat_s, scenario.signals),
        truth=pl.DataFrame(),
        build=build,
    )
    return _logged(bare, step_s)


def _worked(
    scenario: Scenario, crane: Crane, crews: tuple[Operator, Operator], midnights: Sequence[float]
) -> list[float]:
    """Lets the crews work all shifts of the days that begin at these midnights [s]; the beginnings of the shifts."""
    begins: list[float] = []
    for day, base in enumerate(midnights):
        if (scenario.start + timedelta(days=day)).weekday() in scenario.workdays:
            for number, (begin, end) in enumerate(scenario.shifts):
                begins.append(base + begin * 3600.0)
                crew = crews[_crew_of(scenario, number, begins[-1] / 3600.0)]
                _work(crane, crew, base + begin * 3600.0, base + end * 3600.0)
    return begins


def _build(scenario: Scenario, rng: random.Random) -> Build:
    ranges = scenario.ranges
    control = draw(ControlTraits, ranges["control"], scenario.control, rng)
    return Build(
        rated_kg=scenario.rated_kg,
        hoist=draw(HoistTraits, ranges["hoist"], scenario.hoist, rng),
        control=control,
        supervised=rng.random() < control.supervised_share,
        cell_share=scenario.cell_share,
        travels={motion: draw(TravelTraits, ranges["travel"], {}, rng) for motion in MOTIONS if motion != "hoist"},
    )


def _crews(
    scenario: Scenario, identity: int, people: type[Operator], crane: Crane, rng: random.Random
) -> tuple[Operator, Operator]:
    """The people of the first shift and of the others."""
    own = (scenario.habits, scenario.habits if scenario.second_crew is None else scenario.second_crew)
    first, others = (
        people(crane, draw(Habits, scenario.ranges["habits"], habits, random.Random(f"habits {identity}")), rng)
        for habits in own
    )
    return first, others


def _crew_of(scenario: Scenario, number: int, begin_h: float) -> int:
    """Which of the two crews works a shift: number of the shift in its day, hour of the simulation it begins."""
    if scenario.visits:
        return int(any(begin <= begin_h < end for begin, end in scenario.visits))
    return min(number, 1)


def _work(crane: Crane, operator: Operator, begin: float, end: float) -> None:
    """One shift: begins where the last one left off, if that ran late; a long break and a short one."""
    engine, dice = crane.engine, crane.dice
    engine.advance(begin)
    for at, length in dice.supply_dips(engine.now, end):
        engine.at(at, lambda: crane.press("supply.control", False))
        engine.at(at + length, lambda: crane.press("supply.control", True))
    for at, length, at_rest in dice.brake.stuck(engine.now, end):
        engine.at(at, partial(crane.drives["hoist"].confirmation.stick, length, at_rest))
    for at, length, motion, direction in dice.contactors.strays(engine.now, end, list(crane.drives)):
        engine.at(at, partial(crane.drives[motion].stray, direction, length))
    for at, length in dice.device_faults(engine.now, end):
        engine.at(at, partial(crane.set, "overload.fault", True))
        engine.at(at + length, partial(crane.set, "overload.fault", False))
    third = (end - begin) / 3.0
    breaks = ((begin + third, begin + third + 900.0), (begin + 2 * third, begin + 2 * third + 1800.0))
    operator.shift(end, breaks)


def _logged(simulated: Simulated, step_s: float) -> Simulated:
    scenario = simulated.scenario
    recording = record(
        simulated.tracks,
        scenario.signals,
        simulated.start,
        simulated.length_s,
        step_s=step_s,
        heartbeat_s=scenario.heartbeat_s,
        off=simulated.off,
        frozen={signal: hour * 3600.0 for signal, hour in scenario.faults.frozen.items()},
    )
    return replace(simulated, recording=recording, truth=_truth(simulated, recording))


def _truth(simulated: Simulated, recording: Recording) -> pl.DataFrame:
    """What the log can show: spans within its stretches, duty over the time it saw, and its holes."""
    start = simulated.start
    stretches = [
        ((first - start).total_seconds(), (last - start).total_seconds())
        for first, last in recording.segments.select("start", "end").iter_rows()
    ]
    spans = [s for s in simulated.spans if any(a <= s.start and s.end <= b for a, b in stretches)]
    runs = simulated.runs["hoist"]
    starts = [run[1] for run in runs if any(a <= run[1] <= b for a, b in stretches)]
    seen = [(max(run[1], a), min(run[2], b)) for run in runs for a, b in stretches if run[1] < b and run[2] > a]
    group = simulated.scenario.group
    if group in windows.STARTS_PER_HOUR:
        for window in windows.of_starts(starts, windows.STARTS_PER_HOUR[group]):
            spans.append(truths.Span("starts_per_hour_high", "hoist", *window))
        for window in windows.of_running(seen, windows.CYCLIC_SHARE[group]):
            spans.append(truths.Span("cyclic_duration_high", "hoist", *window))
    spans += ideal.recorded(
        simulated.tracks,
        simulated.scenario.signals,
        stretches,
        simulated.scenario.faults.frozen,
        simulated.scenario.limits,
    )
    for gone, back in recording.holes:
        spans.append(truths.Span("log_hole", None, (gone - start).total_seconds(), (back - start).total_seconds()))
    return truths.as_frame(spans, start)
