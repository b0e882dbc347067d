"""Guards the group tables figure by figure, what an unknown group says, and the plate's right over the table."""

from __future__ import annotations

import pytest

from eventlens.duty.groups import CONFIDENCES, DutyLimits, GroupLimits, limits_for, motor_limits
from eventlens.errors import EventlensError, MachineError
from eventlens.limits import limits_of
from eventlens.machine import FEM_TO_ISO, GROUPS, Machine, Plate
from eventlens.signals import MOTIONS

# FEM 9.683, hoist motors in intermittent duty: group, FEM name, cyclic duration [%], starts per hour, how sure.
# M3 to M6 were found alike in two places; M7's pair in one, without its group; the rest is from memory.
HOIST = [
    ("M1", "1Dm", 15, 90, "from memory"),
    ("M2", "1Cm", 20, 120, "from memory"),
    ("M3", "1Bm", 25, 150, "confirmed"),
    ("M4", "1Am", 30, 180, "confirmed"),
    ("M5", "2m", 40, 240, "confirmed"),
    ("M6", "3m", 50, 300, "confirmed"),
    ("M7", "4m", 60, 360, "from memory"),
    ("M8", "5m", 60, 360, "from memory"),
]

# FEM 9.683, travel motors: all from memory.
TRAVEL = [
    ("M1", "1Dm", 10, 60),
    ("M2", "1Cm", 15, 90),
    ("M3", "1Bm", 20, 120),
    ("M4", "1Am", 25, 150),
    ("M5", "2m", 30, 180),
    ("M6", "3m", 40, 240),
    ("M7", "4m", 50, 300),
    ("M8", "5m", 60, 360),
]

# ASME HST classes, uniformly distributed work: class, on-time in minutes of an hour, starts per hour; three or four
# places agree.
CLASSES = [("H1", 7.5, 75), ("H2", 7.5, 75), ("H3", 15, 150), ("H4", 30, 300), ("H5", 60, 600)]


@pytest.mark.parametrize(("iso", "fem", "percent", "starts", "confidence"), HOIST)
def test_hoist_motors(iso: str, fem: str, percent: int, starts: int, confidence: str) -> None:
    found = limits_for(iso, "hoist")
    assert found is not None
    assert (found.cyclic_duration, found.starts_per_hour, found.confidence) == (percent / 100, starts, confidence)
    assert found.window_s == 600
    assert "FEM 9.683" in found.source
    assert limits_for(fem, "hoist") == found


@pytest.mark.parametrize("motion", ["trolley", "bridge"])
@pytest.mark.parametrize(("iso", "fem", "percent", "starts"), TRAVEL)
def test_travel_motors(motion: str, iso: str, fem: str, percent: int, starts: int) -> None:
    found = limits_for(iso, motion)
    assert found is not None
    assert (found.cyclic_duration, found.starts_per_hour) == (percent / 100, starts)
    assert (found.window_s, found.confidence) == (600, "from memory")
    assert limits_for(fem, motion) == found


@pytest.mark.parametrize(("name", "minutes", "starts"), CLASSES)
def test_hoist_classes(name: str, minutes: float, starts: int) -> None:
    found = limits_for(name, "hoist")
    assert found is not None
    assert (found.cyclic_duration * 60, found.starts_per_hour) == (minutes, starts)
    assert (found.window_s, found.confidence) == (3600, "confirmed")
    assert "ASME HST" in found.source


@pytest.mark.parametrize("motion", ["trolley", "bridge"])
@pytest.mark.parametrize("name", ["H1", "H2", "H3", "H4", "H5"])
def test_hoist_classes_say_nothing_of_travel(name: str, motion: str) -> None:
    assert limits_for(name, motion) is None


def test_every_group_has_limits_for_the_hoist() -> None:
    for group in GROUPS:
        found = limits_for(group, "hoist")
        assert found is not None
        assert found.confidence in CONFIDENCES
        assert 0 < found.cyclic_duration <= 1


@pytest.mark.parametrize("motion", ["hoist", "trolley"])
def test_a_higher_group_never_allows_less(motion: str) -> None:
    ladder = [limits_for(group, motion) for group in FEM_TO_ISO.values()]
    figures = [(found.starts_per_hour, found.cyclic_duration) for found in ladder if found]
    assert len(figures) == 8
    assert figures == sorted(figures)


def test_unknown_names_are_refused() -> None:
    with pytest.raises(EventlensError, match="wanted a group, got 'M55'; did you mean 'M5'"):
        limits_for("M55", "hoist")
    with pytest.raises(EventlensError, match="wanted a motion, got 'hoists'; did you mean 'hoist'"):
        limits_for("M5", "hoists")


# The plate of a motor against the table


def test_without_group_there_are_no_limits() -> None:
    assert [motor_limits(Machine(), motion) for motion in MOTIONS] == [None, None, None]


def test_each_motion_has_its_own_group() -> None:
    machine = Machine(machine=Plate(group="2m", trolley_group="M4"))
    assert motor_limits(machine, "hoist") == limits_for("M5", "hoist")
    assert motor_limits(machine, "trolley") == limits_for("M4", "trolley")
    assert motor_limits(machine, "bridge") is None


def test_one_figure_of_the_plate_replaces_that_figure_alone() -> None:
    machine = Machine(machine=Plate(group="M5"), limits={"hoist_starts_per_hour": 200})
    found = motor_limits(machine, "hoist")
    assert found is not None
    assert (found.starts_per_hour, found.cyclic_duration) == (200, 0.40)
    assert found.source.startswith("machine file, else FEM 9.683")


def test_both_figures_of_the_plate_need_no_group() -> None:
    machine = Machine(limits={"bridge_starts_per_hour": 120, "bridge_cyclic_duration": 0.2})
    assert motor_limits(machine, "bridge") == GroupLimits(120, 0.2, 600, "machine file", "machine file")


@pytest.mark.parametrize("group", [None, "H3"])
def test_one_figure_without_a_table_is_an_error(group: str | None) -> None:
    machine = Machine(machine=Plate(trolley_group=group), limits={"trolley_starts_per_hour": 120})
    with pytest.raises(MachineError, match="wanted both trolley_starts_per_hour and trolley_cyclic_duration"):
        motor_limits(machine, "trolley")


def test_percent_written_for_a_share_is_an_error() -> None:
    whole = Machine(machine=Plate(group="M5"), limits={"hoist_cyclic_duration": 1.0})
    found = motor_limits(whole, "hoist")
    assert found is not None
    assert found.cyclic_duration == 1.0
    percent = Machine(machine=Plate(group="M5"), limits={"hoist_cyclic_duration": 40})
    with pytest.raises(MachineError, match=r"write 40 % as 0\.40"):
        motor_limits(percent, "hoist")


def test_limits_are_declared_for_every_motion() -> None:
    names = {declared.name for declared in limits_of(DutyLimits)}
    assert names == {f"{motion}_{kind}" for motion in MOTIONS for kind in ("starts_per_hour", "cyclic_duration")}
