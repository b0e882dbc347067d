"""What each cause must show in the exact tracks of its machine, counted plainly; a machine in order shows none of it.

Figures without another source are common practice or judgement, as in the ranges of the simulation.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable
from itertools import pairwise
from statistics import median

from eventlens.signals import MOTIONS, opposite
from eventlens.simulation import Simulated
from eventlens.simulation.causes.plan import Plan

Spell = tuple[float, float]
Fact = Callable[[Simulated, Plan], bool]
LOST = ("relay", "feedback_lost", "brake_lost", "supply")


def spells(simulated: Simulated, signal: str, *, on: bool = True) -> list[Spell]:
    """Intervals in which a signal is on (or off), begun and ended by a change."""
    track = simulated.tracks[signal]
    return [(a[0], b[0]) for a, b in pairwise(track) if bool(a[1]) == on and a[0] > 0.0]


def value_at(simulated: Simulated, signal: str, at: float) -> float:
    track = simulated.tracks[signal]
    return track[bisect_right(track, at, key=lambda change: change[0]) - 1][1]


def lost_runs(simulated: Simulated) -> list[tuple[str, float, float]]:
    """Runs of the hoist that ended although the button was held: direction, start, end."""
    return [(run[0], run[1], run[2]) for run in simulated.runs["hoist"] if run[3] in LOST]


def within(at: float, span: list[Spell], after_s: float = 0.0) -> bool:
    return any(a <= at <= b + after_s for a, b in span)


def clock_hour(simulated: Simulated, at: float) -> float:
    return (at % 86400.0) / 3600.0  # Lisbon in winter; the change of the hour moves it by one at the end of March


def late_crew(simulated: Simulated, at: float) -> bool:
    return clock_hour(simulated, at) > 12.0


def _one_direction(simulated: Simulated, plan: Plan) -> bool:
    motion = plan.motion or "hoist"
    lost = [run for run in simulated.runs[motion] if run[3] in LOST]
    own = [run for run in lost if run[0] == plan.direction]
    return len(lost) >= 3 and len(own) >= 0.9 * len(lost)


def interface_relay(simulated: Simulated, plan: Plan) -> bool:
    """Nine of ten losses in one direction, half of them within the first second."""
    lost = [run for run in simulated.runs[plan.motion or "hoist"] if run[3] in LOST]
    early = [run for run in lost if run[2] - run[1] <= 1.0]
    return _one_direction(simulated, plan) and len(early) >= 0.5 * len(lost)


def contactor_coil(simulated: Simulated, plan: Plan) -> bool:
    """One contactor lets go for less than 0.2 s, or closes late, under its held command."""
    late = 0
    for start, end in spells(simulated, f"hoist.{plan.direction}.command"):
        closed = [a for a, _ in spells(simulated, f"hoist.{plan.direction}.contactor") if start <= a <= end]
        late += bool(closed) and 0.6 > closed[0] - start > 0.15
    return _one_direction(simulated, plan) and late >= 2


def main_contact_worn(simulated: Simulated, plan: Plan) -> bool:
    """Phase faults begin only while one direction runs."""
    own = [(run[1], run[2]) for run in simulated.runs["hoist"] if run[0] == plan.direction]
    faults = spells(simulated, "supply.phase_fault")
    return len(faults) >= 3 and all(within(a, own, 0.1) for a, _ in faults)


def main_contact_weld(simulated: Simulated, plan: Plan) -> bool:
    """One direction's contactor stays closed for 0.25 s and more after its command."""
    signal = f"hoist.{plan.direction}.command"
    stays = [b for _, b in spells(simulated, signal) if value_at(simulated, signal[:-7] + "contactor", b + 0.25)]
    return len([b for b in stays if not value_at(simulated, signal, b + 0.25)]) >= 2


def aux_contact(simulated: Simulated, plan: Plan) -> bool:
    """The report goes while the brake stays released; or the motion falls and stays off in one direction."""
    gone = spells(simulated, f"hoist.{plan.direction}.contactor", on=False)
    runs = [(run[1], run[2]) for run in simulated.runs["hoist"]]
    contradicted = [a for a, b in gone if within(a + 0.001, runs) and within(min(b, a + 0.3), runs)]
    return len(contradicted) >= 3 or _one_direction(simulated, plan)


def interlock(simulated: Simulated, plan: Plan) -> bool:
    """Commands of one direction without contactor within seconds of the other direction."""
    way = plan.direction or "raise"
    closed = [a for a, _ in spells(simulated, f"hoist.{way}.contactor")]
    other = [b for _, b in spells(simulated, f"hoist.{opposite('hoist', way)}.contactor")]
    pressed = [(a, b) for a, b in spells(simulated, f"hoist.{way}.command") if b - a > 0.7]
    refused = [a for a, b in pressed if not any(a <= at <= a + 0.7 for at in closed)]
    near = [a for a in refused if any(a - 6.0 <= at <= a for at in other)]
    return len(near) >= 3 and len(near) >= 0.8 * len(refused)


def speed_timer(simulated: Simulated, plan: Plan) -> bool:
    """The delay from slow to fast is below 0.25 s in a third of the fast runs and more."""
    closed = sorted(run[1] for run in simulated.runs["hoist"])
    delays = []
    for at, _ in spells(simulated, "hoist.fast.contactor"):
        before = bisect_right(closed, at)
        delays.append(at - closed[before - 1] if before else 9.0)
    return sum(delay < 0.25 for delay in delays) > 0.2 * len(delays)


def fast_contactor(simulated: Simulated, plan: Plan) -> bool:
    """Fast is asked for more than a second of running and does not come, or goes under its command."""
    fast = spells(simulated, "hoist.fast.contactor")
    asked = [(a, b) for a, b in spells(simulated, "hoist.fast.command") if b - a > 1.2]
    never = [a for a, b in asked if not any(a <= at <= b for at, _ in fast)]
    return len(never) >= 5


def _confirmed(simulated: Simulated) -> list[tuple[float, float, float]]:
    """(start, release, set): times of each run that was confirmed [s]."""
    signal, found = "hoist.brake.released", []
    on = spells(simulated, signal)
    for _, start, end, _ in simulated.runs["hoist"]:
        own = [(a, b) for a, b in on[max(bisect_right(on, (start, 0.0)) - 1, 0) :][:3] if start <= a <= end <= b]
        if own:
            found.append((start, own[0][0] - start, own[0][1] - end))
    return found


def _medians(simulated: Simulated, column: int) -> tuple[float, float]:
    """Medians over the first and the last quarter of the runs."""
    values = [row[column] for row in _confirmed(simulated)]
    quarter = len(values) // 4
    return median(values[:quarter]), median(values[-quarter:])


def _unconfirmed(simulated: Simulated) -> list[float]:
    return [run[1] for run in simulated.runs["hoist"] if run[3] == "brake_not_confirmed"]


def release_switch_intermittent(simulated: Simulated, plan: Plan) -> bool:
    """The confirmation opens for less than 0.2 s while the motion goes on."""
    runs = [(run[1], run[2]) for run in simulated.runs["hoist"]]
    gone = [(a, b) for a, b in spells(simulated, "hoist.brake.released", on=False) if b - a < 0.2]
    return len([a for a, b in gone if within(a, runs) and within(b, runs)]) >= 5


def release_switch_stuck(simulated: Simulated, plan: Plan) -> bool:
    """The confirmation is on for ten seconds and more with all contactors open."""
    last = simulated.tracks["hoist.brake.released"][-1]
    on = [*spells(simulated, "hoist.brake.released"), *([(last[0], simulated.length_s)] if last[1] else [])]
    runs = sorted((run[1], run[2]) for run in simulated.runs["hoist"])
    longest = 0.0
    for begin, end in on:
        free = begin
        for start, stop in (run for run in runs if run[0] < end and run[1] > begin):
            longest, free = max(longest, start - free), max(free, stop)
        longest = max(longest, end - free)
    return longest > 10.0


def lining_gap(simulated: Simulated, plan: Plan) -> bool:
    """Release drifts up by a quarter and more, set time down, and some runs at the end are not confirmed."""
    release, settle = _medians(simulated, 1), _medians(simulated, 2)
    lost = _unconfirmed(simulated)
    late = all(at > 0.3 * simulated.length_s for at in lost)
    return release[1] > 1.25 * release[0] and settle[1] < 0.9 * settle[0] and len(lost) > 0 and late


def brake_coil(simulated: Simulated, plan: Plan) -> bool:
    """Unconfirmed runs come after more starts in the hour before than usual; the release time stays."""
    lost, release = _unconfirmed(simulated), _medians(simulated, 1)
    starts = sorted(run[1] for run in simulated.runs["hoist"])

    def before(at: float) -> int:
        return bisect_right(starts, at) - bisect_right(starts, at - 3600.0)

    if len(lost) < 3 or release[1] > 1.25 * release[0]:
        return False
    return median(before(at) for at in lost) > median(before(at) for at in starts)


def rectifier_half(simulated: Simulated, plan: Plan) -> bool:
    """Release is longer by a third and more, set time shorter, in one step between two days."""
    release, settle = _medians(simulated, 1), _medians(simulated, 2)
    daily: dict[int, list[float]] = {}
    for start, seconds, _ in _confirmed(simulated):
        daily.setdefault(int(start / 86400.0), []).append(seconds)
    course = [median(values) for _, values in sorted(daily.items()) if len(values) >= 5]
    largest = max(abs(b - a) for a, b in pairwise(course))
    return release[1] > 1.3 * release[0] and settle[1] < 0.85 * settle[0] and largest > 0.25 * release[0]


def ac_side(simulated: Simulated, plan: Plan) -> bool:
    """The set time is four times and more what it was (published: 5 to 10 times), the release time is not."""
    release, settle = _medians(simulated, 1), _medians(simulated, 2)
    return settle[1] > 4.0 * settle[0] and abs(release[1] / release[0] - 1.0) < 0.1


def _falls(simulated: Simulated) -> list[float]:
    """Instants at which five signals and more change together for less than a second."""
    counted: dict[float, int] = {}
    for signal in simulated.scenario.signals:
        if not signal.endswith(("_m", ".kg")):
            for at, _ in simulated.tracks[signal][1:]:
                counted[at] = counted.get(at, 0) + 1
    instants = sorted(at for at, count in counted.items() if count >= 5)
    return [at for number, at in enumerate(instants) if not number or at - instants[number - 1] > 1.0]


def supply_dip(simulated: Simulated, plan: Plan) -> bool:
    """Everything falls, with the control supply; three quarters of it within an hour of the day."""
    falls = [at for at in _falls(simulated) if not value_at(simulated, "supply.control", at + 1e-6)]
    hours = [clock_hour(simulated, at) for at in falls]
    return len(falls) >= 10 and sum(abs(hour - median(hours)) < 1.1 for hour in hours) > 0.75 * len(falls)


def common_terminal(simulated: Simulated, plan: Plan) -> bool:
    """Everything falls but the control supply, soon after a start or a stop, mostly of a travel motion."""
    falls = _falls(simulated)
    moves = sorted(end for motion in ("trolley", "bridge") for run in simulated.runs[motion] for end in run[1:3])
    near = [at for at in falls if bisect_right(moves, at) and at - moves[bisect_right(moves, at) - 1] < 3.0]
    supplied = all(value_at(simulated, "supply.control", at + 1e-6) for at in falls)
    return len(falls) >= 5 and supplied and len(near) > 0.6 * len(falls)


def collector_gap(simulated: Simulated, plan: Plan) -> bool:
    """Everything falls while the bridge moves, at one place of its way."""
    falls = _falls(simulated)
    bridge = [(run[1], run[2]) for run in simulated.runs["bridge"]]
    places = [value_at(simulated, "bridge.position_m", at) for at in falls if within(at, bridge, 2.5)]
    near = [place for place in places if abs(place - median(places)) < 1.5]
    return len(falls) >= 5 and len(near) >= 0.9 * len(falls)


def phase_feeder(simulated: Simulated, plan: Plan) -> bool:
    """Losses within 0.5 s of the start, in both directions, more of them far out."""
    lost = [run for run in lost_runs(simulated) if run[2] - run[1] < 0.5]
    places = [value_at(simulated, "bridge.position_m", run[1]) for run in lost]
    starts = [value_at(simulated, "bridge.position_m", run[1]) for run in simulated.runs["hoist"]]
    ways = {run[0] for run in lost}
    return len(lost) >= 4 and len(ways) == 2 and sum(places) / len(places) > 1.2 * sum(starts) / len(starts)


def _gaps(simulated: Simulated) -> list[tuple[str, float, float]]:
    """Openings of commands shorter than 0.15 s, which no thumb makes: signal, begin, end."""
    names = [f"{motion}.{way}.command" for motion, ways in MOTIONS.items() for way in ways]
    return [(name, a, b) for name in names for a, b in spells(simulated, name, on=False) if b - a < 0.15]


def pendant_button(simulated: Simulated, plan: Plan) -> bool:
    """Gaps on one command, nearly all within 0.8 s of the press."""
    gaps = _gaps(simulated)
    name = f"{plan.motion}.{plan.direction}.command"
    long = [a for a, b in _presses(simulated, name)]
    own = [gap for gap in gaps if gap[0] == name]
    early = [gap for gap in own if bisect_right(long, gap[1]) and gap[1] - long[bisect_right(long, gap[1]) - 1] < 0.8]
    return len(own) >= 5 and len(own) >= 0.9 * len(gaps) and len(early) >= 0.9 * len(own)


def _presses(simulated: Simulated, name: str) -> list[Spell]:
    """Presses with their gaps closed."""
    found: list[Spell] = []
    for a, b in spells(simulated, name):
        if found and a - found[-1][1] < 0.15:
            found[-1] = (found[-1][0], b)
        else:
            found.append((a, b))
    return found


def pendant_cable(simulated: Simulated, plan: Plan) -> bool:
    """Gaps on several commands, most of them with a travel motion in or just after its run."""
    gaps = _gaps(simulated)
    travel = [(run[1], run[2]) for motion in ("trolley", "bridge") for run in simulated.runs[motion]]
    moving = [gap for gap in gaps if within(gap[1], travel, 3.0)]
    return len(gaps) >= 4 and len({gap[0] for gap in gaps}) >= 2 and len(moving) > 0.5 * len(gaps)


def _trips(simulated: Simulated) -> list[Spell]:
    return spells(simulated, "overload.trip")


def _loads(simulated: Simulated) -> list[float]:
    """Share of the rated load just after each trip."""
    return [value_at(simulated, "load.kg", a + 0.3) / simulated.scenario.rated_kg for a, _ in _trips(simulated)]


def overload_low(simulated: Simulated, plan: Plan) -> bool:
    """Trips with loads whose true weight is below the rated one (set low), or the empty hook reads more and more."""
    empty = [value for _, value in simulated.tracks["load.kg"][-20:]]
    return len(_trips(simulated)) >= 5 and (median(_loads(simulated)) < 1.0 or min(empty) > 0.2 * 3200.0)


def overload_high(simulated: Simulated, plan: Plan) -> bool:
    """Loads above the rated one and no trip."""
    heavy = sum(value > 1.05 * simulated.scenario.rated_kg for _, value in simulated.tracks["load.kg"])
    return heavy >= 3 and not [a for a, _ in _trips(simulated) if a > 0.25 * simulated.length_s]


def overload_sensor(simulated: Simulated, plan: Plan) -> bool:
    """Trips of less than half a second, some of them with the hoist at rest."""
    runs = [(run[1], run[2]) for run in simulated.runs["hoist"]]
    brief = [a for a, b in _trips(simulated) if b - a < 0.5]
    return len(brief) >= 10 and sum(not within(a, runs, 0.5) for a in brief) >= 2


def true_overload(simulated: Simulated, plan: Plan) -> bool:
    """Trips with at least the rated load on the hook."""
    return len(_trips(simulated)) >= 3 and median(_loads(simulated)) >= 1.0


def snatch(simulated: Simulated, plan: Plan) -> bool:
    """Trips within a second of the start of a raise, nearly all by one crew, with loads that may be lifted."""
    starts = sorted(run[1] for run in simulated.runs["hoist"] if run[0] == "raise")
    early = [a for a, _ in _trips(simulated) if any(0.0 <= a - s <= 1.5 for s in starts)]
    late = [a for a in early if late_crew(simulated, a)]
    return len(early) >= 3 and len(late) >= 0.8 * len(early) and median(_loads(simulated)) < 1.2


def slack_rope(simulated: Simulated, plan: Plan) -> bool:
    """The slack-rope switch acts while lowering."""
    lower = [(run[1], run[2]) for run in simulated.runs["hoist"] if run[0] == "lower"]
    slack = spells(simulated, "rope.slack")
    return len(slack) >= 3 and all(within(a, lower, 0.2) for a, _ in slack)


def limit_fault(simulated: Simulated, plan: Plan) -> bool:
    """The upper limit acts well below its place."""
    way = simulated.build.hoist.lift_m
    low = [a for a, _ in spells(simulated, "hoist.raise.limit") if value_at(simulated, "hoist.height_m", a) < way - 0.2]
    return len(low) >= 3


def limit_as_stop(simulated: Simulated, plan: Plan) -> bool:
    """The upper limit is reached twice a day and more, mostly by one crew."""
    hits = [a for a, _ in spells(simulated, "hoist.raise.limit")]
    late = sum(late_crew(simulated, a) for a in hits)
    return len(hits) > 2.0 * simulated.length_s / 86400.0 and late > 0.6 * len(hits)


def jogging(simulated: Simulated, plan: Plan) -> bool:
    """Short runs, the next within 2 s, three times as many by one crew."""
    runs = simulated.runs["hoist"]
    jogs = [a[1] for a, b in pairwise(runs) if a[2] - a[1] < 0.7 and b[1] - a[2] < 2.0]
    late = sum(late_crew(simulated, at) for at in jogs)
    return len(jogs) >= 50 and late >= 3 * (len(jogs) - late)


def plugging(simulated: Simulated, plan: Plan) -> bool:
    """Reversals with less than 0.3 s between, three times as many by one crew."""
    runs = simulated.runs["hoist"]
    quick = [a[2] for a, b in pairwise(runs) if a[0] != b[0] and b[1] - a[2] < 0.3]
    late = sum(late_crew(simulated, at) for at in quick)
    return len(quick) >= 30 and late >= 3 * (len(quick) - late)


def motor_thermal(simulated: Simulated, plan: Plan) -> bool:
    """The motor gets hot."""
    return len(spells(simulated, "hoist.motor.hot")) >= 3


def controller_log(simulated: Simulated, plan: Plan) -> bool:
    """Inputs are off for exactly one scan while the machine runs."""
    names = ("hoist.brake.released", "hoist.raise.contactor", "hoist.lower.contactor", "hoist.fast.contactor")
    gone = [b - a for name in names for a, b in spells(simulated, name, on=False) if b - a < 0.1]
    return len(gone) >= 3 and sum(abs(length - 0.02) < 1e-6 for length in gone) > 0.9 * len(gone)


def clock(simulated: Simulated, plan: Plan) -> bool:
    """Stamps run back."""
    return not simulated.recording.records["time"].is_sorted()


FACTS: dict[str, Fact] = {
    fact.__name__: fact
    for fact in (
        interface_relay,
        contactor_coil,
        main_contact_worn,
        main_contact_weld,
        aux_contact,
        interlock,
        speed_timer,
        fast_contactor,
        release_switch_intermittent,
        release_switch_stuck,
        lining_gap,
        brake_coil,
        rectifier_half,
        ac_side,
        supply_dip,
        common_terminal,
        collector_gap,
        phase_feeder,
        pendant_button,
        pendant_cable,
        overload_low,
        overload_high,
        overload_sensor,
        true_overload,
        snatch,
        slack_rope,
        limit_fault,
        limit_as_stop,
        jogging,
        plugging,
        motor_thermal,
        controller_log,
        clock,
    )
}
"""Cause -> what its machine must show."""
