"""Guards the assessment: what a log gives with load, without it, without a group; days by the calendar; the report."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, timedelta
from typing import Any

import polars as pl
import pytest

from eventlens.contract import to_dict
from eventlens.life.days import calendar, per_working_day, used
from eventlens.machine import Machine
from eventlens.report import text
from eventlens.result import Review
from eventlens.schema import TIME
from tests.logs import at, merged, run
from tests.patterns.helpers import reviewed

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


def test_parts_with_ratings() -> None:
    plate = machine(parts={"contactor_ac3": 1e6, "contactor_ac4": 3e4, "brake_stops": 1e6, "brake_before": 5e5})
    parts = {part.part: part for part in two_hours(plate).life["hoist"].parts}
    assert parts["contactor tips"].rated == pytest.approx(1e6)  # no jogs: pure AC-3
    assert parts["brake"].share == pytest.approx((5e5 + 72) / 1e6)
    assert parts["relay"].rated is None


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
    amounts = used(days, pl.Series([at(HOUR), at(20 * HOUR)], dtype=TIME), pl.Series([1.0, 2.5]), "Europe/Lisbon")
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
    life = to_dict(review)["life"]["hoist"]
    json.dumps(life, allow_nan=False)
    assert life["load_spectrum"]["k"] == pytest.approx(0.5)
    assert life["load_spectrum"]["km"] == pytest.approx(0.125)
    assert life["safe_working_period"]["duration_full_load_h"] == 1600
    page = text.render(review)
    assert "hours of full load used" in page
    assert "general overhaul" in " ".join(page.split())
    assert "L1 (light): k 0.50, km 0.125, measured" in " ".join(page.split())
