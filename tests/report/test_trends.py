"""Guards the words of trends: each verdict, who comes first, drift, and that it fits the width and is JSON."""

from __future__ import annotations

import json

import pytest

from eventlens import patterns
from eventlens.report.trends import DRIFT, ONE, VERDICT, render, styled
from eventlens.trends import Trends, tables, trends_of
from tests.trends.tables import counted, timed, together


@pytest.fixture(scope="module")
def fleet() -> Trends:
    return trends_of(
        together(
            counted("A", [1, 1, 2, 2, 8, 10, 12, 14]),
            counted("A", [4, 5, 3, 60, 5, 3, 4, 5], "jogging", uses=[1000.0] * 7 + [50.0]),
            counted("B", [9, 8, 10, 9, 8, 9, 10, 8]),
            counted("C", [0] * 8),
            counted("B", [0, 0, 0, 0, 0, 0, 0, 1], "no_start"),
            timed("A", [0.2, 0.21, 0.22, 0.23, 0.24, 0.25, 0.26, 0.27]),
            timed("B", [0.2] * 4 + [0.3] * 4, "apply_time_s"),
            timed("C", [0.2] * 3),
        )
    )


def said(text: str) -> str:
    return " ".join(text.split())


def test_every_word_of_the_tables_has_its_words() -> None:
    assert tuple(VERDICT) == tables.TREND_VERDICTS
    assert tuple(DRIFT) == tables.DRIFT_VERDICTS
    assert set(ONE) == set(patterns.EXPOSURES)


@pytest.mark.parametrize("width", [40, 80, 120])
def test_it_fits_the_width(fleet: Trends, width: int) -> None:
    assert max(map(len, render(fleet, width=width).splitlines())) <= width


def test_what_it_says(fleet: Trends) -> None:
    text = said(render(fleet))
    assert "3 machines: trends weeks 2025-W51 to 2026-W06, 8 with log" in text
    assert "compared 4 patterns of machines and 2 measured times" in text
    assert "little log 2026-W06 for some patterns" in text
    assert "1. A: repair: hoist: drop-out, 44 in 4000 starts; comes oftener than before" in text
    assert "3. C: nothing in the last weeks" in text
    assert "Comes oftener - A, hoist: drop-out: 50 in 8000 starts 0.00625 per start (95 % limits 0.00464" in text
    assert "valid at every look" in text
    assert "Differs from week to week - A, hoist: jogging" in text
    # the 60 raise the mean, so that weeks with 3 lie below it, and 5 in so little use above
    assert "beyond the limits of its chart: 2026-W01, 2026-W02, 2026-W04, 2026-W06" in text
    assert "of it would have been shown, four times in five" in text
    assert "A, hoist: release time 0.20 s in the first week, 0.27 s in the last (8); longer, by +10.0 ms a week" in text
    assert (
        "B, hoist: apply time 0.20 s in the first week, 0.30 s in the last (8); longer since 2026-W03: 0.20 s" in text
    )
    assert "C, hoist: release time 0.20 s in the first week, 0.20 s in the last (3); too few weeks" in text
    assert "lock out" in text
    assert [line.style for line in styled(fleet) if line.text == "Comes oftener"] == ["repair"]


def test_places_that_do_not_separate_are_a_range() -> None:
    text = said(render(trends_of(together(*(counted(name, [5] * 6) for name in "AB")))))
    assert "1 to 2 A: repair" in text
    assert "A range of places: the limits of these machines do not separate them." in text


def test_json_is_plain_and_complete(fleet: Trends) -> None:
    told = json.loads(fleet.to_json())
    assert told["contract"] == 1
    assert [row["machine"] for row in told["fleet"]] == ["A", "B", "C"]
    assert (told["comparisons"], told["times_compared"]) == (4, 2)
    assert set(told["rates"][0]) == set(tables.TRENDS.columns)
    assert len(told["weekly"]) == 32  # what never occurred has no rows
    assert told["false_alarm_per_week"] == 0.0027
