"""Faults: how often a part fails and how; the dice that say when. The rates are those of the hidden machine."""

from __future__ import annotations

import random
from dataclasses import dataclass, field

from eventlens.simulation.brake_faults import WORK_DAY_S, BrakeDice
from eventlens.simulation.contactor_faults import ContactorDice

Span = tuple[float, float]
"""Lowest and highest value of a number that is drawn evenly."""


@dataclass(frozen=True)
class Faults:
    """Rates of each fault; all nought: a machine in order. Shares are per try, 0 to 1."""

    loose_relay: dict[str, float] = field(default_factory=dict)
    """Direction ("hoist.raise") -> share of its runs that the jerk of the start shakes open."""
    loose_relay_per_h: float = 0.0
    """The same relays, while running on: openings per running hour (vibration)."""
    relay_gap_s: Span = (0.06, 0.6)
    """How long a shaken relay stays open."""
    dead_relay: dict[str, float] = field(default_factory=dict)
    """Direction -> share of its commands at which the relay does not make at all."""
    fast_dead: float = 0.0
    """Share of the changes to fast at which the fast contactor does not pull in."""
    confirm_missing: float = 0.0
    """Share of the runs in which the brake-release switch does not close."""
    brake_stuck: float = 0.0
    """Share of the runs in which the brake does not lift at all."""
    confirm_lost: float = 0.0
    """Share of the runs in which the switch opens again after the release."""
    confirm_gap_s: Span = (0.02, 0.5)
    """How long it then stays open; the controller bears with the short ones."""
    brake_late: float = 0.0
    """Share of the starts whose release is late: a weak coil, a worn gap."""
    brake_late_s: Span = (0.55, 1.2)
    """How long it takes then; where the controller waits less, the run is given up."""
    apply_late: float = 0.0
    """Share of the stops at which the brake is late to set."""
    apply_late_s: Span = (0.6, 1.5)
    """How long it takes then; the load drifts down meanwhile."""
    switch_stuck: float = 0.0
    """Times in eight hours of work that the confirmation stays on after a run, or comes on at rest."""
    switch_stuck_s: Span = (3.0, 1800.0)
    """How long it stays on."""
    confirm_flicker: float = 0.0
    """Share of the runs in which the confirmation opens in mid-run and the controller bears with it."""
    confirm_flicker_s: Span = (0.1, 0.6)
    """How long it is open; cut below the controller's `brake_loss_s`, which should be longer."""
    confirm_bounce: float = 0.0
    """Share of the releases and settings at which the switch bounces for 5 ms: harmless."""
    contactor_slow: float = 0.0
    """Share of the commands after which a direction's contactor closes late."""
    contactor_slow_s: Span = (0.4, 1.5)
    """How late; a controller that supervises feedback gives up sooner (`feedback_timeout_s`)."""
    welded: float = 0.0
    """Share of the stops after which a direction's contactor stays on though its output is off."""
    fast_welded: float = 0.0
    """Likewise of the ends of the hoist's fast output."""
    welded_s: Span = (1.5, 20.0)
    """How long it stays on."""
    interlock_lost: bool = False
    """Nothing keeps a direction from closing while the other one is still on, as a welded one is."""
    stray: float = 0.0
    """Times in eight hours of work that a contactor of a direction at rest closes without command."""
    stray_s: Span = (0.2, 3.0)
    """How long it stays closed."""
    lost: dict[str, Span] = field(default_factory=dict)
    """Direction or "hoist.fast" -> hours of the simulation between which its output never comes; `inf`: for good."""
    chatter: dict[str, float] = field(default_factory=dict)
    """Command, contactor or limit of a direction, or "hoist.brake.released" -> bursts per hour of pressing. A
    controller that supervises feedback ends the run at the first opening of a contactor."""
    device_fault_per_day: float = 0.0
    """Times in eight hours of work that the overload device reports a fault of its own; lifting is refused."""
    device_fault_s: Span = (10.0, 600.0)
    """How long it does."""
    limit_drive: float = 0.0
    """Share of the raises with a load that the operator drives into the upper limit."""
    timer_missing: float = 0.0
    """Share of the runs without any delay from slow to fast."""
    timer_short: float = 0.0
    """Share of the runs with a delay cut short."""
    timer_short_s: Span = (0.12, 0.24)
    """What is left of the delay then."""
    trip_level: float = 1.0
    """Overload device: its trip level as a share of the level it should have."""
    lining_wear_s: float = 0.0
    """Time that wear of the lining adds to the release [s]."""
    supply_dips_per_h: float = 0.0
    """Dips of the control supply per hour of work."""
    holes_per_day: float = 0.0
    """Times a day at which the logger is off."""
    hole_s: Span = (120.0, 5400.0)
    """How long it is off."""
    frozen: dict[str, float] = field(default_factory=dict)
    """Signal -> hour of the simulation from which the logger's input keeps its state, whatever the machine does."""


class Dice:
    """Says for each try whether a part fails. Draws only for faults that exist, so that a healthy part costs none."""

    def __init__(self, faults: Faults, rng: random.Random, seed: int = 0) -> None:
        self.faults, self._rng = faults, rng
        self.brake = BrakeDice(faults, random.Random(f"brake faults {seed}"))
        self._people = random.Random(f"people faults {seed}")
        self._device = random.Random(f"device faults {seed}")
        self.chatter_rng = random.Random(f"chatter {seed}")
        self.contactors = ContactorDice(faults, random.Random(f"contactor faults {seed}"))

    def _happens(self, share: float) -> bool:
        return share > 0.0 and self._rng.random() < share

    def relay_dead(self, direction: str) -> bool:
        """Does the relay of a direction fail to make at this command?"""
        return self._happens(self.faults.dead_relay.get(direction, 0.0))

    def relay_opens_after(self, direction: str) -> float | None:
        """Seconds after the contactor has closed at which its relay is shaken open, if at all."""
        share = self.faults.loose_relay.get(direction)
        if share is None:
            return None
        if self._happens(share):
            return 0.05 + self._rng.expovariate(1 / 0.35)  # the jerk of picking up comes within the first second
        if self.faults.loose_relay_per_h > 0.0:
            return self._rng.expovariate(self.faults.loose_relay_per_h / 3600.0)
        return None

    def relay_gap(self) -> float:
        """Seconds for which it stays open."""
        return self._rng.uniform(*self.faults.relay_gap_s)

    def fast_dead(self) -> bool:
        """Does the fast contactor fail to pull in at this change?"""
        return self._happens(self.faults.fast_dead)

    def confirm_missing(self) -> bool:
        """Does the brake-release switch fail to close in this run?"""
        return self._happens(self.faults.confirm_missing)

    def brake_stuck(self) -> bool:
        """Does the brake fail to lift in this run?"""
        return self._happens(self.faults.brake_stuck)

    def confirm_lost(self) -> tuple[float, float] | None:
        """Seconds after the release at which the switch opens again, and for how long; None: it stays closed."""
        if not self._happens(self.faults.confirm_lost):
            return None
        return self._rng.expovariate(1 / 1.5), self._rng.uniform(*self.faults.confirm_gap_s)

    def speed_change_s(self, setting: float) -> float | None:
        """Delay from slow to fast in this run [s]; None: there is no delay at all."""
        if self._happens(self.faults.timer_missing):
            return None
        if self._happens(self.faults.timer_short):
            return self._rng.uniform(*self.faults.timer_short_s)
        return setting

    def supply_dips(self, begin: float, end: float) -> list[tuple[float, float]]:
        """Dips between two instants [s]: (begin, length). A dip that drops contactors is longer than 50 ms."""
        if self.faults.supply_dips_per_h <= 0.0:
            return []
        dips, at = [], begin
        while (at := at + self._rng.expovariate(self.faults.supply_dips_per_h / 3600.0)) < end:
            dips.append((at, self._rng.uniform(0.08, 1.5)))
        return dips

    def limit_drive(self) -> bool:
        """Does the operator drive this load into the upper limit?"""
        return self.faults.limit_drive > 0.0 and self._people.random() < self.faults.limit_drive

    def device_faults(self, begin: float, end: float) -> list[tuple[float, float]]:
        """Faults of the overload device between two instants [s]: (begin, length), apart from each other."""
        rate, found, at = self.faults.device_fault_per_day / WORK_DAY_S, [], begin
        while rate > 0.0 and (at := at + self._device.expovariate(rate)) < end:
            found.append((at, self._device.uniform(*self.faults.device_fault_s)))
            at += found[-1][1]
        return found

    def holes(self, days: float) -> list[tuple[float, float]]:
        """Stretches in which the logger is off [s], apart from each other."""
        holes: list[tuple[float, float]] = []
        if self.faults.holes_per_day <= 0.0:
            return holes
        at, end = 0.0, days * 86400.0
        while (at := at + self._rng.expovariate(self.faults.holes_per_day / 86400.0)) < end - 7200.0:
            length = self._rng.uniform(*self.faults.hole_s)
            holes.append((at, at + length))
            at += length + 600.0
        return holes
