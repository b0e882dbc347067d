"""Guards the use of limits as stops: the daily test of the upper limit is none (OSHA 29 CFR 1910.179(n)(4))."""

from __future__ import annotations

import pytest

from eventlens.machine import Machine
from tests.logs import Records, at, merged, pulse, run
from tests.patterns.helpers import found, reviewed, spans, why

NAME = "limit_as_stop"
RATED = Machine.model_validate({"machine": {"id": "SAW-3", "rated_load_kg": 1000}})


def driven(when: float, way: str = "raise", *, motion: str = "hoist", load: float | None = None) -> Records:
    """A run that ends at its limit, and the run back that clears it."""
    back = {"raise": "lower", "lower": "raise", "left": "right"}[way]
    parts = [
        run(when, when + 5, way, motion=motion),
        run(when + 20, when + 22, back, motion=motion),
        [(when + 5, f"{motion}.{way}.limit", 1.0), (when + 21, f"{motion}.{way}.limit", 0.0)],
    ]
    if load is not None:
        parts.append([(when - 1, "load.kg", load), (when + 4, "load.kg", load), (when + 30, "load.kg", 0.0)])
    return merged(*parts)


def test_the_first_of_a_shift_is_the_daily_test_and_the_second_is_not() -> None:
    review = reviewed(merged(driven(60), driven(120)))
    assert spans(NAME, review) == [(at(125), at(141), "certain")]
    assert found(NAME, review)["signal"].to_list() == ["hoist.raise.limit"]


@pytest.mark.parametrize(("when", "count"), [(1800 - 5.0, 0), (1800 - 4.9, 1)])
def test_the_test_belongs_to_the_beginning_of_the_shift(when: float, count: int) -> None:
    # the shift begins with the first run, at 1 s: its first half hour ends at 1801 s
    assert len(spans(NAME, reviewed(merged(run(1, 3), driven(when + 1))))) == count


@pytest.mark.parametrize(("load", "count"), [(100.0, 0), (101.0, 1)])
def test_a_test_is_made_without_load(load: float, count: int) -> None:
    assert len(spans(NAME, reviewed(driven(60, load=load), machine=RATED))) == count


def test_a_load_that_hung_there_before_the_run_is_a_load() -> None:
    hanging = merged(driven(60), [(30.0, "load.kg", 500.0), (200.0, "load.kg", 0.0)])
    assert len(spans(NAME, reviewed(hanging, machine=RATED))) == 1


def test_each_shift_has_its_test() -> None:
    later = 5 * 3600.0
    assert spans(NAME, reviewed(merged(driven(60), driven(later)), end=later + 100)) == []
    stated = Machine.model_validate({"work": {"shifts": ["06:00-14:00"]}})
    review = reviewed(merged(driven(60), driven(later)), machine=stated, end=later + 100)
    assert len(spans(NAME, review)) == 1
    assert "as the machine file says" in review.findings["summary"][0]


@pytest.mark.parametrize(("hours", "certainty"), [(5.9, "certain"), (6.1, "possible")])
def test_a_shift_that_follows_without_a_rest_may_test_too(hours: float, certainty: str) -> None:
    busy = [run(600.0 * n, 600.0 * n + 5, "lower") for n in range(1, int(6 * hours))]
    review = reviewed(merged(driven(60), *busy, driven(hours * 3600 + 100)), end=hours * 3600 + 200)
    assert [span[2] for span in spans(NAME, review)] == [certainty]


@pytest.mark.parametrize(("hour", "certainty"), [(8, []), (10, ["possible"])])
def test_a_second_shift_that_the_rhythm_shows_has_its_test_too(hour: int, certainty: list[str]) -> None:
    # five days from 06:00 to 22:00: the second shift begins at 14:00, eight hours after the log
    work = [
        run(86400.0 * day + 600 * n + 400, 86400.0 * day + 600 * n + 405, "lower")
        for day in range(5)
        for n in range(96)
    ]
    records = merged(*work, driven(200), driven(hour * 3600.0 + 200))
    review = reviewed(records, end=5 * 86400.0)
    assert review.shifts.times == ("06:00-14:00", "14:00-22:00")
    assert [span[2] for span in spans(NAME, review)] == certainty


@pytest.mark.parametrize(("early", "count"), [(1799.0, 0), (1801.0, 1)])
def test_whoever_comes_early_tests_for_the_coming_shift(early: float, count: int) -> None:
    # the second shift begins at 14:00, eight hours after the log; the first one has had its test
    stated = Machine.model_validate({"work": {"shifts": ["06:00-14:00", "14:00-22:00"]}})
    review = reviewed(merged(driven(60), driven(8 * 3600 - early - 5)), machine=stated, end=8 * 3600.0)
    assert len(spans(NAME, review)) == count


@pytest.mark.parametrize(("way", "motion"), [("lower", "hoist"), ("left", "trolley")])
def test_other_limits_count_from_the_third_in_a_shift(way: str, motion: str) -> None:
    ways = ("raise", "lower") if motion == "hoist" else ("left", "right")
    carries = [f"{motion}.{side}.{kind}" for side in ways for kind in ("command", "contactor", "limit")]
    times = merged(*(driven(60.0 * n, way, motion=motion) for n in range(1, 5)))
    assert [span[0] for span in spans(NAME, reviewed(times, carries=carries))] == [at(185), at(245)]


def test_a_limit_that_comes_without_a_run_in_its_direction_is_none() -> None:
    pushed = merged(driven(60), run(200, 205, "lower"), pulse("hoist.raise.limit", (202.0, 203.0)))
    assert spans(NAME, reviewed([r for r in pushed if r[0] > 0])) == []


def test_without_a_limit_it_is_not_assessed() -> None:
    assert why(NAME, reviewed(run(10, 12), carries=("hoist.raise.contactor",)))[0][1] == "missing_signal"
