"""Guards clock steps: set back and forward with their spans, none where there is none, no machine fault from them."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import polars as pl
import pytest

import eventlens
from eventlens.machine import Machine
from eventlens.result import Review
from eventlens.simulation import Scenario, simulate
from tests.patterns.helpers import found, why

H = "seq,time,signal,value\n"
RUN = "hoist.raise.contactor"


def reviewed(folder: Path, text: str) -> Review:
    path = folder / "log.csv"
    path.write_text(text)
    return eventlens.review(path, machine=Machine())


def spans(review: Review) -> list[tuple[str, str, float, str]]:
    """Clock times of start and end, seconds, certainty of each step."""
    rows = found("clock_step", review).select("start", "end", "measured", "certainty").rows()
    return [(f"{a:%H:%M:%S}", f"{b:%H:%M:%S}", seconds, certainty) for a, b, seconds, certainty in rows]


def test_a_clock_that_was_set_back(tmp_path: Path) -> None:
    rows = ("101,10:00:00,1", "102,10:00:40,0", "103,09:58:00,1", "104,09:58:25,0")
    text = "".join("{},2024-06-03 {},{run},{}\n".format(*row.split(","), run=RUN) for row in rows)
    review = reviewed(tmp_path, H + text)
    # it begins and ends with the last instant by the old clock; 160 s counted by hand
    assert spans(review) == [("10:00:40", "10:00:40", -160.0, "certain")]
    assert found("clock_step", review)["rows"].to_list() == [[3, 4]]
    assert review.motions["hoist"].starts == 0  # both runs begin with the first record of a clock: no change was seen
    assert why("clock_step", review) == [(None, "missing_signal", ["a heartbeat or a fixed sample cycle"])]


def beating(jump_at: int, jump_s: float, *, counts: bool) -> str:
    """A counter, a heartbeat each ten seconds; after beat `jump_at` the clock shows `jump_s` more."""
    rows = []
    for at in range(60):
        second = 10 * at + (jump_s if at > jump_at else 0)
        stamp = f"2024-06-03 {int(6 + second // 3600):02}:{int(second // 60 % 60):02}:{int(second % 60):02}"
        number = 5000 + at if counts else 5000 + 7 * at % 11
        rows.append(f"{number},{stamp},HB,1\n")
    return H + f"4999,2024-06-03 06:00:00,{RUN},0\n" + "".join(rows)


@pytest.mark.parametrize(
    ("jump_s", "counts", "want", "holes"),
    [
        (2000.0, True, [("06:04:50", "06:38:20", 2010.0, "possible")], 0),  # the counter runs on
        (2000.0, False, [], 1),  # nothing contradicts the stamps: a silence is a silence
        (3600.0, False, [("06:04:50", "07:05:00", 3610.0, "possible")], 0),  # an hour, and the beat in step
        (3595.0, False, [], 1),  # not in step
        (20.0, True, [], 0),  # three periods are no silence
        (21.0, True, [("06:04:50", "06:05:21", 31.0, "possible")], 0),
    ],
)
def test_forward_it_shows_only_against_something(
    jump_s: float, counts: bool, want: list[tuple[str, str, float, str]], holes: int, tmp_path: Path
) -> None:
    review = reviewed(tmp_path, beating(29, jump_s, counts=counts))
    assert spans(review) == want
    assert review.log.holes.height == holes
    assert review.log.observed_s == pytest.approx(590 if not want and not holes and jump_s == 20 else 580, abs=20.0)


@pytest.fixture(scope="module")
def healthy() -> pl.DataFrame:
    """Records of a healthy week, heartbeat included; seeded."""
    return simulate(Scenario(), seed=11, days=5, step_s=0.05).recording.records.select("time", "name", "value")


def damaged(records: pl.DataFrame, kind: str) -> pl.DataFrame:
    """The records in their order, by a clock that was set wrong in the middle of a working day (UTC)."""
    day = records["time"][0].replace(hour=0, minute=0, second=0, microsecond=0) + timedelta(days=2)
    noon, later = day + timedelta(hours=10, minutes=3), day + timedelta(hours=26)
    time = pl.col("time")
    moved = {
        "back": pl.when(time >= noon).then(time - timedelta(minutes=47)),
        "forward": pl.when(time >= noon).then(time + timedelta(minutes=47)),
        "factory date": pl.when(time >= noon, time < later).then(time - timedelta(days=9500)),
        "forward and back again": pl.when(time >= noon, time < later).then(time + timedelta(days=3)),
        "summer time without a zone": pl.when(time >= noon).then(time + timedelta(hours=1)),
        "winter time without a zone": pl.when(time >= noon).then(time - timedelta(hours=1)),
    }
    return records.with_columns(time=moved[kind].otherwise(time))


def counts(review: Review) -> dict[tuple[str, str], int]:
    return {
        (row["pattern"], row["motion"]): row["count"]
        for row in review.findings.rows(named=True)
        if row["pattern"] not in ("log_hole", "clock_step")
    }


def review_of(folder: Path, records: pl.DataFrame) -> Review:
    path = folder / "week.csv"
    records.select(pl.col("time").dt.strftime("%Y-%m-%d %H:%M:%S%.3f"), "name", "value").write_csv(path)
    return eventlens.review(path, machine=Machine.model_validate({"machine": {"id": "DOCK-5", "group": "M5"}}))


@pytest.fixture(scope="module")
def undamaged(healthy: pl.DataFrame, tmp_path_factory: pytest.TempPathFactory) -> Review:
    return review_of(tmp_path_factory.mktemp("week"), healthy)


@pytest.mark.parametrize(
    ("kind", "steps"),
    [
        ("back", 1),
        ("forward", 0),  # a silence is a silence
        ("factory date", 2),
        ("forward and back again", 2),
        ("summer time without a zone", 1),
        ("winter time without a zone", 1),
    ],
)
def test_no_clock_fault_becomes_a_machine_fault(
    kind: str, steps: int, healthy: pl.DataFrame, undamaged: Review, tmp_path: Path
) -> None:
    review = review_of(tmp_path, damaged(healthy, kind))
    assert review.log.clock_steps.height == steps
    assert review.log.clock_steps.height + review.log.holes.height == max(steps, 1)
    before, after = counts(undamaged), counts(review)
    assert all(count <= before.get(key, 0) for key, count in after.items()), (before, after)
    starts, all_starts = review.motions["hoist"].starts, undamaged.motions["hoist"].starts
    assert all_starts - 3 * max(steps, 1) <= starts <= all_starts  # what a step cuts may lose its start
    assert review.log.observed_s <= undamaged.log.observed_s + 1e-6
