"""A row for each sample with packed status words; the profile lists their bits, 0 the lowest.

    Time;MW20;MW22
    2024-05-01 06:00:00.000;16#0003;16#0000
    2024-05-01 06:00:00.100;16#0001;16#0010

Words in all spellings (see word_values.py). Packed words may also be the values of a log with a row for each change;
only the bits that changed are events then.
"""

from __future__ import annotations

from eventlens.reading.extracted import Extracted, Stretches, events_of_channels
from eventlens.reading.profile import Profile
from eventlens.reading.sampled import channels_of, row_quality
from eventlens.reading.word_bits import channels_of_word, read_word

__all__ = ["NAME", "extract", "read_word"]

NAME = "words"


def extract(stretches: Stretches, profile: Profile) -> Extracted:
    """Events where a bit changes; columns beside the words are read as samples."""
    others = [name for name in stretches.shape.data if name not in profile.words]
    channels, notes = channels_of(stretches, profile, others)
    quality = row_quality(stretches, profile)
    said = list(notes)
    for name, word in profile.words.items():
        found = channels_of_word(name, stretches.frame[name], word, keep_last=profile.log.empty == "unchanged")
        said += found.notes
        if found.bad.any():
            said.append(f"{int(found.bad.sum())} words of '{name}' are not understood: their bits are unknown.")
        channels += [quality.apply(channel, name) for channel in found.channels]
    found_events = events_of_channels(stretches, channels)
    return Extracted(found_events.events, found_events.names, found_events.rejected, tuple(dict.fromkeys(said)))
