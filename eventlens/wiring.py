"""One machine, one log: the only module that wires the stages together."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import polars as pl

from eventlens import cautions, patterns, schema, signals
from eventlens.causes.facts import load_knowledge
from eventlens.duty.counts import MotionCounts, count_motion
from eventlens.duty.groups import DutyLimits
from eventlens.duty.lifts import LiftParameters, Lifts, count_lifts, trip_rates
from eventlens.duty.load import load_of
from eventlens.duty.shifts import shifts_of
from eventlens.duty.windings import Winding, WindingPlate, count_windings, pieces
from eventlens.life.heat import HeatParameters
from eventlens.life.wear import StartWeights
from eventlens.limits import Limit, configure, limits_of
from eventlens.machine import Machine, load_machine
from eventlens.motion import RecordAxis, build_runs, build_states
from eventlens.motion.chatter import ChatterParameters, find_chatter
from eventlens.motion.common import common_drop_outs
from eventlens.motion.kinds import JogParameters, is_jog
from eventlens.motion.runs import RunParameters
from eventlens.patterns import Context, Pattern, occurrences
from eventlens.reading import read
from eventlens.reading.log import Log
from eventlens.reading.profile import Profile
from eventlens.result import Review
from eventlens.spill import give_back, is_long
from eventlens.statistics.bursts import BurstParameters
from eventlens.statistics.rates import rate
from eventlens.threads import both, in_threads

Progress = Callable[[str], None]


def known_limits() -> list[Limit]:
    """Every limit that a machine file may change, by name."""
    stages = (
        RunParameters,
        ChatterParameters,
        DutyLimits,
        WindingPlate,
        LiftParameters,
        StartWeights,
        HeatParameters,
        BurstParameters,
    )
    declared = [*(item for stage in stages for item in limits_of(stage)), *patterns.limits()]
    return list({item.name: item for item in declared}.values())


def review(
    paths: str | Path | Sequence[str | Path],
    profile: str | Path | Profile | None = None,
    machine: str | Path | Machine | None = None,
    *,
    checked: Sequence[str] = (),
    knowledge: str | Path | None = None,
    progress: Progress | None = None,
) -> Review:
    """Reads a dump (one file, or several parts of one) and reviews it.

    profile: profile file or Profile; machine: machine file or Machine; checked: outcomes of checks made on the machine,
    in their order, as 'relay_seat=negative' (see Review.with_checks); knowledge: a file whose causes, evidence and
    checks replace or add to those of the project. progress is called with the name of each stage as it begins. Raises
    ReadingError, ProfileError, MachineError or KnowledgeError in one sentence with the remedy.
    """
    plate = machine_of(machine)
    known = load_knowledge(Path(knowledge)) if knowledge is not None else None
    if progress:
        progress("reading")
    found = replace(review_log(read(paths, profile), plate, progress=progress), knowledge=known)
    return found.with_checks(checked)


def machine_of(given: str | Path | Machine | None) -> Machine:
    """The machine that a file describes, one that is given as it is, or one of which nothing is stated."""
    if isinstance(given, Machine):
        return given
    return load_machine(given, known_limits()) if given is not None else Machine()


def review_log(log: Log, machine: Machine, *, progress: Progress | None = None) -> Review:
    """Reviews a log that has been read already."""

    def tell(stage: str) -> None:
        give_back()  # each stage looks at other tables
        if progress:
            progress(stage)

    axis = RecordAxis.of(log)
    context = context_of(log, machine, axis, tell)
    clock_runs = _by_clock(axis, context.runs)
    tell("patterns")
    counted, found, missing = _found(log, context, clock_runs, axis)
    summaries = _findings(context, found, log.observed_s)
    return Review(
        log=log,
        machine=machine,
        states=schema.STATES.check(axis.to_clock(context.states.frame, "start", "end")),
        runs=schema.RUNS.check(clock_runs),
        shifts=context.shifts.plan,
        motions=_with_trips(counted, log, found),
        findings=schema.FINDINGS.check(axis.to_clock(summaries, "first", "last")),
        occurrences=schema.OCCURRENCES.check(axis.to_clock(found, "start", "end")),
        not_assessed=schema.NOT_ASSESSED.check(missing),
        cautions=cautions.GENERAL,
    )


def context_of(log: Log, machine: Machine, axis: RecordAxis, tell: Progress) -> Context:
    """What the patterns look at: everything that stands before they do, on the record's own axis."""
    events = axis.to_record(log.events, "time")
    segments = axis.to_record(log.segments, "start", "end")
    carried = frozenset(log.signals())
    tell("runs")
    states = build_states(events, segments, carried)
    limits = configure(RunParameters, machine.limits)
    chatter, common = both(
        lambda: find_chatter(states, configure(ChatterParameters, machine.limits), log.step_s),
        lambda: common_drop_outs(states, limits, limits, log.step_s),
        log.events.height,
    )
    measures = _measures(events, carried)
    runs = build_runs(states, measures.filter(pl.col("value").is_not_null()), limits, log.step_s, common)
    tell("duty")
    return Context(
        runs=runs,
        chatter=chatter,
        common=common,
        states=states,
        measures=measures,
        load=load_of(measures, segments, machine.machine.rated_load_kg),
        shifts=shifts_of(runs, _by_clock(axis, runs)["start"], machine.work, log.timezone),
        holes=_holes(log, segments),
        clock_steps=_clock_steps(log, segments),
        machine=machine,
        carried=carried,
        step_s=log.step_s,
        rhythm_s=log.rhythm_s,
        observed_s=log.observed_s,
        timezone=log.timezone,
    )


def occurrences_in(context: Context) -> pl.DataFrame:
    """What every pattern finds (schema.OCCURRENCES), on the record's own axis."""
    return _look(context)[0]


def _found(
    log: Log, context: Context, runs: pl.DataFrame, axis: RecordAxis
) -> tuple[dict[str, MotionCounts], pl.DataFrame, pl.DataFrame]:
    """The counts of each motion, occurrences, and what could not be assessed. runs: times as the clock showed them."""
    places = _places(context)
    rows = log.events.height
    work: list[Callable[[], Any]] = [  # the longest first: so nobody waits for it at the end
        lambda: _windings(context, axis),
        lambda: _lifts(log, context.machine, runs),
        lambda: _counts(log, context.machine, runs, axis),
    ]
    looks: list[Callable[[], Any]] = [partial(_looked_for, context, *place) for place in places]
    if is_long(rows):  # what takes most memory in turn
        done = [make() for make in work] + in_threads(lambda make: make(), looks, rows)
    else:
        done = in_threads(lambda make: make(), work + looks, rows)
    windings, lifts, counted, *looked = done
    if "hoist" in counted:
        assumed = bool(windings) and context.machine.machine.two_windings is None
        counted["hoist"] = replace(counted["hoist"], lifts=lifts, windings=windings, windings_assumed=assumed)
    return counted, *_together(places, looked)


def _by_clock(axis: RecordAxis, runs: pl.DataFrame) -> pl.DataFrame:
    """The runs at the times that the controller's clock showed."""
    return axis.to_clock(runs, *(n for n, c in schema.RUNS.columns.items() if c.dtype == schema.TIME))


def _measures(events: pl.DataFrame, carried: frozenset[str]) -> pl.DataFrame:
    """Events of measured signals."""
    measured = [name for name in signals.MEASURES if name in carried]
    if not measured:
        return events.clear()
    return events.filter(pl.col("signal").to_physical().is_in([signals.ALL.index(name) for name in measured]))


def _holes(log: Log, segments: pl.DataFrame) -> pl.DataFrame:
    """The holes of the log on the record's own axis: between segments that no clock step divides."""
    return (
        _between(log, segments)
        .join(
            log.holes.rename({"start": "clock_start", "end": "clock_end"}),
            on=["clock_start", "clock_end"],
            how="inner",
            maintain_order="left",
        )
        .select("start", "end", "why", "rows", "limit_s")
    )


def _clock_steps(log: Log, segments: pl.DataFrame) -> pl.DataFrame:
    """The steps of the clock on the record's own axis, each from the last record before it to the first after it."""
    return (
        _between(log, segments)
        .join(log.clock_steps.rename({"at": "clock_start"}), on="clock_start", how="inner", maintain_order="left")
        .select("start", "end", "seconds", "rows")
    )


def _between(log: Log, segments: pl.DataFrame) -> pl.DataFrame:
    """What lies between neighbouring segments: (start, end) on the record's axis and by the clock."""
    by_clock = log.segments.select(clock_start="end", clock_end=pl.col("start").shift(-1))
    between = segments.select(start="end", end=pl.col("start").shift(-1))
    return pl.concat([between, by_clock], how="horizontal")


def _look(context: Context) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Every pattern on every motion that the log carries: occurrences, and what could not be assessed."""
    places = _places(context)
    return _together(places, in_threads(lambda at: _looked_for(context, *at), places, context.states.frame.height))


def _together(
    places: list[tuple[Pattern, str | None]], looked: list[tuple[pl.DataFrame, dict[str, Any] | None]]
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """What was found (schema.OCCURRENCES), and what could not be assessed (schema.NOT_ASSESSED), of all places."""
    found: list[pl.DataFrame] = [schema.OCCURRENCES.empty()]
    missing: list[dict[str, Any]] = []
    for (pattern, motion), (part, lack) in zip(places, looked, strict=True):
        found.append(part)
        missing += [{"pattern": pattern.name, "motion": motion, **lack}] if lack else []
    frame = pl.concat(found).sort("pattern", "motion", "signal", "start", "end", maintain_order=True)
    return frame, pl.DataFrame(missing, schema=schema.NOT_ASSESSED.schema)


def _places(context: Context) -> list[tuple[Pattern, str | None]]:
    """Every pattern with each motion that the log carries and it is looked for on; None: the machine as a whole."""
    moving = {motion for name in context.carried if (motion := signals.motion_of(name))} | {"hoist"}
    return [
        (pattern, motion)
        for pattern in patterns.catalogue().values()
        for motion in pattern.motions or (None,)
        if motion is None or motion in moving
    ]


def _looked_for(context: Context, pattern: Pattern, motion: str | None) -> tuple[pl.DataFrame, dict[str, Any] | None]:
    """As _look_for; the memory in which it looked at long tables is given back."""
    found = _look_for(pattern, context, motion)
    give_back()
    return found


def _look_for(pattern: Pattern, context: Context, motion: str | None) -> tuple[pl.DataFrame, dict[str, Any] | None]:
    """One pattern on one motion: what was found, and why it could not be assessed, if so."""
    nothing = schema.OCCURRENCES.empty()
    if lack := pattern.missing(context.carried, motion):
        return nothing, {"why": "missing_signal", "needs": list(lack)}
    if motion and (setting := pattern.setting(context.machine, motion, context.carried)):
        return nothing, {"why": "missing_setting", "needs": [setting]}
    parameters = pattern.configured(context.machine)
    if blind := _blind(pattern, context, parameters):
        return nothing, {"why": "not_resolvable", "needs": [blind]}
    found = occurrences(pattern.find(context, motion or "", parameters), pattern.name, motion)
    if pattern.absence and context.lossy:
        found = found.with_columns(certainty=pl.lit("possible", schema.CERTAINTY))
    if context.step_s > (coarsest := pattern.coarsest(parameters)):  # what is certain stands all the same
        sure = found.filter(pl.col("certainty") == "certain")
        return sure, {"why": "not_resolvable", "needs": [f"a log step of {coarsest:g} s or less"]}
    if pattern.rhythm and context.rhythm_s is None:  # some of them show all the same
        return found, {"why": "missing_signal", "needs": ["a heartbeat or a fixed sample cycle"]}
    if found.is_empty() and (more := pattern.too_short(context, motion or "", parameters)):
        return nothing, {"why": "too_little_log", "needs": [more]}
    if found.is_empty() and context.observed_s < pattern.least_log_s:
        return nothing, {"why": "too_little_log", "needs": [f"{pattern.least_log_s:g} s of log"]}
    if found.is_empty() and context.step_s >= pattern.blind_step_s:
        return nothing, {"why": "not_resolvable", "needs": [f"a log step below {pattern.blind_step_s:g} s"]}
    if motion and (side := pattern.missing_on_a_side(context.carried, motion)):
        return found, {"why": "missing_signal", "needs": list(side)}  # the other direction was judged
    return found, None


def _blind(pattern: Pattern, context: Context, parameters: Any) -> str | None:
    """The log step that the pattern would need, where this log's is larger than the times it judges."""
    finest = min((getattr(parameters, name) for name in pattern.finest), default=math.inf)
    return f"a log step below {finest:g} s" if context.step_s >= finest else None


def _findings(context: Context, found: pl.DataFrame, observed_s: float) -> pl.DataFrame:
    """One row for each pattern, motion and signal that occurred (schema.FINDINGS)."""
    rows = []
    for (name, motion, signal), part in found.group_by("pattern", "motion", "signal", maintain_order=True):
        pattern = patterns.catalogue()[str(name)]
        certain = part.filter(pl.col("certainty") == "certain").height
        per_hour = rate(part.height, observed_s / 3600)
        rows.append(
            {
                "pattern": name,
                "motion": motion,
                "signal": signal,
                "severity": _severity(pattern, certain),
                "certainty": "certain" if certain else "possible",
                "count": part.height,
                "certain_count": certain,
                "first": part["start"].min(),
                "last": part["start"].max(),
                "rate_per_hour": per_hour.value if per_hour else None,
                "rate_low": per_hour.low if per_hour else None,
                "rate_high": per_hour.high if per_hour else None,
                "summary": _summary(context, pattern, str(motion or ""), part, certain),
            }
        )
    frame = pl.DataFrame(rows, schema=schema.FINDINGS.schema)
    return frame.sort("severity", "pattern", "motion", "signal", maintain_order=True)


def _severity(pattern: Pattern, certain: int) -> str:
    """The pattern's severity; what is only possible asks for watching, not yet for a repair."""
    if certain or pattern.severity == "note":
        return pattern.severity
    return "watch"


def _summary(context: Context, pattern: Pattern, motion: str, part: pl.DataFrame, certain: int) -> str:
    """One sentence: how often, how sure, and what the pattern adds."""
    where = f"{motion}: " if motion else ""
    doubt = f" ({part.height - certain} only possible)" if certain < part.height else ""
    more = pattern.describe(context, motion, part, pattern.configured(context.machine))
    return f"{where}{pattern.title} {part.height} x{doubt}" + (f"; {more}" if more else "")


def _counts(log: Log, machine: Machine, runs: pl.DataFrame, axis: RecordAxis) -> dict[str, MotionCounts]:
    """Counts of each motion whose commands or contactors are logged. runs: times as the clock showed them."""
    carried = log.signals()
    longest = configure(JogParameters, machine.limits).jog_longest_s
    clock = axis.shifts["segment"].search_sorted(runs["segment"], side="right").cast(pl.UInt32)
    jogs = dict(runs.select(pl.col("motion").filter(is_jog(longest)))["motion"].value_counts().iter_rows())
    return {
        motion: count_motion(motion, runs, log.observed_s, machine, log.timezone, jogs.get(motion, 0), clock)
        for motion, pair in signals.MOTIONS.items()
        if any(f"{motion}.{direction}.{kind}" in carried for direction in pair for kind in ("command", "contactor"))
    }


def _windings(context: Context, axis: RecordAxis) -> tuple[Winding, ...]:
    """The windings of the hoist motor, where it has two and the fast output is logged."""
    fast = "hoist.fast.contactor"
    if fast not in context.carried or context.machine.machine.two_windings is False:
        return ()
    lag_s = configure(RunParameters, context.machine.limits).fast_lag_s
    switched = axis.to_clock(pieces(context.runs_of("hoist"), context.states.known(fast), lag_s), "begin", "end")
    clock = axis.shifts["segment"].search_sorted(switched["segment"], side="right").cast(pl.UInt32)
    return count_windings(switched, context.machine, clock)


def _lifts(log: Log, machine: Machine, runs: pl.DataFrame) -> Lifts | None:
    """The lifts of the hoist, where raising is logged. runs: times as the clock showed them."""
    carried = log.signals()
    if not {"hoist.raise.command", "hoist.raise.contactor"} & carried:
        return None
    load = load_of(_measures(log.events, frozenset(carried)), log.segments, machine.machine.rated_load_kg)
    return count_lifts(runs, load, configure(LiftParameters, machine.limits))


def _with_trips(counted: dict[str, MotionCounts], log: Log, found: pl.DataFrame) -> dict[str, MotionCounts]:
    """The counts with how often the hoist's overload device tripped, for its lifts. found: schema.OCCURRENCES."""
    hoist = counted.get("hoist")
    if hoist is None or hoist.lifts is None or "overload.trip" not in log.signals():
        return counted
    trips = found.filter(pl.col("pattern").is_in(["overload_trip", "overload_snatch"])).height
    rates = trip_rates(trips, hoist.lifts, hoist.running_s, log.observed_s)
    return {**counted, "hoist": replace(hoist, trips=rates)}
