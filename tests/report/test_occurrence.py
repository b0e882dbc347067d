"""Guards `--show`: the right occurrence, its evidence, the signals around it; and clear words where there is none."""

from __future__ import annotations

import pytest

from eventlens.errors import EventlensError
from eventlens.report.occurrence import asked, show
from eventlens.result import Review
from tests.logs import merged, run
from tests.patterns.helpers import M5, reviewed

FAST = (10.1, 14.0)


def text(review: Review, wanted: str, width: int = 80) -> str:
    lines = show(review, wanted, width=width)
    assert max(len(line.text) for line in lines) <= width
    return "\n".join(line.text for line in lines)


def jumping(times: int) -> Review:
    """Runs that go to fast 0.05 s after their start."""
    runs = [
        run(20.0 * n, 20.0 * n + 4, fast=(20.0 * n + 0.05, 20.0 * n + 4), fast_command=(20.0 * n, 20.0 * n + 4))
        for n in range(1, times + 1)
    ]
    return reviewed(merged(*runs), machine=M5, end=20.0 * times + 10)


def test_the_nth_occurrence_with_its_evidence() -> None:
    page = text(jumping(3), "speed_change_missing:2")
    assert "speed_change_missing 2 of 3: speed-change delay missing, hoist raise" in page
    assert "06:00:40.000 (UTC)" in page
    assert "measured        0.05 s; limit 0.1" in page
    assert "certain; a time between two records is known to 0.02 s" in page
    assert "proof           lines" in page
    fast = next(line for line in page.splitlines() if line.startswith("hoist.fast.contactor"))
    mark = next(line for line in page.splitlines() if line.startswith("this occurrence"))
    assert fast.index("#") == mark.rindex("=") + 1  # it spans from the start to the fast output


def test_the_first_where_no_number_is_given() -> None:
    assert text(jumping(2), "speed_change_missing") == text(jumping(2), "speed_change_missing:1")


def test_signals_that_rest_are_left_out() -> None:
    page = text(jumping(1), "speed_change_missing")
    assert "hoist.raise.contactor" in page
    assert "hoist.lower.contactor" not in page
    assert "supply.control" not in page


def test_narrow_screens_are_kept_to() -> None:
    text(jumping(1), "speed_change_missing", width=60)


def test_what_did_not_happen_is_said() -> None:
    assert "jogging: none found in this log." in text(jumping(1), "jogging")
    lacking = text(reviewed(run(10, 12), carries=(), end=30.0), "overload_trip")
    assert "does not carry the signal" in " ".join(lacking.split())
    assert "overload.trip" in lacking


def test_number_beyond_the_last() -> None:
    with pytest.raises(EventlensError, match=r"speed_change_missing from 1 to 2, got 3"):
        show(jumping(2), "speed_change_missing:3")


@pytest.mark.parametrize("wanted", ["jogging:0", "jogging:x", "jogging:", "jogging:-1", "jogging:²"])
def test_what_is_no_number(wanted: str) -> None:
    with pytest.raises(EventlensError, match="jogging:1"):
        asked(wanted)


def test_unknown_pattern() -> None:
    with pytest.raises(EventlensError, match="did you mean 'jogging'"):
        asked("joging:1")
