"""Guards the assessment: what a log gives with load, without it, without a group; days by the calendar; the report."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eventlens.duty.groups import CONFIDENCES
from eventlens.errors import MachineError
from eventlens.life.days import calendar, per_working_day, used
from eventlens.machine import Machine, load_machine
from eventlens.report import text
from eventlens.result import Review
from eventlens.schema import TIME
from eventlens.wiring import review_log
from tests.logs import HOIST, at, make_log, merged, run
from tests.patterns.helpers import as_json, reviewed

HOUR = 3600.0


def machine(**sections: Any) -> Machine:
    return Machine.model_validate({"machine": {"id": "SAW-3"}, **sections})


def two_hours(plate: Machine, *, load: float | None = None) -> Review:
    """Two hours of running in runs of 100 s on a working day of 24 h, with or without a constant load."""
    runs = [run(HOUR + 200.0 * n, HOUR + 200.0 * n + 100) for n in range(72)]
    weighed = [] if load is None else [(0.0, "load.kg", load), (24 * HOUR, "load.kg", load)]
    return reviewed(merged(*runs, weighed), machine=plate, end=24 * HOUR)


def test_without_load_and_group_it_gives_what_it_can_and_says_what_would_help() -> None:
    life = two_hours(machine()).life["hoist"]
    assert life.running_h == pytest.approx(2.0)
    assert life.h_per_working_day == pytest.approx(2.0)
    assert (life.spectrum, life.needed, life.period, life.heat) == (None, None, None, None)
    assert life.needed_by_loading == {"L1": "M3", "L2": "M4", "L3": "M5", "L4": "M6"}  # T4, ISO 4301-1:1986
    assert any("load.kg" in note for note in life.notes)
    assert life.operations.starts == 72
    page = " ".join(text.render(two_hours(machine())).split())
    assert (
        "M3 with L1, M4 with L2, M5 with L3, M6 with L4 (FEM 9.511 / ISO 4301-1:1986); the machine file gives" in page
    )


def test_with_a_group_alone_the_hours_for_each_spectrum() -> None:
    plate = machine(machine={"id": "SAW-3", "group": "M5"}, life={"used_before_h": 310})
    review = two_hours(plate)
    life = review.life["hoist"]
    assert life.period is None
    # S = km T f of two hours, factor 1.1 of FEM 9.755 for a counter with an estimated spectrum
    expected = {name: 310 + 2 * km * 1.1 for name, km in (("L1", 0.125), ("L2", 0.25), ("L3", 0.5), ("L4", 1.0))}
    assert {name: one.used_h for name, one in life.period_by_loading.items()} == pytest.approx(expected)
    assert as_json(review)["life"]["hoist"]["used_full_load_h_by_load_spectrum"] == pytest.approx(expected)
    assert "safe period of 1600 hours of full load used: 310 with L1" in " ".join(text.render(review).split())
    assert two_hours(machine()).life["hoist"].period_by_loading == {}


def test_a_cell_from_memory_is_marked_without_load_too() -> None:
    # a few minutes a day are T0, whose row is from memory
    page = " ".join(text.render(reviewed(run(10, 20), machine=machine(), end=24 * HOUR)).split())
    assert "(FEM 9.511 / ISO 4301-1:1986, from memory: check it); the machine file gives none" in page


def test_what_was_not_observed_is_said() -> None:
    plate = machine(machine={"id": "SAW-3", "group": "M5"}, life={"load_spectrum": "L2"})
    notes = reviewed(run(10, 20), machine=plate, end=8 * HOUR, holes=[(HOUR, 3 * HOUR)]).life["hoist"].notes
    assert any(note.startswith("2.0 h of the log are not observed") for note in notes)
    assert not any("not observed" in note for note in two_hours(plate).life["hoist"].notes)


def test_without_a_group_the_needed_one_only() -> None:
    life = two_hours(machine(life={"load_spectrum": "L2"})).life["hoist"]
    assert life.needed is not None
    assert life.needed.group == "M4"  # T4, L2
    assert life.period is None


def test_measured_load_gives_the_hours_of_full_load() -> None:
    plate = machine(machine={"id": "SAW-3", "rated_load_kg": 1000, "group": "M5"})
    life = two_hours(plate, load=500.0).life["hoist"]
    assert life.spectrum is not None
    assert life.spectrum.how == "measured"
    assert life.spectrum.k == pytest.approx(0.5)
    assert life.period is not None
    assert life.period.recording == "automatic"
    assert life.period.in_log_h == pytest.approx(2.0 * 0.125, rel=0.01)  # km T f, f = 1.0
    heavier = two_hours(plate, load=900.0).life["hoist"].period
    assert heavier is not None
    assert heavier.remaining_h < life.period.remaining_h  # more load never gives more life


def test_what_is_not_recorded_is_not_called_so() -> None:
    plate = machine(
        machine={"id": "SAW-3", "group": "M5"},
        life={"load_spectrum": "L2", "recording": "automatic", "used_before_h": 310},
    )
    life = two_hours(plate).life["hoist"]
    assert life.period is not None
    assert (life.period.recording, life.period.factor) == ("counter_spectrum_estimated", 1.1)
    assert life.period.used_h == pytest.approx(310 + 2.0 * 0.25 * 1.1, rel=0.01)
    assert any("no load is measured" in note for note in life.notes)


def test_counters_that_are_read_by_hand_need_loads() -> None:
    # ISO 12482:2014, Table 1: 1.0 where counters of time and loads are read; 1.1 where the spectrum is only assumed
    def period(**life: Any) -> tuple[str, float]:
        stated = {"factor_set": "ISO 12482", "recording": "counter_read", **life}
        found = two_hours(machine(machine={"id": "SAW-3", "group": "M5"}, life=stated)).life["hoist"]
        assert found.period is not None
        noted = any("no load is in [life] load_classes" in note for note in found.notes)
        assert noted == ("load_spectrum" in life)
        return found.period.recording, found.period.factor

    assert period(load_classes=[[0.5, 1.0]]) == ("counter_read", 1.0)
    assert period(load_spectrum="L2") == ("counter_spectrum_estimated", 1.1)


def test_a_smaller_current_gives_the_tips_more_life() -> None:
    # rated at 25 A, the motor draws 10: ratio 2.5, K 3.5 (one contactor guide); no jogs, so A alone
    plate = machine(
        parts={"contactor_ac3": 1e6, "contactor_ac4": 3e4, "contactor_rated_a": 25, "motor_break_a": 10, "relay": 1e6}
    )
    review = two_hours(plate)
    parts = {part.part: part for part in review.life["hoist"].parts}
    assert parts["raise contactor"].rated == pytest.approx(3.5e6)
    assert parts["raise contactor"].confidence == "from one place"
    assert (parts["raise relay"].source, parts["raise relay"].confidence) == ("machine file", "machine file")
    page = " ".join(text.render(review).split())
    assert "life times 3.5 for breaking 10 of 25 A; mixed service by contactor guides, found in one place only" in page
    shown = {part["part"]: part for part in as_json(review)["life"]["hoist"]["parts"]}
    assert shown["raise contactor"]["rated"] == 3_500_000
    assert shown["raise contactor"]["source"] == "mixed service by contactor guides"


@pytest.mark.parametrize(
    ("currents", "message"),
    [
        ("contactor_rated_a = 25", "contactor_rated_a and motor_break_a, both or neither"),
        ("motor_break_a = 10", "contactor_rated_a and motor_break_a, both or neither"),
        ("contactor_rated_a = 9.9\nmotor_break_a = 10", "motor_break_a not above contactor_rated_a"),
    ],
)
def test_currents_that_do_not_fit_are_refused(currents: str, message: str, tmp_path: Path) -> None:
    path = tmp_path / "machine.toml"
    path.write_text(f"[parts]\n{currents}\n", "utf-8")
    with pytest.raises(MachineError, match=message):
        load_machine(path, [])
    path.write_text("[parts]\ncontactor_rated_a = 10\nmotor_break_a = 10\n", "utf-8")
    assert load_machine(path, []).parts.contactor_rated_a == 10


def test_the_category_of_the_contactors_is_in_the_review() -> None:
    # six jogs of one contactor within a minute: more than the five that AC-3 covers (IEC 60947-4-1, from memory)
    def asked(number: int) -> tuple[Review, dict[str, Any]]:
        review = reviewed(merged(*(run(10 + 5.0 * n, 10.4 + 5.0 * n) for n in range(number))), machine=machine())
        return review, as_json(review)["life"]["hoist"]["contactor_service"]

    review, needed = asked(6)
    assert (needed["category"], needed["makes"], needed["breaks"], needed["in_minute"]) == ("AC-4", 6, 6, 6)
    assert (needed["making_capacity"], needed["breaking_capacity"]) == (12, 10)
    page = " ".join(text.render(review).split())
    assert (
        "contactors AC-4 (cage motors: start, plugging, inching; makes 6 and breaks 6 times its rated current)" in page
    )
    assert "(IEC 60947-4-1, occasional inching, from memory: check it)" in page
    assert asked(5)[1]["category"] == "AC-3"


def test_twelve_weeks_are_drawn_as_weeks_and_a_week_as_days() -> None:
    def drawn(weeks: int) -> Review:
        day = 24 * HOUR
        runs = [
            run(day * (7 * w + d) + HOUR, day * (7 * w + d) + HOUR + 100 + 10 * d + w)
            for w in range(weeks)
            for d in range(5)
        ]
        plate = machine(machine={"id": "SAW-3", "group": "M5"}, life={"load_spectrum": "L2"})
        # the log begins at midnight, six hours before its origin
        return reviewed(merged(*runs), machine=plate, end=day * 7 * weeks, begin=-6 * HOUR)

    for weeks, what in ((1, "days"), (12, "weeks")):
        review = drawn(weeks)
        assert as_json(review)["life"]["hoist"]["safe_working_period"]["full_load_h_per_day"]["drawn"] == what
        assert f"interval from {what} drawn anew" in " ".join(text.render(review).split())


def test_every_result_says_which_rule_it_used_and_how_sure_that_is() -> None:
    plate = machine(
        machine={"id": "SAW-3", "rated_load_kg": 1000, "group": "M5"},
        parts={"contactor_ac3": 1e6, "contactor_ac4": 3e4, "brake_stops": 1e6},
    )
    for review in (two_hours(plate, load=500.0), two_hours(plate)):
        life = as_json(review)["life"]["hoist"]
        tables = ["starts_per_hour", "contactor_service", "motor_rating_needed", "needed_crane_class", "inspection"]
        tables += ["load_spectrum", "needed_group", "safe_working_period"] if life["load_spectrum"] else []
        ruled = [*(life[name] for name in tables), *life["parts"], as_json(review)["duty"]["hoist"]]
        flat = ["needed_class"] if life["load_spectrum"] else ["needed_class", "used_full_load_h_by_load_spectrum"]
        ruled += [{key: life[f"{name}_{key}"] for key in ("source", "confidence")} for name in flat]
        for result in ruled:
            assert result["source"]
            assert result["confidence"] in CONFIDENCES
        assert life["motor_heat"]["assumes"]
        assert life["motor_heat"]["confidence"] in CONFIDENCES
        assert life["needed_group_by_load_spectrum_confidence"] in CONFIDENCES


def test_parts_with_ratings() -> None:
    plate = machine(parts={"contactor_ac3": 1e6, "contactor_ac4": 3e4, "brake_stops": 1e6, "brake_before": 5e5})
    parts = {part.part: part for part in two_hours(plate).life["hoist"].parts}
    assert parts["raise contactor"].rated == pytest.approx(1e6)  # no jogs: pure AC-3
    assert parts["brake"].share == pytest.approx((5e5 + 72) / 1e6)
    assert parts["raise relay"].rated is None
    assert set(parts) == {"raise contactor", "raise relay", "brake"}  # nothing was lowered, no height is measured


def test_what_is_left_lasts_as_long_as_the_rate_says() -> None:
    plate = machine(parts={"brake_stops": 1072, "relay": 500, "relay_before": 450})
    parts = {part.part: part for part in two_hours(plate).life["hoist"].parts}
    # 72 stops on a day of 18 h in the calendar, of the second day 6 h without any: 72 a day; 1000 left. By hand
    assert parts["brake"].until is not None
    assert parts["brake"].until.at == at(24 * HOUR) + timedelta(days=1000 / 72)
    assert parts["raise relay"].until is not None
    assert parts["raise relay"].until.at == at(24 * HOUR)  # 522 of 500: used up


def test_each_direction_has_its_own_contactor() -> None:
    # twenty raises; forty lowerings, half of them jogs: tips of the lower contactor last half as long and less
    ups = [run(100.0 * n, 100.0 * n + 5) for n in range(1, 21)]
    downs = [
        run(100.0 * n + 30 + 10 * m, 100.0 * n + 35 - 4.5 * m + 10 * m, "lower") for n in range(1, 21) for m in (0, 1)
    ]
    plate = machine(parts={"contactor_ac3": 1.2e6, "contactor_ac4": 3e4})
    parts = {part.part: part for part in reviewed(merged(*ups, *downs), machine=plate).life["hoist"].parts}
    assert (parts["raise contactor"].in_log, parts["lower contactor"].in_log) == (20, 40)
    assert parts["raise contactor"].rated == pytest.approx(1.2e6)
    assert parts["lower contactor"].rated == pytest.approx(1.2e6 / (1 + 0.5 * 39))  # N = A / (1 + c (A/B - 1))


def test_rope_is_bent_by_measured_height() -> None:
    # up 8 m, down 8 m on a path of 8 m: one full path, three bending cycles each by the reeving
    height = [(0.0, "hoist.height_m", 0.0), (20.0, "hoist.height_m", 8.0), (50.0, "hoist.height_m", 0.0)]
    plate = machine(parts={"rope_cycles": 30000, "rope_bends_per_path": 3, "hook_path_m": 8})
    life = reviewed(merged(run(10, 20), run(40, 50, "lower"), height), machine=plate).life["hoist"]
    rope = next(part for part in life.parts if part.part == "rope")
    assert rope.in_log == pytest.approx(3.0)
    without = reviewed(run(10, 20), machine=plate).life["hoist"]
    assert "rope" not in {part.part for part in without.parts}
    assert any("hoist.height_m" in note for note in without.notes)


def test_classes_entered_by_hand_with_dead_load() -> None:
    plate = machine(
        machine={"id": "SAW-3", "group": "M5", "rated_load_kg": 1000},
        life={"load_classes": [[1.0, 0.5], [0.0, 0.5]], "dead_load_kg": 100},
    )
    life = two_hours(plate).life["hoist"]
    assert life.spectrum is not None
    assert life.spectrum.how == "classes"
    assert life.spectrum.km == pytest.approx(0.5 * 1.1**3 + 0.5 * 0.1**3)  # FEM 9.511, full form
    assert life.period is not None
    assert life.period.in_log_h == pytest.approx(2.0 * life.spectrum.km * 1.1, rel=0.01)
    # the full form is from memory, and so is all that it decides
    assert {life.spectrum.confidence, life.period.confidence} == {"from memory"}
    assert life.needed is not None
    assert life.needed.confidence == "from memory"
    page = " ".join(text.render(two_hours(plate)).split())
    assert "from the classes in the machine file, with dead load (from memory: check it)" in page
    assert any("load.kg" in note for note in life.notes)  # what the load would add
    nameless = two_hours(machine(life={"load_classes": [[1.0, 1.0]], "dead_load_kg": 100})).life["hoist"]
    assert nameless.spectrum is not None
    assert nameless.spectrum.km == 1.0
    assert any("dead load is left out" in note for note in nameless.notes)


def test_hours_take_the_factor_and_groups_the_mean() -> None:
    # k 0.63 is the edge of L2: with km (0.25) in its place the group would fall to L1, and with k in the hours
    # of full load they would be two and a half times as many
    plate = machine(machine={"id": "SAW-3", "group": "M5", "rated_load_kg": 1000})
    life = two_hours(plate, load=630.0).life["hoist"]
    assert life.needed is not None
    assert (life.needed.loading, life.needed.group) == ("L2", "M4")
    assert life.period is not None
    assert life.period.in_log_h == pytest.approx(2.0 * 0.63**3, rel=0.01)


def test_empty_running_is_part_of_the_time() -> None:
    # of two hours of running one is empty: km 0.5, k cbrt(0.5)
    plate = machine(machine={"id": "SAW-3", "group": "M5", "rated_load_kg": 1000})
    runs = [run(HOUR + 200.0 * n, HOUR + 200.0 * n + 100) for n in range(72)]
    weighed = [(HOUR - 10 + 200.0 * n, "load.kg", 1000.0 * (n % 2)) for n in range(72)]
    life = reviewed(merged(*runs, weighed), machine=plate, end=24 * HOUR).life["hoist"]
    assert life.spectrum is not None
    assert (life.spectrum.km, life.spectrum.k) == (pytest.approx(0.5), pytest.approx(0.5 ** (1 / 3)))
    assert life.spectrum.known_h == pytest.approx(2.0)


@settings(max_examples=5, deadline=None)
@given(st.integers(3, 68), st.lists(st.integers(0, 12), min_size=72, max_size=72))
def test_a_log_in_two_pieces_has_used_as_much_as_the_whole(cut: int, weights: list[int]) -> None:
    plate = machine(machine={"id": "SAW-3", "group": "M5", "rated_load_kg": 1000})
    runs = [run(HOUR + 200.0 * n, HOUR + 200.0 * n + 100) for n in range(72)]
    weighed = [(HOUR + 190.0 + 200.0 * (n - 1), "load.kg", 100.0 * weight) for n, weight in enumerate(weights)]
    records, border = merged(*runs, weighed), HOUR + 200.0 * cut - 20

    def used_h(part: list[tuple[float, str, float | None]], **bounds: float) -> float:
        life = review_log(make_log(part, carries=HOIST, **bounds), plate).life["hoist"]  # type: ignore[arg-type]
        return life.period.in_log_h if life.period else 0.0

    early, late = [r for r in records if r[0] < border], [r for r in records if r[0] >= border]
    whole = used_h(records, end=24 * HOUR)
    assert used_h(early, end=border) + used_h(late, begin=border, end=24 * HOUR) == pytest.approx(whole, abs=1e-9)


def test_automatic_records_where_the_set_knows_none() -> None:
    plate = machine(
        machine={"id": "SAW-3", "group": "M5", "rated_load_kg": 1000}, life={"factor_set": "makers' manuals"}
    )
    period = two_hours(plate, load=500.0).life["hoist"].period
    assert period is not None
    assert (period.recording, period.factor) == ("counter_spectrum_estimated", 1.2)


def test_heat_is_modelled_where_the_motor_is_known() -> None:
    life = two_hours(machine(machine={"id": "SAW-3", "group": "M5"})).life["hoist"]
    assert life.heat is not None
    assert 0.5 < life.heat.peak < 2.0  # half of the time running, where 40 % are rated
    assert life.heat.assumes


def test_days_by_the_local_calendar() -> None:
    # 06:00 UTC on 2 March 2026 for 30 h: 18 h of that day in UTC, 12 of the next; in Lisbon the same
    segments = pl.DataFrame({"start": [at(0)], "end": [at(30 * HOUR)]}, schema={"start": TIME, "end": TIME})
    days = calendar(segments, "Europe/Lisbon")
    assert days["day"].to_list() == [date(2026, 3, 2), date(2026, 3, 3)]
    assert days["weekday"].to_list() == [1, 2]
    assert days["observed"].to_list() == pytest.approx([18 / 24, 12 / 24])
    on = pl.Series([date(2026, 3, 2), date(2026, 3, 3)])
    amounts = used(days, on, pl.Series([1.0, 2.5]))
    assert amounts["use"].to_list() == [1.0, 2.5]
    assert per_working_day(amounts) == pytest.approx(1.75)


def test_the_day_of_the_clock_change_is_23_hours_long() -> None:
    start = datetime(2026, 3, 28, 23, tzinfo=UTC)  # midnight in Berlin
    end = start + timedelta(hours=11, minutes=30)
    segments = pl.DataFrame({"start": [start], "end": [end]}, schema={"start": TIME, "end": TIME})
    days = calendar(segments, "Europe/Berlin")
    assert days.filter(pl.col("observed") > 0)["observed"].to_list() == pytest.approx([11.5 / 23])


def test_json_and_report_say_the_same() -> None:
    plate = machine(machine={"id": "SAW-3", "rated_load_kg": 1000, "group": "M5"})
    review = two_hours(plate, load=500.0)
    life = as_json(review)["life"]["hoist"]
    json.dumps(life, allow_nan=False)
    assert life["motor_heat"]["reserve"] == pytest.approx(1 - life["motor_heat"]["peak"])
    assert life["motor_heat"]["confidence"] == "from memory"
    assert life["inspection"]["name"] == "heavy"  # 50 % of its working hours
    assert [rule["needs"].split()[1] for rule in life["inspection"]["after_idle"]] == [
        "periodic",
        "complete",
        "frequent",
    ]
    assert life["motor_rating_needed"]["cyclic_duration"] == 0.6  # 100 s in 200 s
    assert life["load_spectrum"]["k"] == pytest.approx(0.5)
    assert life["load_spectrum"]["km"] == pytest.approx(0.125)
    assert life["safe_working_period"]["duration_full_load_h"] == 1600
    page = text.render(review)
    for phrase in (
        "idle for over 6 months: a complete inspection before use (OSHA 29 CFR 1910.179(j)(4), from memory: check it)",
        "heavy service by running 5",
        "its time constants are from memory: check them",
        "hours of full load in a year",
        "motor needed S4 60 % with 150 starts an hour, by its busiest times: equal cycles of running and rest",
    ):
        assert phrase in " ".join(page.split())
    assert "hours of full load used" in page
    assert "general overhaul" in " ".join(page.split())
    assert "L1 (light): k 0.50, km 0.125, measured" in " ".join(page.split())
