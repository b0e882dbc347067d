"""Guards lifts and work cycles: counted by hand, against a plain count over the tracks, and what is only assumed."""

from __future__ import annotations

import json
import math
import random

import polars as pl
import pytest

from eventlens import schema
from eventlens.duty.lifts import LiftParameters, Lifts, count_lifts, lift_table, trip_rates
from eventlens.duty.load import HIGHEST, RATED, Load, above, load_of
from eventlens.machine import Machine
from eventlens.simulation import ORDINARY, Scenario, as_log, simulate
from eventlens.simulation.scenario import signals_of
from eventlens.wiring import review_log
from tests.logs import at, make_log, merged, off, run

RATING = 1000.0
P = LiftParameters()


def runs(*spans: tuple[float, float] | tuple[float, float, str], segment: int = 0, seen: bool = True) -> pl.DataFrame:
    """Runs of the hoist from start to end [s], raising unless said else."""
    return pl.DataFrame(
        [
            {
                "motion": "hoist",
                "direction": span[2] if len(span) > 2 else "raise",
                "start": at(span[0]),
                "end": at(span[1]),
                "start_seen": seen,
                "segment": segment,
            }
            for span in spans
        ],
        schema={
            name: schema.RUNS.columns[name].dtype
            for name in ("motion", "direction", "start", "end", "start_seen", "segment")
        },
    )


def load(*records: tuple[float, float | None], end: float = 10_000.0, rated: float | None = RATING) -> Load:
    """The load of records (second, kg)."""
    found = measured(*((t, "load.kg", kg) for t, kg in records), end=end, rated=rated)
    assert found is not None
    return found


def measured(
    *records: tuple[float, str, float | None], end: float = 10_000.0, rated: float | None = RATING
) -> Load | None:
    events = pl.DataFrame(
        [
            {"time": at(t), "signal": name, "value": v, "row": n + 2, "segment": 0}
            for n, (t, name, v) in enumerate(records)
        ],
        schema=schema.EVENTS.schema,
    )
    return load_of(events, segments((0, 0.0, end)), rated)


def segments(*parts: tuple[int, float, float]) -> pl.DataFrame:
    rows = [{"segment": n, "start": at(a), "end": at(b), "rows": 2} for n, a, b in parts]
    return pl.DataFrame(rows, schema=schema.SEGMENTS.schema)


def counted(*args: object, **options: object) -> tuple[int, int]:
    found = count_lifts(*args, P, **options)  # type: ignore[arg-type]
    return found.lifts, found.cycles


class TestLoad:
    def test_it_holds_from_record_to_record_and_to_the_end_of_the_stretch(self) -> None:
        steps = load((10, 500.0), (20, -5.0), end=60).steps.select("start", "end", "ratio", "row").rows()
        assert steps == [(at(10), at(20), 0.5, 2), (at(20), at(60), 0.0, 3)]

    @pytest.mark.parametrize("value", [None, float("nan"), float("inf")])
    def test_what_was_not_understood_is_not_known(self, value: float | None) -> None:
        steps = load((10, 500.0), (20, value), (30, 0.0), end=60).steps.select("start", "end").rows()
        assert steps == [(at(10), at(20)), (at(30), at(60))]

    def test_nothing_is_carried_over_a_hole(self) -> None:
        rows = [(10.0, 0, 500.0), (90.0, 1, 0.0)]
        events = pl.DataFrame(
            [{"time": at(t), "signal": "load.kg", "value": v, "row": 2, "segment": n} for t, n, v in rows],
            schema=schema.EVENTS.schema,
        )
        found = load_of(events, segments((0, 0, 40), (1, 80, 100)), RATING)
        assert found is not None
        assert found.steps.select("start", "end").rows() == [(at(10), at(40)), (at(90), at(100))]

    @pytest.mark.parametrize(
        ("name", "rated", "ratio", "of"),
        [
            ("load.kg", 1000.0, 0.05, RATED),
            ("load.kg", None, 1.0, HIGHEST),
            ("load.percent", None, 0.5, RATED),
            ("load.percent", 1000.0, 0.5, RATED),
        ],
    )
    def test_in_shares_of_the_rated_load_where_it_is_known(
        self, name: str, rated: float | None, ratio: float, of: str
    ) -> None:
        found = measured((0, name, 50.0), rated=rated)
        assert found is not None
        assert (found.steps["ratio"][0], found.of) == (ratio, of)

    def test_kilograms_without_a_rating_give_way_to_percent(self) -> None:
        found = measured((0, "load.kg", 700.0), (0, "load.percent", 70.0), rated=None)
        assert found is not None
        assert (found.steps["ratio"].to_list(), found.rated) == ([0.7], True)

    def test_none_where_none_is_measured(self) -> None:
        assert measured() is None
        assert measured((0, "load.kg", 0.0), rated=None) is None

    def test_stretches_above_a_ratio_join_what_touches(self) -> None:
        found = above(load((0, 0.0), (10, 1300.0), (12, 1400.0), (15, 200.0), (20, 1250.0), (25, 1260.0), end=30), 1.25)
        assert found.select("start", "end", "lowest", "highest", "records", "start_row", "end_row").rows() == [
            (at(10), at(15), 1.3, 1.4, 2, 3, 4),
            (at(25), at(30), 1.26, 1.26, 1, 7, 7),  # 1.25 itself is not above it
        ]


class TestLifts:
    def test_up_with_the_load_and_up_with_the_empty_hook(self) -> None:
        work = runs((20, 30), (40, 50, "lower"), (60, 70), (100, 110), (120, 130, "lower"))
        hook = load((0, 0.0), (21, 600.0), (49, 0.0), (101, 950.0), (129, 0.0))
        found = count_lifts(work, hook, P)
        assert (found.lifts, found.cycles, found.how, found.unknown) == (2, 2, "measured", 0)
        assert found.cycle_s == 80.0  # picked up at 21 s and at 101 s
        assert {(c.above, c.upto): c.lifts for c in found.classes if c.lifts} == {(0.5, 0.75): 1, (0.9, 1.0): 1}
        assert (found.near_rated, found.above_rated) == (1, 0)

    @pytest.mark.parametrize(("pause", "lifts"), [(10.0, 1), (10.01, 2)])
    def test_short_pauses_belong_to_a_lift(self, pause: float, lifts: int) -> None:
        work = runs((20, 25), (25 + pause, 45 + pause))
        assert counted(work, load((0, 0.0), (21, 600.0))) == (lifts, 1)  # the load hangs on: one work cycle

    @pytest.mark.parametrize(("kg", "lifts"), [(100.0, 0), (101.0, 1)])
    def test_the_empty_hook_weighs_something(self, kg: float, lifts: int) -> None:
        assert counted(runs((20, 30)), load((0, 0.0), (21, kg)))[0] == lifts

    @pytest.mark.parametrize(("raised", "lifts"), [(0.99, 0), (1.0, 1)])
    def test_fitting_a_load_is_no_lift(self, raised: float, lifts: int) -> None:
        assert counted(runs((20, 20 + raised)), load((0, 0.0), (15, 500.0)))[0] == lifts
        assert counted(runs((20, 20 + raised)), None)[0] == lifts

    def test_a_spike_of_the_scale_is_no_load(self) -> None:
        assert counted(runs((20, 30)), load((0, 0.0), (25, 900.0), (25.5, 0.0))) == (0, 0)

    @pytest.mark.parametrize(("empty_s", "cycles"), [(9.9, 1), (10.0, 2)])
    def test_a_work_cycle_begins_where_the_hook_was_empty(self, empty_s: float, cycles: int) -> None:
        work = runs((20, 30), (60, 70))
        hook = load((0, 0.0), (21, 600.0), (61 - empty_s, 0.0), (61, 500.0))
        assert counted(work, hook) == (2, cycles)

    def test_the_load_of_a_lift_is_its_middle_not_its_swing(self) -> None:
        hook = load((0, 0.0), (20.2, 300.0), (20.6, 1150.0), (21.0, 600.0), (29.8, 650.0))
        table = lift_table(runs((20, 30)), hook, P)
        # of 9.8 s with a load 8.8 s are at 600 kg
        assert table.select("known_s", "loaded_s", "ratio").row(0) == pytest.approx((10.0, 9.8, 0.6))

    def test_a_lift_whose_beginning_is_not_in_the_log_is_none(self) -> None:
        assert counted(runs((20, 30), seen=False), load((0, 0.0), (21, 600.0))) == (0, 0)

    def test_a_hole_parts_lifts_and_proves_no_new_cycle(self) -> None:
        work = pl.concat([runs((20, 30)), runs((32, 40), segment=1)])
        steps = pl.concat(
            [
                load((0, 0.0), (21, 600.0), end=30).steps,
                load((31, 600.0), end=90).steps.with_columns(segment=pl.lit(1, pl.UInt32)),
            ]
        )
        assert counted(work, Load(steps, RATED)) == (2, 1)

    def test_lowering_and_other_motions_are_none(self) -> None:
        other = runs((20, 30)).with_columns(
            motion=pl.lit("bridge", schema.MOTION), direction=pl.lit("forward", schema.DIRECTION)
        )
        assert counted(pl.concat([runs((40, 50, "lower")), other]), load((0, 500.0))) == (0, 0)

    def test_without_a_rating_there_are_lifts_but_no_classes(self) -> None:
        found = count_lifts(runs((20, 30)), load((0, 0.0), (21, 600.0), rated=None), P)
        assert (found.lifts, found.classes) == (1, ())
        assert "highest load measured" in found.assumes

    def test_class_borders_belong_to_the_class_below(self) -> None:
        borders = (0.25, 0.5, 0.75, 0.9, 1.0, 1.1, 1.25, 1.3)
        work = runs(*((100 * n, 100 * n + 10) for n in range(1, 9)))
        hook = load((0, 0.0), *((100.0 * n, 1000 * b) for n, b in enumerate(borders, 1)))
        assert [c.lifts for c in count_lifts(work, hook, P).classes] == [1] * 8


class TestAssumed:
    @pytest.mark.parametrize(("raises", "lifts"), [(0, 0), (1, 1), (2, 1), (5, 3)])
    def test_every_second_raise_is_a_lift(self, raises: int, lifts: int) -> None:
        found = count_lifts(runs(*((100 * n, 100 * n + 10) for n in range(raises))), None, P)
        assert (found.lifts, found.cycles, found.how, found.classes) == (lifts, lifts, "assumed", ())
        assert f"no load is measured: of {raises} raises" in found.assumes

    @pytest.mark.parametrize(("until", "how"), [(210.0, "measured"), (110.0, "assumed")])
    def test_where_the_load_is_seldom_known_it_is_not_used(self, until: float, how: str) -> None:
        work = runs((100, 110), (200, 210), (300, 310), (400, 410))
        found = count_lifts(work, load((0, 0.0), (101, 500.0), (until, None)), P)
        assert found.how == how
        assert found.unknown == (2 if how == "measured" else 0)
        assert how == "measured" or "known in 1 of 4 raises only" in found.assumes


def test_trip_rates_divide_by_lifts_running_and_observed_time() -> None:
    lifts = Lifts(50, 50, "measured", "", 0, None, ())
    found = trip_rates(3, lifts, running_s=1800.0, observed_s=36_000.0)
    values = [rate.value if rate else None for rate in (found.per_100_lifts, found.per_running_h, found.per_observed_h)]
    assert values == pytest.approx([6.0, 6.0, 0.3])
    assert found.per_100_lifts is not None
    # Garwood limits of a count of 3: 0.6187 and 8.7673, here over half a hundred
    assert (found.per_100_lifts.low, found.per_100_lifts.high) == pytest.approx((2 * 0.6187, 2 * 8.7673), abs=1e-3)
    nothing = trip_rates(0, Lifts(0, 0, "measured", "", 0, None, ()), running_s=0.0, observed_s=10.0)
    assert (nothing.per_100_lifts, nothing.per_running_h) == (None, None)


def test_the_json_form_has_them_all() -> None:
    weights = [(0.0, "load.kg", 0.0), (101.0, "load.kg", 950.0), (130.0, "load.kg", 0.0)]
    records = merged(off("hoist.raise.contactor", "overload.trip"), run(100, 110), run(200, 210), weights)
    rated = Machine.model_validate({"machine": {"rated_load_kg": 1000}, "work": {"shifts": ["06:00-14:00"]}})
    found = json.loads(review_log(make_log(records, end=3600), rated).to_json())
    assert found["shifts"] == {"times": ["06:00-14:00"], "days": [], "how": "as the machine file says"}
    lifts, trips = (found["motions"]["hoist"][key] for key in ("lifts", "overload_trips"))
    classes = lifts.pop("load_classes")
    assert lifts == {
        "lifts": 1,
        "work_cycles": 1,
        "how": "measured",
        "assumes": "a lift moves more than 10 % of the rated load",
        "load_unknown": 0,
        "work_cycle_s": None,
    }
    assert classes[4] == {"above": 0.9, "upto": 1, "lifts": 1, "share": 1}
    assert (classes[0]["above"], classes[-1]["above"], classes[-1]["upto"]) == (0.1, 1.25, None)
    assert trips["trips"] == 0
    # 3.689 over one lift, twenty seconds of running and an hour (Garwood)
    highs = [trips[f"per_{unit}"]["high"] for unit in ("100_lifts", "running_hour", "observed_hour")]
    assert highs == pytest.approx([368.9, 3.689 * 180, 3.689], rel=1e-4)


def test_where_raising_is_not_logged_there_are_none() -> None:
    hoist = review_log(make_log(run(10, 20, "lower"), end=100, carries=("hoist.lower.contactor",)), Machine()).motions
    assert hoist["hoist"].lifts is None
    assert json.loads(review_log(make_log([]), Machine()).to_json())["motions"] == {}


@pytest.mark.parametrize("seed", range(3))
def test_against_a_plain_count(seed: int) -> None:
    """Random work in whole tenths of a second, weighed tenth by tenth."""
    rng = random.Random(seed)
    t, spans, records = 100, [], [(0, 0.0)]
    while t < 40_000:
        begin = t + rng.choice((5, 60, 99, 100, 101, 300))
        t = begin + rng.choice((3, 9, 10, 11, 80))
        spans.append((begin, t))
    for when in sorted(rng.sample(range(50, 40_000), 300)):
        records.append((when, rng.choice((0.0, 0.0, 80.0, 100.0, 101.0, 500.0, 1200.0))))
    table = lift_table(
        runs(*((a / 10, b / 10) for a, b in spans)), load(*((w / 10, kg) for w, kg in records), end=5000), P
    )
    chains: list[list[tuple[int, int]]] = []
    for a, b in spans:
        if chains and a - chains[-1][-1][1] <= 100:
            chains[-1].append((a, b))
        else:
            chains.append([(a, b)])
    weights, kg = [], 0.0
    by_time = dict(records)
    for tick in range(50_000):
        kg = by_time.get(tick, kg)
        weights.append(kg)
    loaded = [[weights[k] for a, b in chain for k in range(a, b) if weights[k] > 100.0] for chain in chains]
    assert table.height == len(chains)
    assert table["loaded_s"].to_list() == pytest.approx([len(some) / 10 for some in loaded])
    middles = [sorted(some)[math.ceil(len(some) / 2) - 1] / 1000 if some else None for some in loaded]
    assert table["ratio"].to_list() == pytest.approx(middles)
    assert table["lift"].to_list() == [len(some) >= 10 for some in loaded]


@pytest.mark.parametrize("seed", range(2))
def test_what_is_assumed_comes_near_what_is_measured(seed: int) -> None:
    """People fetch a load and come back with the empty hook: half of the raises lift."""
    scenario = Scenario(ranges=ORDINARY, signals=signals_of(load=True), shifts=((6.0, 14.0),))
    simulated = simulate(scenario, seed=seed, step_s=0.02)
    log = as_log(simulated)
    table = review_log(log, simulated.machine).runs
    real = count_lifts(table, load_of(log.events, log.segments, scenario.rated_kg), P)
    guess = count_lifts(table, None, P)
    assert real.lifts > 20
    assert guess.lifts == pytest.approx(real.lifts, rel=0.15)
