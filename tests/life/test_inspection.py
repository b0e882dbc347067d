"""Guards inspection intervals and idle rules at each of their edges (ASME B30.16, OSHA 29 CFR 1910.179)."""

from __future__ import annotations

import pytest

from eventlens.life.inspection import OSHA, after_idle, service_of


@pytest.mark.parametrize(
    ("on_time", "k", "abnormal", "name", "periodic"),
    [
        (0.15, 0.65, False, "normal", "yearly"),
        (0.151, 0.65, False, "heavy", "half-yearly"),
        (0.15, 0.651, False, "heavy", "half-yearly"),
        (0.15, None, False, "normal", "yearly"),
        (0.01, 0.1, True, "severe", "quarterly"),
    ],
)
def test_class_of_service(on_time: float, k: float | None, abnormal: bool, name: str, periodic: str) -> None:
    service = service_of(on_time, k, abnormal=abnormal)
    assert (service.name, service.periodic) == (name, periodic)
    # the intervals are confirmed, the borders between normal and heavy were found in one place
    assert service.confidence == ("confirmed" if abnormal else "from one place")
    assert ("no load is known" in service.decided_by) == (k is None and not abnormal)


def test_intervals_of_osha() -> None:  # 29 CFR 1910.179, paragraphs as named
    found = {item.source.removeprefix("OSHA 29 CFR 1910.179"): item.how_often for item in OSHA[2:]}
    assert found == {
        "(m)(1)": "monthly with a record",
        "(n)(4)(i)": "without load at the start of each shift",
        "(j)(1)(ii)(a)": "daily to monthly",
        "(j)(1)(ii)(b)": "every 1 to 12 months",
        "(j)(4)": "at least every 6 months",
    }
    assert [item.confidence for item in OSHA] == ["confirmed"] * 6 + ["from one place"]


@pytest.mark.parametrize(
    ("days", "needs"),
    [(30.5, None), (30.6, "frequent"), (183, "frequent"), (183.1, "complete"), (366, "complete"), (366.1, "periodic")],
)
def test_what_a_rest_asks_for(days: float, needs: str | None) -> None:
    rule = after_idle(days)
    assert (rule is None) == (needs is None)
    assert needs is None or (rule is not None and needs in rule.needs)
