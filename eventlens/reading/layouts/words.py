"""A row for each sample with packed status words; the profile lists their bits, 0 the lowest.

    Time;MW20;MW22
    2024-05-01 06:00:00.000;16#0003;16#0000
    2024-05-01 06:00:00.100;16#0001;16#0010

Words are decimal (also negative: signed), or hexadecimal as 0x12, 16#12, 12h or plain where letters occur.
"""

from __future__ import annotations

import polars as pl

from eventlens.reading.extracted import Channel, Extracted, Stretches, events_of_channels
from eventlens.reading.profile import Profile, Word
from eventlens.reading.sampled import channels_of

NAME = "words"
_HEX_MARKED = r"^\s*(?i:0x|16#)|(?i:h)\s*$"
_HEX_LETTERS = r"(?i)^\s*[0-9]*[a-f][0-9a-f]*\s*$"


def extract(stretches: Stretches, profile: Profile) -> Extracted:
    """Events where a bit changes; columns beside the words are read as samples."""
    others = [name for name in stretches.shape.data if name not in profile.words]
    channels, notes = channels_of(stretches, profile, others)
    said = list(notes)
    for name, word in profile.words.items():
        number, bad = read_word(stretches.frame[name], word)
        if bad:
            said.append(f"{bad} words of '{name}' are not understood: their bits are unknown.")
        for bit, source in sorted(word.bits.items()):
            state = ((number // (1 << bit)) & 1).cast(pl.Float64)
            value = 1 - state if source.invert else state
            keep_last = profile.log.empty == "unchanged"
            channels.append(Channel(f"{name}.{bit}", source.signal, "profile", value, keep_last))
    found = events_of_channels(stretches, channels)
    return Extracted(found.events, found.names, found.rejected, tuple(said))


def read_word(column: pl.Series, word: Word) -> tuple[pl.Series, int]:
    """The words as Int64 (a negative one keeps its bits), and how many were not understood."""
    if column.dtype.is_integer():
        return column.cast(pl.Int64), 0
    text = column.cast(pl.String).str.strip_chars()
    encoding = word.encoding
    if encoding is None:
        marked = text.str.contains(_HEX_MARKED).any() or text.str.contains(_HEX_LETTERS).any()
        encoding = "hex" if marked else "decimal"
    if encoding == "hex":
        digits = text.str.replace(r"^(?i:0x|16#)", "").str.replace(r"(?i)h$", "")
        number = digits.str.to_integer(base=16, dtype=pl.Int64, strict=False)
    else:
        number = text.str.replace(r"[.,]0+$", "").cast(pl.Int64, strict=False)
    return number, number.null_count() - text.replace("", None).null_count()
