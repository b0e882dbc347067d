"""Stamps in several columns -> one text: date and time in any order, milliseconds, or a column for each part."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import polars as pl

_CLOCK: Final = r"\d:\d{1,2}"
_WITH_SECONDS: Final = r"\d:\d{1,2}:\d{1,2}(?:\s*\D{0,6})?$"
TIME_DIGITS: Final = r"^(?:(?:[01]?\d|2[0-3])?[0-5]?\d)?[0-5]?\d$"
"""Hours, minutes and seconds as one number, leading zeros or not."""
_YEAR: Final = r"^(?:19|20)\d\d$"
_PARTS: Final = ("year", "month", "day", "hour", "minute", "second", "fraction")


def joined_columns(columns: Sequence[pl.Series]) -> pl.Series:
    """Several columns as one text; null where one of them is empty."""
    texts = [column.cast(pl.String).str.strip_chars().alias(str(at)) for at, column in enumerate(columns)]
    if 5 <= len(texts) <= len(_PARTS) and all(_whole(text) for text in texts):
        return _from_parts(texts, columns[-1].name)
    texts, fraction = _fraction_of(texts, columns[-1].name)
    has_clock = [_is_clock(text) for text in texts]
    if len(texts) == 2 and has_clock == [True, False]:
        texts = texts[::-1]
    elif len(texts) >= 2 and not any(has_clock) and _all(texts[1], TIME_DIGITS) and _whole(texts[1]):
        digits = texts[1].str.zfill(6).str.replace(r"^(\d\d)(\d\d)(\d\d)$", "$1:$2:$3")
        texts = [texts[0], digits, *texts[2:]]
    whole = pl.select(time=pl.concat_str(texts, separator=" "))["time"]
    if fraction is None:
        return whole
    # the marker of a half of the day may stand behind the seconds
    seconds = r"(\d:\d{1,2}:\d{1,2})"
    frame = pl.DataFrame({"t": whole, "f": fraction})
    parted = pl.col("t").str.replace(seconds, "${1}\x00").str.split_exact("\x00", 1)
    return frame.select(
        time=pl.concat_str(
            parted.struct.field("field_0"), pl.lit("."), pl.col("f"), parted.struct.field("field_1").fill_null("")
        )
    )["time"]


def _from_parts(texts: list[pl.Series], last_name: str) -> pl.Series:
    year_digits = 4 if int(texts[0].str.len_chars().max() or 0) > 2 else 2  # type: ignore[arg-type]
    padded = [text.str.zfill(2 if at else year_digits) for at, text in enumerate(texts)]
    date = pl.concat_str(padded[:3], separator="-")
    clock = pl.concat_str(padded[3:6], separator=":")
    if len(texts) < len(_PARTS):
        return pl.select(time=pl.concat_str([date, clock], separator=" "))["time"]
    fraction = texts[6].str.zfill(_digits_of(texts[6], last_name))
    return pl.select(time=pl.concat_str([pl.concat_str([date, clock], separator=" "), fraction], separator="."))["time"]


def _fraction_of(texts: list[pl.Series], last_name: str) -> tuple[list[pl.Series], pl.Series | None]:
    """The columns without a last one of whole parts of a second, and that one padded to its digits."""
    last, before = texts[-1], texts[-2]
    sample = before.drop_nulls().head(50)
    if not len(sample) or not sample.str.contains(_WITH_SECONDS).all() or not _whole(last) or _all(last, _YEAR):
        return texts, None
    most = int(last.cast(pl.Int64, strict=False).max() or 0)  # type: ignore[arg-type]
    if most > 999_999_999:
        return texts, None
    return texts[:-1], last.str.zfill(_digits_of(last, last_name))


def _digits_of(column: pl.Series, name: str) -> int:
    """Decimals that a column of whole numbers counts: milliseconds, unless its name or its size says otherwise."""
    most = int(column.cast(pl.Int64, strict=False).max() or 0)  # type: ignore[arg-type]
    lower = name.lower()
    if most > 999_999 or lower.startswith(("ns", "nano")):
        return 9
    if most > 999 or lower.startswith(("us", "µs", "μs", "micro", "mikro")):
        return 6
    return 2 if lower.startswith(("cs", "hundredth", "centi")) else 3


def _is_clock(text: pl.Series) -> bool:
    sample = text.drop_nulls().head(50)
    return len(sample) > 0 and float(sample.str.contains(_CLOCK).mean() or 0) > 0.5  # type: ignore[arg-type]


def _all(text: pl.Series, pattern: str) -> bool:
    known = text.drop_nulls()
    return len(known) > 0 and bool(known.str.contains(pattern).all())


def _whole(text: pl.Series) -> bool:
    number = text.cast(pl.UInt32, strict=False)
    return number.null_count() <= text.null_count() and number.null_count() < len(number)
