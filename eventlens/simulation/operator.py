"""The operator: work cycles, and habits good and bad."""

from __future__ import annotations

from eventlens.simulation.pendant import GIVE_UP, Pendant


class Operator(Pendant):
    """One person at work. Every method lets time pass on the machine's engine."""

    def shift(self, until: float, breaks: tuple[tuple[float, float], ...]) -> None:
        """Work until an instant [s] with breaks (begin, end) between."""
        if self._chance(self._habits.daily_test):
            self.test_upper_limit()
        for begin, end in (*breaks, (until, until)):
            while self._engine.now < begin:
                due = self._engine.now + 3600.0 / self._habits.cycles_per_h * self._rng.uniform(0.5, 1.5)
                self.cycle()
                self._engine.advance(max(due, self._engine.now + self._about(20.0)))
            self._engine.advance(max(end, self._engine.now))

    def test_upper_limit(self) -> None:
        """The daily test: the empty hook slowly into the upper limit."""
        self.go("hoist", self._hoist.way_m - 0.5)
        self._wait(3.0)
        self.hold("hoist", "raise", seconds=60.0)
        self._wait(3.0)
        self.go("hoist", self._travel_height)

    def cycle(self) -> None:
        """Fetch a load, take it elsewhere, come back with the empty hook."""
        rng, habits = self._rng, self._habits
        if self._chance(habits.emergency_stop):
            self._plan_emergency_stop()
        self._travel()
        support = rng.uniform(0.12, 0.4) * self._hoist.way_m
        self.go("hoist", support - rng.uniform(0.02, 0.12), tolerance=0.05)
        self._wait(30.0)
        support = max(support, self._hoist.axis.position + 0.01)
        self._crane.hook.attach(self._load(), support)
        if self._lift(support):
            self._travel()
            self._land(rng.uniform(0.12, 0.45) * self._hoist.way_m)
        self._wait(20.0)
        self._crane.hook.detach()
        if self._chance(habits.park_at_limit):
            self.hold("hoist", "raise", seconds=120.0, fast=True)
        else:
            self.go("hoist", self._travel_height * rng.uniform(0.85, 1.15), tolerance=0.3)

    def _load(self) -> float:
        """Mass of the next load [kg]."""
        rated, device = self._crane.build.rated_kg, self._crane.overload.settings
        habits, dice = self._habits, self._rng.random()
        if dice < habits.too_heavy:
            return device.trip_kg * self._rng.uniform(1.04, 1.35)
        if dice < habits.too_heavy + habits.near_rated:
            return rated * self._rng.uniform(0.88, 1.0)
        if dice < habits.too_heavy + habits.near_rated + habits.overloaded:
            return rated * self._rng.uniform(1.1, 1.6)
        return rated * min(max(self._rng.gauss(habits.load_mean, 0.15), 0.05), 0.9)

    def _lift(self, support: float) -> bool:
        """Take up the slack, lift; says whether the load is up."""
        height = max(self._travel_height * self._rng.uniform(0.8, 1.1), support + 0.5)
        if self._chance(self._habits.snatch):
            # slack just enough to let the fast step come in before the rope goes taut
            slack = self._hoist.speeds.fast * self._rng.uniform(0.02, 0.25)
            self.go("hoist", support - slack, tolerance=0.02)
            self._wait(1.5)
            outcome = self.hold("hoist", "raise", to=support + 0.5, fast=True)
        else:
            outcome = self._lift_gently(support)
        if outcome == "overload":
            return self._overloaded(support)
        self._wait(1.5)
        if self._crane.dice.limit_drive():
            self.hold("hoist", "raise", seconds=120.0, fast=True)
            self._wait(2.0)
        return self._raise_to(height, support)

    def _lift_gently(self, support: float) -> str:
        """Slowly off the ground: in one go, or with a stop when the rope is taut."""
        taut = self._crane.hook.height_of(self._crane.hook.mass * self._rng.uniform(0.0, 0.2))
        outcome = "done"
        for target in (taut, support + 0.25) if self._chance(0.5) else (support + 0.25,):
            for _ in range(GIVE_UP):
                outcome = self.hold("hoist", "raise", to=target)
                if outcome in ("done", "overload", "limit"):
                    break
                self._bear(outcome)
            if outcome == "overload":
                return outcome
            self._wait(2.0)
        return outcome

    def _raise_to(self, height: float, support: float) -> bool:
        for _ in range(3):
            if self.go("hoist", height, tolerance=0.2):
                break
            if self._crane.state["overload.trip"]:
                return self._overloaded(support)
        return self._crane.hook.lifted

    def _overloaded(self, support: float) -> bool:
        """After a trip: some try again at once; in the end the load goes down and is left or made lighter."""
        if self._chance(self._habits.repeat):
            for _ in range(self._rng.randint(1, 3)):
                self._wait(self._habits.retry_s, 0.5)
                self.hold("hoist", "raise", seconds=self._about(1.5))
        self._wait(1.2)
        self.go("hoist", support - 0.05, tolerance=0.03, fast=False)
        if self._crane.hook.mass > self._crane.build.rated_kg or self._chance(0.5):
            return False
        self._wait(25.0)
        return self._lift_gently(self._crane.hook.support) == "done"

    def _travel(self) -> None:
        """Trolley and bridge to some other place; the load hangs over another support then."""
        for motion in ("trolley", "bridge"):
            if motion in self._crane.drives and self._chance(self._habits.travel):
                drive = self._crane.drives[motion]
                self.go(motion, drive.way_m * self._rng.uniform(0.08, 0.92))
                self._wait(2.0)

    def _land(self, support: float) -> None:
        """Put the load down on a support: fast, slow, fitting, slack."""
        hook = self._crane.hook
        support = min(support, self._hoist.axis.position - 0.3)
        hook.carry(support)
        above = support + hook.mass * self._crane.build.hoist.stretch_m / self._crane.build.rated_kg
        self.go("hoist", above + self._rng.uniform(0.05, 0.15), tolerance=0.05)
        self._wait(4.0)
        if self._chance(self._habits.jog):
            self._jog(above)
        self.go("hoist", support - self._rng.uniform(0.03, 0.10), tolerance=0.04, fast=False)

    def _jog(self, above: float) -> None:
        """Fit a load by inching: short presses, mostly down."""
        for _ in range(self._rng.randint(3, 9)):
            low = self._hoist.axis.position < above + 0.01
            direction = "raise" if low or self._chance(0.25) else "lower"
            self.hold("hoist", direction, seconds=self._about(self._habits.jog_run_s))
            self._wait(self._habits.jog_pause_s)

    def _plan_emergency_stop(self) -> None:
        """Somebody will hit the stop within the next minute or two, and turn it back after a while."""
        begin = self._rng.uniform(20.0, 150.0)
        self._engine.after(begin, lambda: self._crane.press("stop.emergency", True))
        length = self._about(12.0)
        self._engine.after(begin + length, lambda: self._crane.press("stop.emergency", False))
