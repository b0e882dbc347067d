"""What every pattern must do, asked of each unasked: the list of exceptions is empty and stays so."""

from __future__ import annotations

import re
from datetime import timedelta
from pathlib import Path

import polars as pl
import pytest

import eventlens.patterns
from eventlens import schema, signals
from eventlens.machine import Machine
from eventlens.patterns import EXPOSURES, Pattern, catalogue, limits
from eventlens.reading.log import Log
from eventlens.wiring import known_limits, review_log
from tests.logs import make_log, merged, pulse, run
from tests.patterns.helpers import M5, logged

PATTERNS = list(catalogue().values())
each = pytest.mark.parametrize("pattern", PATTERNS, ids=lambda pattern: pattern.name)

BUSY = merged(
    run(10, 13, fast=(10.05, 12), fast_command=(9.95, 12)),
    run(20, 20.5),
    run(21, 21.5),
    run(22, 22.5),
    run(30, 31, command=(29.9, 32), brake=(500, 500)),
    run(40, 44, command=(39.9, 46)),
    [(50, "hoist.raise.command", 1.0), (52, "hoist.raise.command", 0.0)],
    run(60, 60.6, command=(59.9, 61)),
    [(60.58, "overload.trip", 1.0), (63, "overload.trip", 0.0)],
    run(66, 70),
    run(80, 84, fast=(80.2, 83)),
    run(90, 96, fast_command=(91, 95)),
    run(100, 104, "left", motion="trolley", fast=(100.0, 103)),
)
"""Something of almost everything."""


def moved(log: Log, by: timedelta) -> Log:
    shift = {"time", "start", "end"}
    frames = {
        name: frame.with_columns((pl.col(c) + by).alias(c) for c in shift & set(frame.columns))
        for name in ("events", "segments", "holes")
        for frame in [getattr(log, name)]
    }
    return Log(**{**log.__dict__, **frames})


def test_every_pattern_of_the_folder_is_found_and_carries_a_contract_name() -> None:
    folder = Path(eventlens.patterns.__file__).parent
    files = {path.stem for path in folder.glob("*.py") if not path.stem.startswith("_")}
    assert files == set(catalogue())
    assert all(re.fullmatch(r"[a-z]+(_[a-z]+)*", name) for name in files)


@each
def test_documentation_is_complete(pattern: Pattern) -> None:
    assert len(pattern.text.split("\n\n")) >= 2, "meaning, then definition"
    for word in ("Definition:", "Cost:"):
        assert word in pattern.text
    for item in pattern.limits:
        assert item.unit
        assert item.trade
        assert any(word in item.source for word in ("common practice", "from memory", "FEM", "IEC", "ASME", "OSHA"))
    assert pattern.severity in schema.SEVERITIES
    assert pattern.why_severity
    assert pattern.usually
    assert pattern.unit
    assert set(pattern.finest) <= {item.name for item in pattern.limits}
    assert all(signals.MOTIONS.get(motion) for motion in pattern.motions)


@each
def test_it_says_what_it_is_counted_against(pattern: Pattern) -> None:
    assert pattern.exposure in EXPOSURES
    needs = {name for way in pattern.needs for name in way}
    if pattern.exposure == "fast_run":
        assert any(".fast." in name for name in needs)
    if pattern.exposure in ("try", "fast_try"):
        assert any(name.endswith(".command") for name in needs)
    if pattern.exposure == "lift":
        assert pattern.motions == ("hoist",)


@each
def test_needs_name_signals_that_exist(pattern: Pattern) -> None:
    for way in pattern.needs:
        for template in way:
            for motion in pattern.motions or ("hoist",):
                name = template.format(motion=motion)
                own = signals.motion_of(name) or motion  # a pattern of the whole machine names the motions itself
                assert name.replace("*", signals.MOTIONS[own][0]).replace("+", signals.MOTIONS[own][1]) in signals.ALL


@each
def test_without_a_needed_signal_it_is_not_assessed_and_names_it(pattern: Pattern) -> None:
    for motion in pattern.motions:
        lacking = pattern.missing(set(), motion)
        assert lacking == () if not pattern.needs else lacking
    log = make_log([(0, "fault.reset", 0.0), (9000, "fault.reset", 1.0)])
    names = review_log(log, M5).not_assessed["pattern"].to_list()
    assert pattern.name in names


@each
def test_an_empty_log_and_one_event_give_nothing(pattern: Pattern) -> None:
    for records in ([], [(5.0, "hoist.raise.contactor", 1.0)]):
        review = review_log(make_log(records, end=10), M5)
        assert pattern.name not in review.occurrences["pattern"].to_list()


@each
def test_finding_leaves_the_callers_frames_alone(pattern: Pattern) -> None:
    log = logged(BUSY)
    before = log.events.clone(), log.segments.clone()
    review_log(log, M5)
    assert log.events.equals(before[0])
    assert log.segments.equals(before[1])


def test_moving_all_times_moves_the_findings_and_changes_nothing_else() -> None:
    log, by = logged(BUSY), timedelta(days=200, seconds=17)
    here, there = review_log(log, M5), review_log(moved(log, by), M5)
    expected = here.occurrences.with_columns(pl.col("start", "end") + by)
    assert expected.height >= 8
    assert there.occurrences.equals(expected)
    assert there.findings["summary"].to_list() == here.findings["summary"].to_list()


@each
def test_a_step_coarser_than_the_limit_is_not_resolvable(pattern: Pattern) -> None:
    if not pattern.finest:
        assert not pattern.limits or not any("must" in item.trade for item in pattern.limits)
        return
    finest = min(getattr(pattern.parameters(), name) for name in pattern.finest)
    records = merged(BUSY, pulse("trolley.fast.command", (1, 2)), pulse("bridge.forward.command", (1, 2)))
    finest = min(finest, pattern.coarsest(pattern.parameters()))
    for step, coarse in ((finest * 0.99, False), (finest * 1.01, True)):
        review = review_log(logged(records, step_s=step), M5)
        why = review.not_assessed.filter((pl.col("pattern") == pattern.name) & (pl.col("motion") == "hoist"))["why"]
        assert ("not_resolvable" in why.to_list()) is coarse


def test_occurrences_are_typed_sorted_and_prove_themselves() -> None:
    log = logged(BUSY)
    review = review_log(log, M5)
    rows = set(log.events["row"].to_list())
    assert all(set(proof) <= rows and proof for proof in review.occurrences["rows"].to_list())
    assert review.occurrences.equals(
        review.occurrences.sort("pattern", "motion", "signal", "start", "end", maintain_order=True)
    )


def test_limits_are_declared_once_and_every_limit_can_be_changed() -> None:
    names = [item.name for item in known_limits()]
    assert len(names) == len(set(names))
    assert {item.name for item in limits()} <= set(names)
    changed = Machine.model_validate({"limits": dict.fromkeys(names, 1.0)})
    for pattern in PATTERNS:
        assert all(getattr(pattern.configured(changed), item.name) == 1.0 for item in pattern.limits)
