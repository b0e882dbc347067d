"""How the machine is worked: jogging, plugging, more than its group allows."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from eventlens.causes.complaints import Complaint
from eventlens.causes.evidence._presence import presence
from eventlens.causes.signs import Sign

HABIT: Final = 0.01
"""Share of the runs from which on a way of working is one that wears parts (judgement)."""


def signs(complaint: Complaint) -> Iterator[Sign]:
    """What the log says of the way of working."""
    if complaint.motion is None:
        return
    yield from presence(complaint, "jogging", ["jogging"], habit=HABIT)
    yield from presence(complaint, "plugging", ["reversal_without_pause"], habit=HABIT)
    yield from presence(
        complaint,
        "duty_over",
        ["starts_per_hour_high", "cyclic_duration_high"],
    )
