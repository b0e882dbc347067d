"""The quality that a log writes beside its values: a value of bad quality is unknown.

Words in several languages; numbers as gateways usually write them: 192 and more good (bytes), or the two highest of
32 bits 0 good (status codes). Any other numbers need `good` in the profile.
"""

from __future__ import annotations

from typing import Final

import polars as pl

from eventlens.errors import ReadingError
from eventlens.reading.profile import Profile
from eventlens.reading.vocabulary import BAD_WORDS, GOOD_WORDS

_GOOD_BYTE: Final = 192
_BYTE: Final = 256
_BAD_CODE: Final = 1 << 30
"""Status codes: severity stands in bits 30 and 31, 0 is good."""
WORDS_SAID: Final = 5


def good_rows(column: pl.Series, profile: Profile) -> tuple[pl.Series, list[str]]:
    """Which rows of a column of qualities are good, and notes. An empty cell is not good."""
    text = column.cast(pl.String).str.strip_chars().str.to_lowercase().fill_null("")
    distinct = text.unique(maintain_order=True)
    if profile.log.good:
        good = {word.strip().lower() for word in profile.log.good}
        known = {word: word in good for word in distinct}
    else:
        known = _usual(distinct, column.name)
    mask = text.replace_strict(known, return_dtype=pl.Boolean)
    if mask.all():
        return mask, []
    counts = text.filter(~mask).value_counts(sort=True, name="n")
    rows = sorted(counts.iter_rows(), key=lambda row: (-row[1], row[0]))[:WORDS_SAID]
    said = ", ".join(f"'{word}' {count} x" for word, count in rows)
    return mask, [f"{int((~mask).sum())} values are not of good quality by '{column.name}' ({said}): unknown."]


def _usual(distinct: pl.Series, name: str) -> dict[str, bool]:
    """Which of the words of a column mean good, by what is usual. Words that are not known are not good."""
    number = distinct.str.replace(r"[.,]0+$", "").cast(pl.Int64, strict=False)
    codes = number.drop_nulls()
    if not len(codes):
        return {word: word in GOOD_WORDS and word not in BAD_WORDS for word in distinct}
    if int(codes.max()) >= _BAD_CODE:  # type: ignore[arg-type]
        good = number < _BAD_CODE
    elif int(codes.max()) < _BYTE and bool((codes >= _GOOD_BYTE).any()):  # type: ignore[arg-type]
        good = number >= _GOOD_BYTE
    else:
        shown = ", ".join(f"'{word}'" for word in distinct.head(WORDS_SAID))
        raise ReadingError(
            f"qualities in column '{name}' that are known",
            shown,
            "state in [log] good of the profile which of them mean that the value holds",
        )
    return {
        word: bool(is_good) if is_good is not None else word in GOOD_WORDS
        for word, is_good in zip(distinct, good, strict=True)
    }
