"""Guards what is said of each signal: repeats, missing offs, unusable values, and the share of unknown time."""

from __future__ import annotations

import json

import polars as pl
import pytest

from eventlens.machine import Machine
from eventlens.report import text
from eventlens.result import Review
from eventlens.wiring import review_log
from tests.logs import Records, make_log

RUN, BRAKE, LOAD = "hoist.raise.contactor", "hoist.brake.released", "load.kg"


def reviewed(records: Records, **options: object) -> Review:
    return review_log(make_log(records, **{"end": 100.0} | options), Machine())  # type: ignore[arg-type]


def quality(review: Review, signal: str) -> dict[str, object]:
    return next(row for row in review.signal_quality.rows(named=True) if row["signal"] == signal)


def test_on_after_on_is_a_missing_off_and_off_after_off_is_none() -> None:
    review = reviewed([(t, RUN, v) for t, v in ((0, 0), (10, 1), (20, 1), (30, 1), (40, 0), (50, 0), (60, 1))])
    assert quality(review, RUN)["missing_offs"] == 2  # at 20 and 30 s
    review = reviewed([(t, RUN, v) for t, v in ((0, 0), (10, 1), (20, None), (30, 1))])
    assert quality(review, RUN)["missing_offs"] == 0  # what was between is unknown
    assert quality(review, RUN)["unknown_records"] == 1


def test_measured_values_repeat_without_a_fault() -> None:
    review = reviewed([(0, RUN, 0), (0, LOAD, 500.0), (10, LOAD, 500.0)])
    assert quality(review, LOAD) | {"signal": 0} == {
        "signal": 0, "records": 2, "repeated": 0, "missing_offs": 0, "unknown_records": 0, "unknown_share": None,
    }  # fmt: skip


def test_the_share_of_unknown_time_is_of_the_observed_time() -> None:
    records: Records = [(0, RUN, 0), (50, BRAKE, 0), (60, RUN, None), (80, RUN, 1)]
    review = reviewed(records)
    assert quality(review, RUN)["unknown_share"] == pytest.approx(0.2)  # 60 s to 80 s of 100 s
    assert quality(review, BRAKE)["unknown_share"] == pytest.approx(0.5)  # nothing before 50 s
    # 20 s of the hundred are a hole: 80 s observed; the run is known from 0 to 30 s and from 60 s on
    review = reviewed([(0, RUN, 0), (60, RUN, 1)], holes=((30.0, 50.0),))
    assert quality(review, RUN)["unknown_share"] == pytest.approx(10 / 80)


def test_no_missing_off_across_a_hole() -> None:
    review = reviewed([(0, RUN, 0), (10, RUN, 1), (60, RUN, 1)], holes=((30.0, 50.0),))
    assert quality(review, RUN)["missing_offs"] == 0


def test_it_is_found_once_beside_all_else_that_completes_a_review() -> None:
    review = reviewed([(0, RUN, 0), (10, RUN, 1), (20, RUN, 1)])
    assert "signal_quality" not in vars(review)
    assert vars(review.complete())["signal_quality"] is review.signal_quality


def test_json_and_report_say_it() -> None:
    review = reviewed([(0, RUN, 0), (10, RUN, 1), (20, RUN, 1), (60, RUN, None)], holes=((30.0, 50.0),), rhythm_s=2.0)
    log = json.loads(review.to_json())["log"]
    assert log["signal_quality"][0]["missing_offs"] == 1
    assert log["signal_quality"][0]["unknown_share"] == 0.625  # 30 s of 80 s are known
    assert log["frozen"] == []
    assert log["holes"][0]["why"] == "silence"
    report = " ".join(text.render(review).split())
    assert f"on after on, without an off between: {RUN} 1" in report
    assert f"records without a usable value: {RUN} 1" in report
    assert f"state unknown in the observed time: {RUN} 62.5 %" in report
    assert review.signal_quality["signal"].cast(pl.String).is_sorted()
