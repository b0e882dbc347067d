"""Contacts that chatter: bursts of quick openings while a button is held."""

from __future__ import annotations

import random
from functools import partial
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from eventlens.simulation.hoist import Crane

OPENINGS: Final = (4, 12)
"""Openings in a burst."""
PERIOD_S: Final = (0.06, 0.16)
"""From one opening to the next [s]."""


class Chatter:
    """Loose contacts of a machine: signal -> bursts per hour of pressing."""

    def __init__(self, crane: Crane, rates: dict[str, float], rng: random.Random) -> None:
        self._crane, self._rates, self._rng = crane, rates, rng
        self.loose: set[str] = set()
        """Commands whose button is held while their contact chatters."""
        self._presses: dict[str, int] = {}

    def pressed(self, command: str, on: bool) -> None:
        """A button of a direction is pressed or let go: bursts may come while it is held."""
        number = self._presses[command] = self._presses.get(command, 0) + 1
        motion, direction, _ = command.split(".")
        if not on:
            self._crane.drives[motion].chattering = None
            return
        for signal, rate in self._rates.items():
            own = signal.startswith(f"{motion}.{direction}.") or signal == f"{motion}.brake.released"
            if own and rate > 0.0:
                after = self._rng.expovariate(rate / 3600.0)
                self._crane.engine.after(after, partial(self._burst, signal, command, number))

    def _burst(self, signal: str, command: str, number: int) -> None:
        drive = self._crane.drives[signal.split(".")[0]]
        if self._presses[command] != number or drive.direction != command.split(".")[1]:
            return  # let go meanwhile, or not running
        if signal.endswith(".limit") and self._crane.state[signal.replace(".limit", ".slowdown")]:
            return  # the limit itself is near: what the switch says then is true
        openings, period = self._rng.randint(*OPENINGS), self._rng.uniform(*PERIOD_S)
        rest = self._crane.state[signal]
        drive.chattering = drive.direction
        if signal == command:
            self.loose.add(command)
        after = self._crane.engine.after
        for count in range(openings):
            after(count * period, lambda: self._toggle(signal, not rest, command, number))
            after((count + 0.5) * period, lambda: self._toggle(signal, rest, command, number, back=True))
        after(openings * period + 0.1, lambda: self._end(command, number))

    def _toggle(self, signal: str, on: bool, command: str, number: int, *, back: bool = False) -> None:
        held, drive = self._presses[command] == number, self._crane.drives[signal.split(".")[0]]
        if signal.endswith(".contactor"):
            drive.relay_ok[signal.split(".")[1]] = on or not held
            drive.feed()
        elif signal.endswith("brake.released"):
            if drive.brake.on:
                self._crane.set(signal, on)
        elif held or (back and signal != command):
            self._crane.set(signal, on)

    def _end(self, command: str, number: int) -> None:
        if self._presses[command] == number:
            self.loose.discard(command)
            self._crane.drives[command.split(".")[0]].chattering = None
