"""The score of trends in a small form: one machine in order and one whose lining wears, a day of work each week."""

from __future__ import annotations

from tests.benchmarks.trends import machine, summary


def test_nothing_is_said_where_nothing_changes() -> None:
    told = machine(("stable", 2), weeks=6, days=1)
    assert told[2] == []
    assert told[3] == 0
    assert told[4] > 0  # there was something to say it about
    assert "stable: 1 machines" in "\n".join(summary([told]))


def test_wear_is_seen_before_the_first_late_release() -> None:
    told = machine(("wear", 2), weeks=9, days=1)
    assert "time release_time_s longer" in told[2]
    seen, late = told[5], told[6]
    assert seen is not None
    assert late is None or seen < late
    assert "called longer before the first late release: 1" in "\n".join(summary([told]))
