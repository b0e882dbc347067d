"""Guards drift of measured times, and machines side by side: who comes first, and who cannot be told apart."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from eventlens.trends import Trends, tables, trends_of
from eventlens.trends.times import number_of
from tests.trends.tables import counted, timed, together, week

NOISE = [0.002, -0.004, 0.001, 0.003, -0.002, 0.0, -0.003, 0.004, -0.001, 0.002]
ANY = counted("A", [1] * 10)


def drifts(*medians: list[float], step_s: float = 0.01) -> pl.DataFrame:
    return trends_of(together(ANY, *(timed(f"M{n}", list(m), step_s=step_s) for n, m in enumerate(medians)))).times


def test_wear_and_an_exchange_and_neither() -> None:
    wear = [0.2 + 0.01 * n + e for n, e in enumerate(NOISE)]
    exchange = [(0.3 if n < 6 else 0.2) + e for n, e in enumerate(NOISE)]
    still = [0.2 + e for e in NOISE]
    found = {row["machine"]: row for row in drifts(wear, exchange, still).iter_rows(named=True)}
    assert [found[f"M{n}"]["verdict"] for n in range(3)] == ["longer", "shorter", "not_shown"]
    assert [found[f"M{n}"]["shape"] for n in range(2)] == ["slope", "step"]
    assert found["M0"]["slope_low"] < 0.01 < found["M0"]["slope_high"]
    assert found["M1"]["change"] == week(6)
    assert found["M1"]["change_first"] <= week(6) <= found["M1"]["change_last"]
    assert found["M1"]["before_s"] == pytest.approx(0.3, abs=0.003)
    assert found["M0"]["p_adjusted"] == pytest.approx(
        min(3 * found["M0"]["p"], 1.5 * max(found["M0"]["p"], found["M1"]["p"]))
    )


def until(medians: list[float], *works: int, step_s: float = 0.01) -> dict[str, object]:
    """The drift of a time with work in some weeks."""
    weeks = together(ANY, timed("M", medians, step_s=step_s))
    return trends_of(weeks, works={"M": [week(n) for n in works]}).times.row(0, named=True)


SAW_TOOTH = [0.22 + 0.04 * n + e for n, e in enumerate(NOISE[:7])] + [0.22 + e for e in NOISE[:5]]
"""A lining that wears for seven weeks and is renewed before the eighth."""


def test_a_part_that_wore_until_it_was_renewed() -> None:
    found = until(SAW_TOOTH, 7)
    assert (found["work"], found["work_first"], found["work_verdict"]) == (week(7), week(0), "longer")
    assert found["work_slope_low"] <= 0.04 <= found["work_slope_high"]  # type: ignore[operator]
    assert (found["work_first_s"], found["work_last_s"]) == (SAW_TOOTH[0], SAW_TOOTH[6])
    assert found["work_p_adjusted"] >= found["work_p"], "it is one comparison more"  # type: ignore[operator]
    assert until([0.22 + e for e in [*NOISE, *NOISE[:2]]], 7)["work_verdict"] == "not_shown"


@pytest.mark.parametrize(
    ("works", "work"), [((6,), 6), ((5,), None), ((), None), ((6, 8), 6), ((2, 9), 9), ((3, 9), None)]
)
def test_six_weeks_since_the_work_before_are_needed(works: tuple[int, ...], work: int | None) -> None:
    """The week of a work is on neither side: of the works in weeks 2 and 9 there are six between, in 3 and 9 five."""
    assert until(SAW_TOOTH, *works)["work"] == (None if work is None else week(work))


@pytest.mark.parametrize(("by", "verdict"), [(0.0021, "longer"), (0.0019, "not_shown")])
def test_less_than_a_log_step_until_the_work_is_not_seen(by: float, verdict: str) -> None:
    found = until([0.2 + by * n / 9 for n in range(10)] + [0.2] * 2, 10, step_s=0.002)
    assert found["work_verdict"] == verdict


@pytest.mark.parametrize(("by", "verdict"), [(0.0021, "longer"), (0.0019, "not_shown")])
def test_less_than_a_log_step_is_not_seen(by: float, verdict: str) -> None:
    # ten weeks, nine steps of a ninth of it: just more, and just less, than a log step of 0.002 s
    assert drifts([0.2 + by * n / 9 for n in range(10)], step_s=0.002)["verdict"].to_list() == [verdict]


def test_too_few_weeks_are_said() -> None:
    found = drifts([0.2, 0.3, 0.4, 0.5, 0.6]).row(0, named=True)
    assert (found["verdict"], found["p"], found["slope_s_per_week"]) == ("too_little", None, None)


def test_stable_times_alarm_no_oftener_than_stated() -> None:
    rng = np.random.default_rng(51)
    alarms = 0
    for _ in range(60):
        found = drifts(*(np.round(0.2 + rng.normal(0, 0.01, 10), 2).tolist() for _ in range(4)))
        alarms += bool(found["verdict"].cast(pl.String).is_in(["longer", "shorter"]).any())
    assert alarms / 60 <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / 60)


def test_weeks_are_counted_over_the_end_of_a_year_with_53() -> None:
    assert number_of("2027-W01") - number_of("2026-W53") == 1
    assert [number_of(week(n)) - number_of(week(0)) for n in range(5)] == list(range(5))


def order(found: Trends) -> list[tuple[str, int | None]]:
    return [(str(m), r) for m, r in found.fleet.select("machine", "rank").rows()]


def test_severity_comes_before_numbers() -> None:
    found = trends_of(
        together(
            counted("JOGGER", [90] * 8, "jogging"),  # ask for watching
            counted("BAD", [5] * 8, "drop_out"),  # for a repair
            counted("STANDING", [1] * 8, "contactor_stuck"),  # takes it out of service
            counted("FINE", [0] * 8, "drop_out"),
        )
    )
    severities = found.fleet["severity"].to_list()
    assert severities[-1] is None
    assert order(found) == [("STANDING", 1), ("BAD", 2), ("JOGGER", 3), ("FINE", 4)]


def test_one_event_in_a_short_log_does_not_win() -> None:
    sisters = [counted(f"S{n}", [8, 9, 10, 9, 8, 11, 9, 10]) for n in range(4)]
    short = counted("SHORT", [1], uses=20.0, first=7)  # 0.05 per start, five times the others
    bad = counted("BAD", [40, 42, 38, 41, 40, 39, 42, 40])
    found = trends_of(together(*sisters, short, bad))
    assert order(found)[0][0] == "BAD"
    shrunk = dict(found.funnel.select("machine", "shrunk").rows())
    assert shrunk["SHORT"] < shrunk["BAD"]
    raw = found.funnel.filter(pl.col("machine") == "SHORT").row(0, named=True)
    assert raw["rate"] == 0.05 == found.funnel["rate"].max()
    assert raw["beyond"] == 0
    assert raw["shrunk_low"] < 1 < raw["shrunk_high"]
    ranks = dict(found.fleet.select("machine", "rank").rows())
    assert ranks["SHORT"] is None
    assert [ranks[f"S{n}"] for n in range(4)] == [None] * 4
    assert tables.FUNNEL.check(found.funnel) is found.funnel


def test_against_its_own_past_comes_before_against_its_sisters() -> None:
    high = counted("HIGH", [40] * 8)
    worse = counted("WORSE", [1, 1, 2, 2, 8, 10, 12, 14])
    found = trends_of(together(high, worse))
    assert order(found) == [("WORSE", 1), ("HIGH", 2)]
    assert found.fleet["verdict"].to_list() == ["rising", "not_shown"]


def test_a_machine_that_cannot_show_it_is_no_sister() -> None:
    blind = counted("BLIND", [0] * 8, lack="missing_signal: hoist.brake.released")
    found = trends_of(together(counted("A", [5] * 8), blind))
    assert found.funnel.is_empty()
    assert found.fleet["shrunk"].null_count() == 2


def test_bursts_open_the_funnel() -> None:
    alone = [counted(f"S{n}", [x] * 8) for n, x in enumerate((8, 9, 10, 9, 8, 16))]
    bursts = [counted(f"S{n}", [x] * 8, most=x, variance=6.0 * x) for n, x in enumerate((8, 9, 10, 9, 8, 16))]
    one, other = (trends_of(together(*parts)).funnel.filter(pl.col("machine") == "S5") for parts in (alone, bursts))
    assert one["beyond"].item() >= 1
    assert other["beyond"].item() == 0
    assert other["centre"].item() == pytest.approx(one["centre"].item())
