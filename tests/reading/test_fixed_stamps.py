"""Guards the quick way of reading stamps: against reading them character by character, whatever stands in them."""

from __future__ import annotations

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eventlens.reading.clocks.fixed import Notation

SAMPLES = (
    "2026-03-02 06:07:08",
    "02.03.2026 06:07:08,9",
    "2026-03-02T06:07:08.091",
    "2026-03-02T06:07:08.091234+02:00",
    "03/02/2026 06:07:08Z",
)
stamps = st.lists(
    st.tuples(
        st.integers(0, 24 * 3600),
        st.integers(0, 999_999),
        st.integers(0, 40),
        st.sampled_from("0123456789:;/ .,-aAZz~\x00"),
    ),
    min_size=1,
    max_size=6,
)
"""Second of the day, microsecond, a place and the character that is written over what stands there."""


def by_character(sample: str, text: str) -> int:
    """Oracle: microseconds since midnight, -1 where the text is not written like the sample."""
    clock = text[11:19]
    zone = next((at for at in range(19, len(sample)) if sample[at] in "Z+-"), len(sample))
    for at in (10, *range(19, len(sample))):
        digit = sample[at].isdigit() and at < zone
        if text[at] not in "0123456789" if digit else text[at] != sample[at]:
            return -1
    if any(clock[at] not in "0123456789" for at in (0, 1, 3, 4, 6, 7)) or clock[2] + clock[5] != "::":
        return -1
    if clock[0] > "2" or clock[3] > "5" or clock[6] > "5":
        return -1
    fraction = text[20:zone]
    time = (int(clock[:2]) * 3600 + int(clock[3:5]) * 60 + int(clock[6:])) * 1_000_000 + int(fraction.ljust(6, "0"))
    return time if time <= 86_400_000_000 else -1


@settings(max_examples=100, deadline=None)
@given(stamps)
@pytest.mark.parametrize("sample", SAMPLES)
def test_eight_characters_at_once_are_read_like_one_by_one(sample: str, drawn: list[tuple[int, int, int, str]]) -> None:
    notation = Notation.of(sample)
    assert notation is not None
    written = [sample]
    for second, fraction, place, character in drawn:
        clock = f"{second // 3600:02d}:{second // 60 % 60:02d}:{second % 60:02d}"
        text = (
            sample[:11] + clock + sample[19:20] + f"{fraction:06d}"[: notation.digits] + sample[20 + notation.digits :]
        )
        text = text[: len(sample)] if notation.digits else sample[:11] + clock + sample[19:]
        at = 10 + place % (len(sample) - 10)
        written += [text, text[:at] + character + text[at + 1 :]]
    time, _ = notation.cut(pl.Series(written))
    assert time.tolist() == [by_character(sample, text) for text in written]
