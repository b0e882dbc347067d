"""A machine with one fault in it: its wiring can open, its parts can be made to fail at chosen moments.

A `Trouble` is one fault as physics: it is told what happens on the machine and acts on wires, coils, relays, brake and
device; it never writes what a reader of the log would look for.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterable, Sequence
from functools import partial
from typing import Final

from eventlens.signals import MOTIONS
from eventlens.simulation.brake_faults import BrakeDice
from eventlens.simulation.contactor_faults import ContactorDice
from eventlens.simulation.faults import Dice, Faults
from eventlens.simulation.hoist import Build, Crane

DAY_S: Final = 86400.0
PLACE_EVERY_S: Final = 1.0
"""The controller notes a position so often while the motion runs [s]."""
WEIGH_EVERY_S: Final = 0.1
"""The load cell is read so often while the hoist moves a load [s]."""
PLACES: Final = {"hoist": "hoist.height_m", "trolley": "trolley.position_m", "bridge": "bridge.position_m"}


def opening(signal: str) -> bool:
    """The input is an opening contact: a broken wire makes it read as operated."""
    return signal.endswith((".limit", ".slowdown", ".hot")) or signal in (
        "overload.trip",
        "stop.emergency",
        "rope.slack",
        "supply.phase_fault",
    )


class Trouble:
    """One fault of one machine. What it does not override stays as in a machine in order."""

    crane: FaultyCrane
    rng: random.Random

    def install(self, crane: FaultyCrane, rng: random.Random) -> None:
        """Put it into a machine; rng is its own stream."""
        self.crane, self.rng = crane, rng
        self.begin()

    @property
    def day(self) -> float:
        """Days since the beginning."""
        return self.crane.engine.now / DAY_S

    def happens(self, share: float) -> bool:
        """Draws only where there is something to draw."""
        return share > 0.0 and self.rng.random() < share

    def begin(self) -> None:
        """The machine has been built."""

    def new_day(self, day: int) -> None:
        """A day begins."""

    def changed(self, signal: str, on: bool) -> None:
        """A contact has really changed, whatever its wire shows."""

    def pressed(self, signal: str, on: bool) -> None:
        """A button is pressed or let go."""

    def lets_go_late(self, signal: str) -> float:
        """Seconds for which a button stays pressed after it has been let go."""
        return 0.0

    def faults(self, day: int) -> Faults | None:
        """Rates of the ordinary faults on a day; None: as they are."""
        return None

    def relay_dead(self, direction: str) -> bool:
        """The relay of a direction does not make at this command."""
        return False

    def fast_dead(self) -> bool:
        """The fast contactor of the hoist does not pull in at this change."""
        return False

    def brake_sticks(self) -> bool:
        """The brake does not lift in this run."""
        return False

    def release_factor(self) -> float:
        """By how much the release of this run is longer than usual."""
        return 1.0

    def apply_factor(self) -> float:
        """By how much the setting of the brake is longer than usual."""
        return 1.0

    def closes_late(self, output: str) -> float:
        """Seconds by which a contactor closes late."""
        return 0.0

    def stays_closed(self, motion: str, output: str) -> float | None:
        """Seconds for which a contactor stays closed after it was switched off; None: it opens."""
        return None

    def weighs(self, kg: float) -> float:
        """What the load cell says of a load [kg]."""
        return kg

    def device_dead(self) -> bool:
        """The overload device does not act."""
        return False


class _BrakeDice(BrakeDice):
    def __init__(self, faults: Faults, rng: random.Random, troubles: Sequence[Trouble]) -> None:
        super().__init__(faults, rng)
        self._troubles = troubles

    def use(self, faults: Faults) -> None:
        self._faults = faults

    def _changed(self, usual: float, factors: Iterable[float]) -> float | None:
        whole = 1.0
        for factor in factors:
            whole *= factor
        if whole == 1.0:
            return None
        return max(self._rng.gauss(usual * whole, 0.06 * usual * whole), 0.01)

    def release_late(self) -> float | None:
        if not self._troubles:
            return super().release_late()
        crane = self._troubles[0].crane
        usual = crane.build.hoist.release_s + crane.brake_extra_s()
        return self._changed(usual, (one.release_factor() for one in self._troubles)) or super().release_late()

    def apply_late(self) -> float | None:
        if not self._troubles:
            return super().apply_late()
        usual = self._troubles[0].crane.build.hoist.apply_s
        return self._changed(usual, (one.apply_factor() for one in self._troubles)) or super().apply_late()


class _ContactorDice(ContactorDice):
    def __init__(self, faults: Faults, rng: random.Random, troubles: Sequence[Trouble]) -> None:
        super().__init__(faults, rng)
        self._troubles = troubles

    def use(self, faults: Faults) -> None:
        self._faults = faults

    def extra_close(self, output: str) -> float:
        return super().extra_close(output) + sum(one.closes_late(output) for one in self._troubles)

    def welded(self, motion: str, output: str) -> float | None:
        for one in self._troubles:
            if (seconds := one.stays_closed(motion, output)) is not None:
                return seconds
        return super().welded(motion, output)


class FaultyDice(Dice):
    """The dice of a machine with troubles; its rates may change from day to day."""

    def __init__(self, faults: Faults, seed: int, troubles: Sequence[Trouble]) -> None:
        super().__init__(faults, random.Random(f"faults {seed}"), seed)
        self.troubles = tuple(troubles)
        self._brake = _BrakeDice(faults, random.Random(f"brake faults {seed}"), self.troubles)
        self._contactors = _ContactorDice(faults, random.Random(f"contactor faults {seed}"), self.troubles)
        self.brake, self.contactors = self._brake, self._contactors

    def use(self, faults: Faults) -> None:
        """From now on these rates hold."""
        self.faults = faults
        self._brake.use(faults)
        self._contactors.use(faults)

    def relay_dead(self, direction: str) -> bool:
        return any(one.relay_dead(direction) for one in self.troubles) or super().relay_dead(direction)

    def fast_dead(self) -> bool:
        return any(one.fast_dead() for one in self.troubles) or super().fast_dead()

    def brake_stuck(self) -> bool:
        return any(one.brake_sticks() for one in self.troubles) or super().brake_stuck()


class FaultyCrane(Crane):
    """A crane whose inputs hang on wires that can open, with positions measured."""

    def __init__(self, build: Build, dice: FaultyDice, rng: random.Random, days: int, seed: int) -> None:
        self.true: dict[str, bool] = {}
        """What each contact really does."""
        self.held: dict[str, bool] = {}
        """Buttons that are held."""
        self._open: Counter[str] = Counter()
        self._unfed = 0
        self._clock: list[Trouble] = []
        super().__init__(build, dice, rng)
        self._sampling = dict.fromkeys(MOTIONS, False)
        self._dice = dice
        for number, trouble in enumerate(dice.troubles):
            trouble.install(self, random.Random(f"trouble {number} {seed}"))
        self._clock = list(dice.troubles)
        for day in range(days):
            self.engine.at(day * DAY_S, partial(self._new_day, day))

    def _new_day(self, day: int) -> None:
        for trouble in self._clock:
            faults = trouble.faults(day)
            if faults is not None:
                self._dice.use(faults)
            trouble.new_day(day)

    def _lay_signals(self) -> None:
        super()._lay_signals()
        for signal in ("rope.slack", "supply.phase_fault"):
            self.state[signal] = False
            self.tracks[signal] = [(0.0, 0.0)]
        for name in PLACES.values():
            self.tracks[name] = [(0.0, 0.0)]
        self.true = dict(self.state)

    # Inputs and their wires

    def set(self, signal: str, on: bool) -> None:
        """A contact changes; its input follows if the wire is whole."""
        really = self.true[signal] != on
        self.true[signal] = on
        super().set(signal, opening(signal) if self._open[signal] else on)
        if really:
            for trouble in self._clock:
                trouble.changed(signal, on)

    def press(self, signal: str, on: bool) -> None:
        """A button, the stop or the supply changes, perhaps late."""
        self.held[signal] = on
        late = 0.0 if on else sum(trouble.lets_go_late(signal) for trouble in self._clock)
        if late > 0.0:
            self.engine.after(late, lambda: None if self.held[signal] else self._press(signal, False))
            return
        self._press(signal, on)

    def _press(self, signal: str, on: bool) -> None:
        if self.true[signal] != self.state[signal]:
            self._chatter.loose.add(signal)  # held while its wire is open: letting go counts all the same
        super().press(signal, on)
        for trouble in self._clock:
            trouble.pressed(signal, on)

    def open_wire(self, signals: Iterable[str], seconds: float) -> None:
        """The wire of some inputs is open for a while."""
        names = tuple(signals)
        for signal in names:
            self._open[signal] += 1
        self._show(names)
        self.engine.after(seconds, partial(self._close_wire, names))

    def _close_wire(self, names: tuple[str, ...]) -> None:
        for signal in names:
            self._open[signal] -= 1
        self._show(names)

    def _show(self, names: tuple[str, ...]) -> None:
        for signal in names:
            super().set(signal, opening(signal) if self._open[signal] else self.true[signal])
        if "stop.emergency" in names:
            self.feed()

    # Coils

    @property
    def fed(self) -> bool:
        """Coils are fed."""
        return super().fed and not self._unfed

    def feed(self) -> None:
        """Every coil follows what feeds it."""
        for drive in self.drives.values():
            drive.feed()

    def unfeed(self, seconds: float) -> None:
        """No coil is fed for a while."""
        self._unfed += 1
        self.feed()
        self.engine.after(seconds, self._refeed)

    def _refeed(self) -> None:
        self._unfed -= 1
        self.feed()

    def open_relay(self, motion: str, output: str, seconds: float) -> None:
        """The relay of an output opens for a while."""
        drive = self.drives[motion]
        drive.relay_ok[output] = False
        drive.feed()

        def back() -> None:
            drive.relay_ok[output] = True
            drive.feed()

        self.engine.after(seconds, back)

    def blackout(self, seconds: float, *, control: bool = True) -> None:
        """Control supply goes for a while: inputs read nothing, coils are not fed; the phase relay bears with it."""
        names = [signal for signal in self.state if not signal.startswith("supply.") and signal != "overload.fault"]
        self.open_wire(names, seconds)
        self.unfeed(seconds)
        if control:
            self.set("supply.control", False)
            self.engine.after(seconds, lambda: self.set("supply.control", True))

    # Load and places

    def _tripped(self, on: bool) -> None:
        if not any(trouble.device_dead() for trouble in self._clock):
            super()._tripped(on)

    def _weighed(self) -> None:
        track, load = self.tracks["load.kg"], self.hook.tension
        for trouble in self._clock:
            load = trouble.weighs(load)
        load = round(load / 5.0) * 5.0
        if abs(load - track[-1][1]) > 0.01 * self.build.rated_kg:
            track.append((self.engine.now, load))

    def weigh(self) -> None:
        """The load cell looks again."""
        self._weighed()

    def heat(self, motion: str, running: bool) -> None:
        """A motor starts or stops; its position is noted while it runs."""
        super().heat(motion, running)
        if running and not self._sampling[motion]:
            self._sampling[motion] = True
            self._note_place(motion)
        if running and motion == "hoist" and self.hook.mass > 0.0:
            self._note_load(self.drives["hoist"].runs)

    def _note_load(self, run: int) -> None:
        drive = self.drives["hoist"]
        self._weighed()
        if drive.direction is not None and drive.runs == run and self.hook.mass > 0.0:
            self.engine.after(WEIGH_EVERY_S, partial(self._note_load, run))

    def _note_place(self, motion: str) -> None:
        drive, track = self.drives[motion], self.tracks[PLACES[motion]]
        place, speed = drive.axis.state()
        if abs(place - track[-1][1]) >= 0.02:
            track.append((self.engine.now, round(place, 2)))
        if drive.direction is None and speed == 0.0:
            self._sampling[motion] = False
        else:
            self.engine.after(PLACE_EVERY_S, partial(self._note_place, motion))
