"""log_hole: reported from the record's rhythm; without a rhythm silence proves nothing."""

from __future__ import annotations

from tests.logs import at, pulse
from tests.patterns.helpers import found, reviewed, spans, why

ONLY = ["hoist.raise.contactor"]
RECORDS = pulse("hoist.raise.contactor", (10, 20), (5000, 5010))


def test_a_hole_is_an_occurrence() -> None:
    review = reviewed(RECORDS, ONLY, end=6000, holes=[(1000, 4000)], rhythm_s=10.0)
    assert spans("log_hole", review) == [(at(1000), at(4000), "certain")]
    assert found("log_hole", review).select("measured", "limit").row(0) == (3000.0, 30.0)
    assert review.findings["severity"].to_list() == ["note"]


def test_rates_divide_by_the_observed_time() -> None:
    review = reviewed(RECORDS, ONLY, end=6000, holes=[(1000, 4000)], rhythm_s=10.0)
    # 3000 s observed of 6000 s: one in 3000 s is 1.2 an hour
    assert review.findings["rate_per_hour"].to_list() == [1.2]


def test_no_hole_no_finding() -> None:
    review = reviewed(RECORDS, ONLY, end=6000, rhythm_s=10.0)
    assert spans("log_hole", review) == []
    assert why("log_hole", review) == []


def test_without_a_rhythm_it_is_not_assessed() -> None:
    assert why("log_hole", reviewed(RECORDS, ONLY, end=6000)) == [
        (None, "missing_signal", ["a heartbeat or a fixed sample cycle"])
    ]
