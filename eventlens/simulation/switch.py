"""The switch that confirms that the hoist's brake is released, with all that can be wrong with it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from eventlens.simulation.drive import Drive
    from eventlens.simulation.hoist import Crane

SIGNAL: Final = "hoist.brake.released"

BOUNCE_S: Final = 0.005
"""A contact that bounces opens, or closes, for so long; from memory, a few milliseconds."""


class ConfirmationSwitch:
    """Follows the brake of the hoist, more or less."""

    def __init__(self, crane: Crane, drive: Drive) -> None:
        self._crane, self._drive = crane, drive
        self._following = True
        self._stuck_for: float | None = None
        """How long it will stay on once the brake has been set [s]."""
        self._stuck = False

    def follow(self, released: bool) -> None:
        """The brake has been released, or set."""
        if released:
            self._released()
            return
        self._following = False
        if self._stuck_for is not None and self._crane.state[SIGNAL]:
            self._hold(self._stuck_for)
        self._show(False)
        self._bounce()

    def _released(self) -> None:
        crane, dice = self._crane, self._crane.dice
        self._following = not dice.confirm_missing()
        if not self._following:
            return
        self._show(True)
        crane.recorder.brake_confirmed("hoist")
        self._bounce()
        for gap in (dice.confirm_lost(), dice.brake.flicker(crane.build.control)):
            if gap is not None:
                self._flick(*gap)

    def _show(self, on: bool) -> None:
        if not self._stuck:
            self._crane.set(SIGNAL, on)

    def _flick(self, after: float, gap: float) -> None:
        """Some time after the release it opens for a while, if that run still goes on."""
        run, drive, engine = self._drive.runs, self._drive, self._crane.engine

        def change(on: bool) -> None:
            if drive.runs == run and drive.brake.on and self._following:
                self._show(on)

        engine.after(after, lambda: change(False))
        engine.after(after + gap, lambda: change(True))

    def _bounce(self) -> None:
        """The contact comes back once, unless the brake has moved on meanwhile."""
        if not self._crane.dice.brake.bounces():
            return
        released, engine = self._drive.brake.on, self._crane.engine

        def change(on: bool) -> None:
            if self._drive.brake.on == released and self._following == released:
                self._show(on)

        engine.after(BOUNCE_S, lambda: change(not released))
        engine.after(2 * BOUNCE_S, lambda: change(released))

    def stick(self, seconds: float, at_rest: bool) -> None:
        """From now on, if at rest, or from the next time the brake is set, it stays on for some seconds."""
        if at_rest and not self._drive.brake.on:
            self._hold(seconds)
        else:
            self._stuck_for = seconds

    def _hold(self, seconds: float) -> None:
        self._stuck_for = None
        if self._stuck:
            return
        self._crane.set(SIGNAL, True)
        self._stuck = True
        self._crane.engine.after(seconds, self._let_go)

    def _let_go(self) -> None:
        self._stuck = False
        self._show(self._drive.brake.on and self._following)
