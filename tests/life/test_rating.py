"""Guards the types of duty of IEC 60034-1 and the rating that a use needs: each line, and both sides of each border."""

from __future__ import annotations

import pytest

import eventlens.duty.groups
from eventlens.life import rating
from eventlens.life.rating import DUTY_TYPES, motor_rating
from eventlens.patterns import catalogue

# IEC 60034-1: type, designation, cyclic duration factor, how sure that is. Meanings and designations, and the factor of
# S3, are from several places; the factors of S4 and S5 from memory
TYPES = [
    ("S1", "S1", None, "confirmed"),
    ("S2", "S2 60 min", None, "confirmed"),
    ("S3", "S3 25 %", "tp / T", "confirmed"),
    ("S4", "S4 25 % JM = 0.15 kgm2 Jext = 0.7 kgm2", "(tD + tp) / T", "from memory"),
    ("S5", "S5 30 % JM Jext", "(tD + tp + tF) / T", "from memory"),
]


def test_every_type_of_duty() -> None:
    assert [(name, d.designation, d.factor, d.factor_confidence) for name, d in DUTY_TYPES.items()] == TYPES
    assert {duty.confidence for duty in DUTY_TYPES.values()} == {"confirmed"}
    assert [name for name, duty in DUTY_TYPES.items() if "braking" in duty.meaning] == ["S5"]


def test_short_time_duty_has_no_minutes_of_a_group() -> None:
    # they were found nowhere: no default, the plate's figure goes into the machine file, and the modules say so
    (limit,) = catalogue()["run_too_long"].limits
    assert limit.name == "run_longest_s"
    for module in (rating, eventlens.duty.groups):
        assert "minutes of short-time duty S2" in " ".join((module.__doc__ or "").split()).lower().replace("s2", "S2")
        assert limit.name in (module.__doc__ or "")


# IEC 60034-1: 15 (from memory), 25, 40, 60 %; starting classes 6, 150, 300, 600 of two motor guides
@pytest.mark.parametrize(
    ("share", "starts", "duty", "duration", "begun", "confidence"),
    [
        (0.15, 6, "S4", 0.15, 6, "from memory"),
        (0.151, 7, "S4", 0.25, 150, "from memory"),
        (0.26, 150, "S4", 0.40, 150, "from memory"),
        (0.60, 301, "S4", 0.60, 600, "from memory"),
        (0.61, 601, "S1", None, None, "from one place"),
    ],
)
def test_rating_of_a_motor(
    share: float, starts: float, duty: str, duration: float | None, begun: int | None, confidence: str
) -> None:
    found = motor_rating(share, starts)
    assert (found.duty, found.cyclic_duration, found.starts_per_hour) == (duty, duration, begun)
    assert found.confidence == confidence  # the factor of S4 is from memory
    assert (found.meaning, f"duty {duty}" in found.source) == (DUTY_TYPES[duty].meaning, True)
