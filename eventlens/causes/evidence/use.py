"""How the machine is worked: jogging, plugging, more than its group allows."""

from __future__ import annotations

from collections.abc import Iterator

from eventlens.causes.complaints import Complaint
from eventlens.causes.evidence._presence import presence
from eventlens.causes.signs import Sign


def signs(complaint: Complaint) -> Iterator[Sign]:
    """What the log says of the way of working."""
    if complaint.motion is None:
        return
    yield from presence(complaint, "jogging", ["jogging"])
    yield from presence(complaint, "plugging", ["reversal_without_pause"])
    yield from presence(
        complaint,
        "duty_over",
        ["starts_per_hour_high", "cyclic_duration_high"],
    )
