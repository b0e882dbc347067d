"""Guards kinds of work: groups that are there are told apart and described, and nothing is made of one kind."""

from __future__ import annotations

import json

import numpy as np
import polars as pl
import pytest

from eventlens import schema
from eventlens.duty.kinds import LEAST, PAUSE_S, kinds_of_work
from eventlens.report import text
from eventlens.wiring import review_log
from tests.comparison.stories import log_of, work
from tests.logs import at
from tests.patterns.helpers import M5

RNG = np.random.default_rng(5)


def runs(rows: list[tuple[str, str, float, float, float | None, float | None]]) -> pl.DataFrame:
    """schema.RUNS of (motion, direction, start [s], length [s], time in fast [s], load [kg])."""
    made = [
        {
            "run": number,
            "motion": motion,
            "direction": direction,
            "start": at(start),
            "end": at(start + length),
            "duration_s": length,
            "start_seen": True,
            "end_seen": True,
            "fast_s": fast,
            "load_kg": load,
            "segment": 0,
        }
        for number, (motion, direction, start, length, fast, load) in enumerate(rows)
    ]
    return pl.DataFrame(made, schema=schema.RUNS.schema)


def two_kinds(count: int = 100) -> pl.DataFrame:
    """Long fast raises with a load and short slow ones without, in turn, two minutes apart."""
    long = [("hoist", "raise", 240.0 * n, 20 * RNG.uniform(0.8, 1.2), 15.0, 1600.0) for n in range(count)]
    short = [("hoist", "lower", 240.0 * n + 120, 2 * RNG.uniform(0.8, 1.2), 0.0, 100.0) for n in range(count)]
    return runs(sorted([*long, *short], key=lambda row: row[2]))


def test_two_kinds_are_told_apart_in_words() -> None:
    found = kinds_of_work(two_kinds(), 3200.0).table.filter(pl.col("subject") == "hoist runs").sort("length_s")
    assert found["count"].to_list() == [100, 100]
    assert found["length_s"].to_list() == pytest.approx([2, 20], rel=0.1)
    short, long = found["words"].to_list()
    assert "nearly always lower; slow; hook empty or nearly" in short
    assert "nearly always raise; mostly fast; with about 50 % of the rated load" in long
    assert short.startswith("runs of about 2")
    assert "kg" not in long
    bare = kinds_of_work(two_kinds(), None).table.filter(pl.col("subject") == "hoist runs")
    assert any("with about 1.6e+03 kg" in words for words in bare["words"])


def test_one_kind_is_not_cut_into_several() -> None:
    rows = [("hoist", "raise", 30.0 * n, float(RNG.lognormal(1.5, 0.3)), None, None) for n in range(400)]
    found = kinds_of_work(runs(rows), None).table.filter(pl.col("subject") == "hoist runs")
    assert found["count"].to_list() == [400]
    assert "fast" not in found["words"][0]
    assert "slow" not in found["words"][0]  # fast is not logged


def test_motions_that_run_together_are_a_kind_of_cycle() -> None:
    rows: list[tuple[str, str, float, float, float | None, float | None]] = []
    for n in range(60):  # a lift alone; then, five minutes later, a lift and travel that begins during it
        rows += [("hoist", "raise", 600.0 * n, 5.0, None, None), ("hoist", "raise", 600.0 * n + 300, 10.0, None, None)]
        rows += [("trolley", "left", 600.0 * n + 302, 20.0, None, None)]
    found = kinds_of_work(runs(rows), None)
    cycles = found.table.filter(pl.col("subject") == "work cycles").sort("length_s")
    assert cycles["count"].to_list() == [60, 60]
    alone, both = cycles["words"].to_list()
    assert alone.endswith("one start each; hoisting alone")
    assert both.endswith("2 starts each; another motion runs at the same time; mostly travel")
    assert cycles["length_s"].to_list() == [5.0, 22.0]
    assert found.notes == ("trolley runs: 60 in the log, kinds need 100",)


@pytest.mark.parametrize(("pause", "cycles"), [(PAUSE_S, 1), (PAUSE_S + 0.1, 101)])
def test_a_pause_ends_a_cycle(pause: float, cycles: int) -> None:
    rows = [("hoist", "raise", n * (5.0 + pause), 5.0, None, None) for n in range(101)]
    found = kinds_of_work(runs(rows), None)
    counted = found.table.filter(pl.col("subject") == "work cycles")["count"].sum()
    assert (counted or 1) == cycles
    assert found.notes == (() if cycles > 1 else (f"work cycles: 1 in the log, kinds need {LEAST['cycles']}",))


@pytest.mark.parametrize(("number", "enough"), [(LEAST["runs"] - 1, False), (LEAST["runs"], True)])
def test_too_little_log_is_said(number: int, enough: bool) -> None:
    rows = [("hoist", "raise", 30.0 * n, 5.0, None, None) for n in range(number)]
    found = kinds_of_work(runs(rows), None)
    assert (found.table.height == 1) == enough
    assert ("hoist runs: 99 in the log, kinds need 100" in found.notes) != enough


def test_the_same_log_gives_the_same_kinds_in_text_and_json() -> None:
    logged = log_of(work(150, {3}))
    found = review_log(logged, M5)
    told = json.loads(found.to_json())["work"]
    assert told["kinds"][0]["subject"] == "hoist runs"
    assert told["kinds"] == json.loads(review_log(logged, M5).to_json())["work"]["kinds"]
    assert "Kinds of work" in text.render(found)
    assert "Kinds of work" not in text.render(review_log(log_of(work(20, {3})), M5))
