"""A row for each sample, a column for each signal; cyclic or on change.

Time;K1;K2;Load kg
2024-05-01 06:00:00.000;0;0;12,5
2024-05-01 06:00:00.100;1;0;12,5
"""

from __future__ import annotations

from eventlens.reading.extracted import Extracted, Stretches, events_of_channels
from eventlens.reading.profile import Profile
from eventlens.reading.sampled import channels_of

NAME = "samples"


def extract(stretches: Stretches, profile: Profile) -> Extracted:
    """Events where a column's value changes. An empty cell is unknown, unless the profile says unchanged."""
    channels, notes = channels_of(stretches, profile, stretches.shape.data)
    found = events_of_channels(stretches, channels)
    return Extracted(found.events, found.names, found.rejected, notes)
