"""Guards the tables of FEM 9.511 / ISO 4301-1:1986 and FEM 9.755: each cell, and the identity between them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eventlens.duty.groups import limits_for
from eventlens.errors import EventlensError
from eventlens.life.groups import (
    DURATION_H,
    LOADINGS,
    UTILISATIONS,
    duration_h,
    group_of,
    iso_group,
    loading_of,
    needed_class,
    needed_group,
    utilisation_of,
)

# ISO 4301-1:1986, group matrix, written out; T0 and the cells of M1 from memory
MATRIX = {
    "L1": "- - M1 M2 M3 M4 M5 M6 M7 M8",
    "L2": "- M1 M2 M3 M4 M5 M6 M7 M8 +",
    "L3": "M1 M2 M3 M4 M5 M6 M7 M8 + +",
    "L4": "M2 M3 M4 M5 M6 M7 M8 + + +",
}


@pytest.mark.parametrize("loading", MATRIX)
def test_every_cell_of_the_matrix(loading: str) -> None:
    for number, cell in enumerate(MATRIX[loading].split()):
        group, beyond = group_of(loading, f"T{number}")
        assert (group or "-") == ("M8" if cell == "+" else cell), (loading, number)
        assert beyond == (cell == "+")


def test_duration_is_total_time_times_spectrum_factor_along_the_whole_matrix() -> None:
    # the standard's own identity D = T * km; 6300 * 0.125 = 787.5 is printed as 800, 12500 * 0.125 = 1562.5 as 1600
    for loading in LOADINGS:
        for use in UTILISATIONS:
            group, beyond = group_of(loading.iso, use.iso)
            if group and not beyond:
                assert DURATION_H[group][0] == pytest.approx(use.total_h * loading.km, rel=0.03), (loading, use)


# FEM 9.755, Table 1: hours of full load; M1 and M2 from one place, the others from several
DURATIONS = {"M1": 100, "M2": 200, "M3": 400, "M4": 800, "M5": 1600, "M6": 3200, "M7": 6300, "M8": 12500}

# ISO 4301-1:1986: class, FEM name (from memory), average daily hours up to, hours in all. T0 is from memory; the
# daily hours are confirmed, those in all are from one place (T6: daily alone; the one table seen prints 12000). T9 has
# no name in FEM and no daily hours of its own (more than 16, as T8), and its hours are from memory
CLASSES_OF_USE = [
    ("T0", "V0.06", 0.12, 200),
    ("T1", "V0.12", 0.25, 400),
    ("T2", "V0.25", 0.5, 800),
    ("T3", "V0.5", 1, 1600),
    ("T4", "V1", 2, 3200),
    ("T5", "V2", 4, 6300),
    ("T6", "V3", 8, 12500),
    ("T7", "V4", 16, 25000),
    ("T8", "V5", 24, 50000),
    ("T9", None, 24, 100000),
]


def test_every_duration() -> None:
    assert {group: hours for group, (hours, _) in DURATION_H.items()} == DURATIONS
    assert [sure for _, sure in DURATION_H.values()] == ["from one place"] * 2 + ["confirmed"] * 6


def test_every_class_of_utilisation() -> None:
    assert [(use.iso, use.fem, use.most_h_per_day, use.total_h) for use in UTILISATIONS] == CLASSES_OF_USE
    sure = ["from memory", *["from one place"] * 5, "confirmed", *["from one place"] * 2, "from memory"]
    assert [use.confidence for use in UTILISATIONS] == sure
    assert utilisation_of(24.0).iso == "T8"  # no daily time leads to T9


def test_factor_is_the_cube_of_the_mean() -> None:  # 0.63^3 = 0.250, 0.8^3 = 0.512 is rounded to 0.5
    for loading in LOADINGS:
        assert loading.km == pytest.approx(loading.most_k**3, rel=0.03)


@pytest.mark.parametrize(
    ("hours", "name"), [(0.0, "T0"), (0.12, "T0"), (0.25, "T1"), (0.26, "T2"), (2.0, "T4"), (2.01, "T5"), (24, "T8")]
)
def test_class_of_utilisation_at_its_edges(hours: float, name: str) -> None:
    assert utilisation_of(hours).iso == name


@pytest.mark.parametrize(
    ("k", "name"), [(0.0, "L1"), (0.5, "L1"), (0.501, "L2"), (0.63, "L2"), (0.8, "L3"), (1.2, "L4")]
)
def test_state_of_loading_at_its_edges(k: float, name: str) -> None:
    assert loading_of(k).iso == name


def test_the_selection_example_of_a_handbook() -> None:
    # hook path 3 m, 8 m/min, 16 cycles an hour, 8 h a day, heavy: t = 4 * 3 * 16 * 8 / (8 * 60) = 3.2 h a day -> 3m
    hours = 4 * 3 * 16 * 8 / (8 * 60)
    assert hours == pytest.approx(3.2)
    needed = needed_group(hours, 0.8)
    assert (needed.group, needed.fem, needed.utilisation, needed.loading) == ("M6", "3m", "T5", "L3")
    assert needed.confidence == "confirmed"
    # two more starts for each move: 4 * 16 * 3 = 192 starts an hour, below the 300 and 50 % of group 3m
    allowed = limits_for(needed.fem, "hoist")
    assert allowed is not None
    assert (allowed.starts_per_hour, allowed.cyclic_duration) == (300, 0.50)
    assert 4 * 16 * (1 + 2) == 192 <= allowed.starts_per_hour
    below = limits_for("1Am", "hoist")
    assert below is not None
    assert below.starts_per_hour < 192


def test_what_decided_is_only_as_sure_as_its_least_sure_figure() -> None:
    assert needed_group(0.1, 0.9).confidence == "from memory"  # T0
    assert needed_group(0.4, 0.6).confidence == "from one place"  # L2/T2
    assert needed_group(0.2, 0.3).group == "M1"  # blank in the standard: the lowest group does
    assert needed_group(20.0, 0.9).beyond


@given(st.floats(0, 24), st.floats(0, 24), st.floats(0, 1), st.floats(0, 1))
def test_more_use_or_more_load_never_needs_less(h1: float, h2: float, k1: float, k2: float) -> None:
    less = needed_group(min(h1, h2), min(k1, k2))
    more = needed_group(max(h1, h2), max(k1, k2))
    assert int(less.group[1]) <= int(more.group[1])


@pytest.mark.parametrize(
    ("share", "starts", "name"),
    [(0.125, 75, "H2"), (0.126, 75, "H3"), (0.1, 76, "H3"), (0.5, 300, "H4"), (1.0, 600, "H5"), (1.0, 601, None)],
)
def test_hoist_classes(share: float, starts: float, name: str | None) -> None:  # ASME HST-4, Table 1
    assert needed_class(share, starts) == name


def test_names_of_groups() -> None:
    assert iso_group("2m") == "M5"
    assert iso_group("M5") == "M5"
    assert iso_group("H4") is None
    assert duration_h("1Am") == (800, "confirmed")
    assert duration_h("H4") is None
    with pytest.raises(EventlensError, match="M9"):
        iso_group("M9")
    with pytest.raises(EventlensError, match="0 to 24"):
        utilisation_of(25)
