"""overload_no_trip: too heavy for any setting, lifted for seconds, and no trip. Numbers counted by hand."""

from __future__ import annotations

import pytest

from eventlens.machine import Machine
from tests.logs import HOIST, Records, at, merged, run
from tests.patterns.helpers import M5, found, reviewed, spans, why

NAME = "overload_no_trip"
RATED = Machine.model_validate({"machine": {"id": "SAW-3", "rated_load_kg": 1000}})


def weights(*records: tuple[float, float | None]) -> Records:
    return [(0.0, "load.kg", 0.0), *((t, "load.kg", kg) for t, kg in records)]


def lifted(kg: float = 1300.0, *, raised: float = 5.0, came: float = 11.0, again: float | None = 0.2) -> Records:
    """A raise from 10 s on, the load on the hook from `came` on, confirmed by a second record; put down at 30 s."""
    scale = [(came - 0.2, kg / 2), (came, kg), *([(came + again, kg + 1)] if again is not None else []), (30.0, 0.0)]
    return merged(run(10, came + raised), run(20, 30, "lower"), weights(*scale))


def certainties(records: Records, **options: object) -> list[str]:
    return [span[2] for span in spans(NAME, reviewed(records, machine=RATED, **options))]  # type: ignore[arg-type]


def test_it_spans_the_stretch_and_takes_the_machine_out_of_service() -> None:
    review = reviewed(lifted(), machine=RATED)
    assert spans(NAME, review) == [(at(11), at(16), "certain")]
    own = found(NAME, review)
    # 0.2 s at 1300 kg and 4.8 s at 1301 kg
    assert own["measured"][0] == pytest.approx((0.2 * 1.3 + 4.8 * 1.301) / 5)
    assert own["signal"][0] == "overload.trip"
    finding = review.findings.row(0, named=True)
    assert (finding["pattern"], finding["severity"]) == (NAME, "out_of_service")
    assert "130 % of the rated load" in finding["summary"]


@pytest.mark.parametrize(("kg", "count"), [(1250.0, 0), (1249.0, 0), (1250.1, 1)])
def test_both_sides_of_the_highest_setting(kg: float, count: int) -> None:
    records = merged(run(10, 16), weights((10.5, 600.0), (11, kg), (11.2, kg), (30, 0.0)))
    assert len(certainties(records)) == count


@pytest.mark.parametrize(
    ("seconds", "certainty"), [(1.97, []), (1.98, ["possible"]), (2.01, ["possible"]), (2.02, ["certain"])]
)
def test_both_sides_of_two_seconds(seconds: float, certainty: list[str]) -> None:
    assert certainties(lifted(raised=seconds), step_s=0.01) == certainty


def test_a_device_that_trips_is_none() -> None:
    trip = [(11.3, "overload.trip", 1.0), (25.0, "overload.trip", 0.0)]
    records = merged(run(10, 11.32, command=(9.95, 13)), trip, weights((10.8, 600.0), (11, 1300.0), (11.1, 1301.0)))
    assert certainties(records) == []


def test_a_load_that_only_hangs_or_goes_down_is_none() -> None:
    records = merged(run(10, 12), run(20, 30, "lower"), weights((10.8, 600.0), (11, 1300.0), (11.1, 1301.0), (40, 0.0)))
    assert certainties(records) == []


def test_a_peak_of_the_swing_is_none() -> None:
    swing = [(11.0 + 0.5 * n, 1400.0 if n % 2 == 0 else 900.0) for n in range(12)]
    assert certainties(merged(run(10, 18), weights(*swing, (30, 0.0)))) == []


def test_a_single_record_is_only_possible() -> None:
    assert certainties(lifted(again=None)) == ["possible"]


@pytest.mark.parametrize(("kg", "certainty"), [(1998.0, "certain"), (2001.0, "possible")])
def test_more_than_a_motor_lifts_is_rather_the_scale(kg: float, certainty: str) -> None:
    assert certainties(lifted(kg)) == [certainty]


def test_a_load_that_came_while_nothing_raised_is_rather_the_scale() -> None:
    records = merged(run(10, 20), weights((5, 1300.0), (6, 1310.0), (30, 0.0)))
    assert certainties(records) == ["possible"]


def test_a_load_of_which_the_coming_is_not_in_the_log_is_only_possible() -> None:
    records = merged(run(10, 20), weights((11, None), (12, 1300.0), (12.1, 1310.0), (30, 0.0)))
    assert certainties(records) == ["possible"]


def test_a_lift_in_stages_counts_in_the_second_run() -> None:
    records = merged(run(10, 11.5), run(14, 18), weights((10.8, 600.0), (11, 1300.0), (11.1, 1301.0), (30, 0.0)))
    assert spans(NAME, reviewed(records, machine=RATED)) == [(at(14), at(18), "certain")]


def test_what_is_not_known_and_holes_end_it() -> None:
    unknown = merged(lifted(), [(12.0, "overload.trip", None)])
    assert certainties(unknown) == []
    records = merged(run(10, 13), weights((10.8, 600.0), (11, 1300.0), (11.1, 1301.0)))
    assert certainties(records, holes=[(12.5, 100.0)]) == []


@pytest.mark.parametrize(("step_s", "resolvable"), [(0.33, True), (0.34, False)])
def test_at_a_coarse_step_only_what_is_certain_is_reported(step_s: float, resolvable: bool) -> None:
    review = reviewed(lifted(), machine=RATED, step_s=step_s)
    assert [span[2] for span in spans(NAME, review)] == ["certain"]  # 5 s, far above the limit
    assert bool(why(NAME, review)) is not resolvable
    assert bool(spans(NAME, reviewed(lifted(raised=1.5), machine=RATED, step_s=step_s))) is resolvable


def test_percent_needs_no_rating() -> None:
    scale = [(0.0, "load.percent", 0.0), (10.8, "load.percent", 60.0), (11.0, "load.percent", 130.0)]
    records = merged(run(10, 16), scale, [(11.2, "load.percent", 131.0), (30.0, "load.percent", 0.0)])
    assert spans(NAME, reviewed(records, machine=M5)) == [(at(11), at(16), "certain")]


def test_not_assessed_without_rating_load_or_trip() -> None:
    assert why(NAME, reviewed(lifted(), machine=M5)) == [
        ("hoist", "missing_setting", ["machine file: [machine] rated_load_kg"])
    ]
    assert why(NAME, reviewed(run(10, 16), machine=RATED))[0][1:] == ("missing_signal", ["load.kg"])
    silent = [name for name in HOIST if name != "overload.trip"]
    assert why(NAME, reviewed(lifted(), silent, machine=RATED))[0][1:] == ("missing_signal", ["overload.trip"])
