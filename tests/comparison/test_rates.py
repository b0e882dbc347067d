"""Guards the verdicts of a comparison on the smallest logs that show them, and their nearest neighbours."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import polars as pl
import pytest

import eventlens
from eventlens import schema
from eventlens.machine import Machine
from eventlens.result import Review
from eventlens.wiring import review_log
from tests.comparison.stories import log_of, side, spaced, work
from tests.logs import merged, run
from tests.patterns.helpers import M5

LATER = 100_000.0
"""Second at which the log after begins."""


def compared(before: Review, after: Review, pattern: str = "drop_out", **options: Any) -> dict[str, Any]:
    found = eventlens.compare_reviews(before, after, **options)
    return found.patterns.row(by_predicate=pl.col("pattern") == pattern, named=True)


@pytest.fixture(scope="module")
def ten_in_300() -> Review:
    return side(300, 10)


def test_gone(ten_in_300: Review) -> None:
    row = compared(ten_in_300, side(300, 0, LATER))
    assert (row["before_count"], row["after_count"], row["verdict"]) == (10, 0, "gone")
    assert (row["exposure"], row["before_exposure"], row["after_exposure"]) == ("start", 300, 300)  # counted by hand
    assert (row["ratio"], row["ratio_low"], row["spread"]) == (0, 0, 1)
    assert row["p"] == pytest.approx(2 * 0.5**10)  # by hand
    # Garwood's lower limit for 10 is 4.7954 (common tables), -ln(0.05) = 2.9957
    assert row["watch_use"] == pytest.approx(2.9957 / (4.7954 / 300), rel=1e-4)
    assert row["watch_left"] == 0


def test_silence_that_was_too_short_is_not_gone(ten_in_300: Review) -> None:
    """The silence rule asks for 187.4 starts, the comparison for 300 (40^(1/10) - 1) = 133.8: by hand."""
    short, long = (compared(ten_in_300, side(runs, 0, LATER)) for runs in (187, 188))
    assert (short["verdict"], long["verdict"]) == ("not_shown", "gone")
    assert short["p"] < 0.05
    assert short["watch_left"] == pytest.approx(0.41, abs=0.01)


def test_not_shown_says_how_long_to_watch_and_at_what_use() -> None:
    row = compared(side(300, 4), side(300, 0, LATER))
    assert row["verdict"] == "not_shown"
    assert row["p"] == pytest.approx(0.125)  # 2 * 0.5^4: by hand
    needed = 2.9957 / (1.0899 / 300)  # Garwood's lower limit for 4: common tables
    assert row["watch_use"] == pytest.approx(needed, rel=1e-4)
    assert row["watch_left"] == pytest.approx(needed - 300, rel=1e-3)
    # 300 starts in 300 * 120 s and a little, on one day
    assert row["watch_s"] == pytest.approx((needed - 300) * 120, rel=0.01)
    assert row["watch_days"] == pytest.approx((needed - 300) / 300, rel=1e-3)
    assert row["smallest_change"] is None  # even silence could not show it: 0.125


def test_less_and_its_neighbour() -> None:
    # 20 against 8 in as many: 2 P(X <= 8 of 28) = 0.0357, 20 against 9: 0.0614 (binomial, common tables)
    before = side(300, 20)
    less, same = (compared(before, side(300, faults, LATER)) for faults in (8, 9))
    assert (less["verdict"], same["verdict"]) == ("less", "not_shown")
    assert less["ratio"] == pytest.approx(0.4)
    assert less["ratio_high"] < 1 < same["ratio_high"]
    assert less["watch_use"] is None
    assert 0 < less["smallest_change"] < 0.5


def test_worse_also_where_nothing_was_seen_before() -> None:
    row = compared(side(300, 0), side(300, 10, LATER))
    assert (row["verdict"], row["ratio"], row["ratio_high"]) == ("worse", None, None)
    assert row["ratio_low"] > 1
    assert compared(side(300, 2), side(300, 12, LATER))["verdict"] == "worse"


def test_half_of_the_work_is_no_improvement() -> None:
    """As long a log with half of the runs and half of the faults: per observed hour it would look better."""
    row = compared(side(300, 20), side(150, 10, LATER, every_s=240.0))
    assert row["verdict"] == "not_shown"
    assert (row["ratio"], row["p"]) == (pytest.approx(1.0), 1.0)


def test_no_use_since_says_how_long_to_watch(ten_in_300: Review) -> None:
    row = compared(ten_in_300, review_log(log_of([], begin=LATER, end=LATER + 7200), M5))
    assert (row["verdict"], row["after_rate"], row["p"]) == ("not_shown", None, 1.0)
    assert row["watch_left"] == pytest.approx(187.4, abs=0.1)
    assert row["watch_days"] > 0  # at the use before


def test_a_burst_counts_for_less_than_as_many_single_faults() -> None:
    burst = review_log(log_of(work(300, range(100, 110))), M5)
    row = compared(burst, side(300, 0, LATER))
    assert (row["before_count"], row["before_blocks"], row["verdict"]) == (10, 1, "not_shown")
    assert row["spread"] > 5


def test_many_comparisons_adjust_the_p_values(ten_in_300: Review) -> None:
    found = eventlens.compare_reviews(ten_in_300, side(300, 0, LATER))
    assert found.comparisons == found.patterns.height
    assert (found.patterns["p_adjusted"] >= found.patterns["p"]).all()


def test_a_signal_that_one_log_does_not_carry_is_not_called_gone(ten_in_300: Review) -> None:
    log = log_of(work(50, begin=LATER), begin=LATER)
    contactors = pl.col("signal").cast(pl.String).str.ends_with(".contactor")
    bare = replace(log, events=log.events.filter(contactors), names=log.names.filter(contactors))
    found = eventlens.compare_reviews(ten_in_300, review_log(bare, M5))
    assert "drop_out" not in found.patterns["pattern"].to_list()
    row = found.not_compared.row(by_predicate=pl.col("pattern") == "drop_out", named=True)
    assert (row["side"], row["why"], row["count"]) == ("after", "missing_signal", 10)
    assert "hoist.raise.command" in " ".join(found.notes)


def test_a_pattern_that_one_side_could_not_assess_is_not_called_gone(ten_in_300: Review) -> None:
    coarse = review_log(log_of(work(300, begin=LATER), begin=LATER, step_s=1.0), M5)
    missing = coarse.not_assessed.filter(pl.col("motion") == "hoist")["pattern"].to_list()
    jogs = merged(*(run(t, t + 0.5) for t in range(10, 16)))
    found = eventlens.compare_reviews(review_log(log_of(work(20, begin=100), jogs), M5), coarse)
    assert "jogging" in missing
    assert "jogging" not in found.patterns["pattern"].to_list()
    row = found.not_compared.row(by_predicate=pl.col("pattern") == "jogging", named=True)
    assert (row["side"], row["why"], row["count"]) == ("after", "not_resolvable", 1)
    assert any("log step" in note for note in found.notes)


def test_the_confidence_moves_verdict_and_limits() -> None:
    before, after = side(300, 20), side(300, 9, LATER)
    strict, loose = (compared(before, after, confidence=level) for level in (0.95, 0.9))
    assert (strict["verdict"], loose["verdict"]) == ("not_shown", "less")  # p = 0.0614
    assert loose["ratio_low"] > strict["ratio_low"]


def test_the_block_of_a_burst_is_a_limit_of_the_machine_file() -> None:
    plate = Machine.model_validate({"limits": {"burst_block_s": 60.0}})
    burst = log_of(work(300, range(100, 110)))
    row = compared(review_log(burst, plate), review_log(log_of(work(300, begin=LATER), begin=LATER), plate))
    assert row["spread"] == 1  # no minute holds two


def test_tables_are_as_the_schema_says_and_json_is_the_same_each_time(ten_in_300: Review) -> None:
    found = eventlens.compare_reviews(ten_in_300, side(300, 0, LATER), moved=["hoist.raise:hoist.lower"])
    schema.COMPARISON.check(found.patterns)
    schema.NOT_COMPARED.check(found.not_compared)
    schema.TIMES.check(found.times)
    schema.MOVED.check(found.moved)
    assert found.to_json() == found.to_json()
    assert found.to_dict()["patterns"][0]["verdict"] == "gone"


def test_spaced_faults_are_as_many_as_asked() -> None:
    assert all(len(spaced(count, 300)) == count for count in (0, 1, 8, 9, 20))
