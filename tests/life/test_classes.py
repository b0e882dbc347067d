"""Guards the American classes and the crosswalk: each line, and both sides of each border."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eventlens.duty.groups import FROM_COLD, MEAN_LOAD
from eventlens.life.classes import CRANE_CLASSES, alike, crane_class


# CMAA 70 and 74: lifts an hour 0-2, 2-5, 5-10, 10-20, 20 and more; lifts at the rated load up to 50 % (C), 65 % (D)
@pytest.mark.parametrize(
    ("lifts", "at_rated", "name"),
    [
        (0, None, "A"),
        (2, 0.1, "A"),
        (2.1, None, "B"),
        (5, None, "B"),
        (5.1, 0.50, "C"),
        (5.1, 0.51, "D"),
        (10.1, 0.65, "D"),
        (10.1, 0.66, "E"),
        (20.1, None, "E"),
    ],
)
def test_crane_classes(lifts: float, at_rated: float | None, name: str) -> None:
    assert crane_class(lifts, at_rated).name == name


def test_how_sure_the_crane_classes_are() -> None:
    assert [item.confidence for item in CRANE_CLASSES] == ["from one place", *["confirmed"] * 3, *["from memory"] * 2]


def test_what_decides_nothing_is_in_the_table_too() -> None:  # CMAA 70 and 74: mean lifts [ft]; F from memory
    assert [(item.name, item.mean_lift_ft) for item in CRANE_CLASSES] == [
        ("A", 10),
        ("B", 10),
        ("C", 15),
        ("D", 15),
        ("E", None),
        ("F", None),
    ]
    assert crane_class(1000.0, 1.0).name == "E"  # no log of some weeks tells F from it


@given(st.floats(0, 60), st.floats(0, 60), st.floats(0, 1), st.floats(0, 1))
def test_more_lifts_or_more_load_never_need_less(n1: float, n2: float, s1: float, s2: float) -> None:
    assert crane_class(min(n1, n2), min(s1, s2)).name <= crane_class(max(n1, n2), max(s1, s2)).name


def test_groups_and_classes_that_are_alike() -> None:  # guidance, two sources that differ by a step
    assert [alike(name) for name in ("M2", "1Bm", "M4", "2m", "M6")] == [
        ("H1", "A"),
        ("H2", "B"),
        ("H3", "C"),
        ("H4", "D"),
        ("H4", "D"),
    ]
    assert alike("M7") == ("H4 to H5", "D to E")
    assert (alike("M1"), alike("H4")) == (None, None)


def test_hoist_classes_from_cold() -> None:  # ASME HST; four places agree, H5 has none; the mean load from one place
    assert dict(FROM_COLD) == {"H1": (15, 100), "H2": (15, 100), "H3": (30, 200), "H4": (30, 300)}
    assert MEAN_LOAD == 0.65
