"""Guards shifts: as stated, by the local clock through its changes, or found from rests."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import polars as pl
import pytest
from pydantic import ValidationError

from eventlens.duty.shifts import shifts_of
from eventlens.machine import Machine
from eventlens.schema import TIME
from tests.logs import at

HOUR = 3600.0


def runs(*spans: tuple[float, float]) -> pl.DataFrame:
    return pl.DataFrame(
        {"start": [at(a * HOUR) for a, _ in spans], "end": [at(b * HOUR) for _, b in spans]},
        schema={"start": TIME, "end": TIME},
    )


def test_stated_shifts_begin_by_the_local_clock() -> None:
    found = shifts_of(runs((0.0, 0.1), (12.0, 12.1)), ("06:00-14:00", "14:00-22:00"), "UTC")  # from 06:00 on 2 March
    assert found.how == "as the machine file says"
    instants = pl.Series([at(-HOUR), at(0), at(7 * HOUR), at(8 * HOUR)], dtype=TIME)
    numbers = found.number(instants).to_list()
    assert numbers[2] == numbers[1] == numbers[0] + 1  # 05:00 belongs to the late shift of the day before
    assert numbers[3] == numbers[2] + 1
    assert found.since_s(instants).to_list()[1:] == [0.0, 7 * HOUR, 0.0]


def test_the_clock_change_moves_them() -> None:
    # Berlin, 29 March 2026: 06:00 is 05:00 UTC on the day before the change and 04:00 UTC on the day itself
    day = datetime(2026, 3, 28, 12, tzinfo=UTC)
    frame = pl.DataFrame({"start": [day], "end": [day + timedelta(hours=24)]}, schema={"start": TIME, "end": TIME})
    begins = shifts_of(frame, ("06:00-14:00",), "Europe/Berlin").begins.to_list()
    assert [b.hour for b in begins] == [5, 5, 4]


@pytest.mark.parametrize(("rest_h", "number"), [(3.9, 1), (4.0, 2)])
def test_a_long_rest_parts_shifts(rest_h: float, number: int) -> None:
    found = shifts_of(runs((0.0, 1.0), (1.0 + rest_h, 6.0)), (), "UTC")
    assert len(found.begins) == number
    assert "4 h" in found.how


def test_no_runs_no_shifts() -> None:
    assert shifts_of(runs(), (), "UTC").begins.is_empty()


@pytest.mark.parametrize("text", ["6-14", "06:00", "25:00-26:00", "06:00 to 14:00"])
def test_a_shift_is_written_in_one_way(text: str) -> None:
    with pytest.raises(ValidationError, match="06:00-14:00"):
        Machine.model_validate({"work": {"shifts": [text]}})
