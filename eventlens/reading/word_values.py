"""Texts of packed words -> whole numbers in every usual spelling, with their bytes and words in order.

Marked in the cell: 0x12, 16#12, W#16#12, DW#16#12, $12, &H12, 12h; 2#1010, 0b1010; 8#17, 0o17. Blanks and underscores
inside a word are ignored. Not marked, decided by the whole column: hexadecimal where letters occur or where all cells
are 4, 8 or 16 digits and some begin with 0; binary where all cells are 8, 16, 32 or 64 digits 0 and 1; else decimal.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlens.reading.entries import ALL_BITS, Word
from eventlens.reading.vocabulary import UNKNOWN_WORDS

_MARK: Final = r"(?i)[#x$&]|^0[bo]|h$"
_HEX: Final = r"(?i)^(?:[a-z]{0,2}#?16#|0x|\$|&h)([0-9a-f]+)$"
_HEX_H: Final = r"(?i)^([0-9a-f]+)h$"
_BINARY: Final = r"(?i)^(?:[a-z]{0,2}#?2#|0b)([01]+)$"
_OCTAL: Final = r"(?i)^(?:[a-z]{0,2}#?8#|0o)([0-7]+)$"
_WIDTHS: Final = (16, 32, 64)

Unsigned = npt.NDArray[np.uint64]


@dataclass(frozen=True)
class WordValues:
    """The words of a column."""

    number: pl.Series
    """Int64, the bits as they are: bit 63 is the sign. Null: unknown."""
    bad: pl.Series
    width: int
    signed: bool
    notes: tuple[str, ...]


def word_values(column: pl.Series, word: Word, name: str = "") -> WordValues:
    """The words of a column, checked against their width and with bytes and words in order."""
    notes: list[str] = []
    digits = 0
    minus = word.signed or word.encoding == "signed"
    if column.dtype.is_numeric() or column.dtype == pl.Boolean:
        number = column.cast(pl.Int64, strict=False)
        bad = number.is_null() & column.is_not_null()
    else:
        text = column.cast(pl.String).str.strip_chars()
        if text.str.contains(r"[\s_]").any():
            text = text.str.replace_all(r"[\s_]", "")
        number, digits = _by_mark(text)
        left = number.is_null() & text.is_not_null()
        if left.any():
            plain = text.filter(left)
            encoding = word.encoding or _encoding_of(plain, name, notes)
            minus = minus or bool(plain.str.starts_with("-").any())
            number = number.scatter(left.arg_true(), _by_base(plain, encoding))
            digits = max(digits, _digits(plain, encoding))
        words = text.str.to_lowercase()
        bad = number.is_null() & ~(words.is_in(list(UNKNOWN_WORDS)) | (words == "")).fill_null(True)
    width = word.width or _width(number, digits, word)
    fits = _fits(number, width)
    bad = bad | (~fits & number.is_not_null())
    number = pl.select(pl.when(fits).then(number))[:, 0]
    raw = _in_order(_mask(number, width), width, word)
    ordered = pl.Series(raw.view(np.int64))
    number = pl.select(pl.when(number.is_not_null()).then(ordered))[:, 0]
    return WordValues(number, bad, width, minus, tuple(notes))


def bits_of(number: pl.Series, low: int, high: int) -> pl.Series:
    """Some neighbouring bits as a number (UInt64)."""
    raw = number.fill_null(0).to_numpy().view(np.uint64) >> np.uint64(low)
    if high - low < 63:
        raw = raw & np.uint64((1 << (high - low + 1)) - 1)
    return pl.select(pl.when(number.is_not_null()).then(pl.Series(raw)))[:, 0]


def field_of(values: WordValues, low: int, high: int, *, bcd: bool) -> pl.Series:
    """Some neighbouring bits as a number (Float64); null too where a decimal digit in them is none."""
    high = min(high, values.width - 1)
    number = bits_of(values.number, low, high)
    if bcd:
        return _from_bcd(number, (high - low + 4) // 4)
    found = number.cast(pl.Float64)
    if values.signed:
        negative = bits_of(values.number, high, high) == 1
        found = pl.select(pl.when(negative).then(found - 2.0 ** (high - low + 1)).otherwise(found))[:, 0]
    return found


def _from_bcd(number: pl.Series, digits: int) -> pl.Series:
    total = pl.repeat(0.0, len(number), dtype=pl.Float64, eager=True)
    good = number.is_not_null()
    for at in range(digits):
        digit = bits_of(number.reinterpret(signed=True), 4 * at, 4 * at + 3)
        good = good & (digit <= 9).fill_null(False)
        total = total + digit.cast(pl.Float64) * 10.0**at
    return pl.select(pl.when(good).then(total))[:, 0]


def _by_mark(text: pl.Series) -> tuple[pl.Series, int]:
    """The words whose cells say how they are written, and the most bits that their digits hold."""
    nothing = pl.repeat(None, len(text), dtype=pl.Int64, eager=True)
    if not text.str.contains(_MARK).any():
        return nothing, 0
    found, most = nothing, 0
    for pattern, base, bits in ((_HEX, 16, 4), (_HEX_H, 16, 4), (_BINARY, 2, 1), (_OCTAL, 8, 3)):
        digits = text.str.extract(pattern)
        if digits.null_count() == len(digits):
            continue
        most = max(most, bits * int(digits.str.len_bytes().max() or 0))  # type: ignore[arg-type]
        found = pl.select(pl.coalesce(found, _integer(digits, base)))[:, 0]
    return found, most


def _encoding_of(text: pl.Series, name: str, notes: list[str]) -> str:
    """How the words of a column without marks are written."""
    known = text.filter(~text.str.to_lowercase().is_in([*UNKNOWN_WORDS, ""]))
    if known.is_empty():
        return "decimal"
    lengths = known.str.len_bytes()
    even = lengths.min() == lengths.max()
    length = int(lengths[0])
    if even and length in (8, 16, 32, 64) and bool(known.str.contains(r"^[01]+$").all()):
        notes.append(f"Words of '{name}' are {length} digits 0 and 1: read as binary.")
        return "binary"
    if known.str.contains(r"(?i)^[0-9a-f]*[a-f][0-9a-f]*$").any():
        return "hex"
    padded = even and length in (4, 8, 16) and bool(known.str.contains(r"^\d+$").all())
    if padded and known.str.contains(r"^0").any():
        notes.append(f"Words of '{name}' all have {length} digits, filled up with 0: read as hexadecimal.")
        return "hex"
    return "decimal"


def _by_base(text: pl.Series, encoding: str) -> pl.Series:
    if encoding in ("decimal", "signed"):
        whole = text.str.replace(r"[.,]0+$", "").str.replace(r"(?i)^[a-z]{1,2}#", "")
        number = whole.cast(pl.Int64, strict=False)
        if number.null_count() > text.null_count():
            number = pl.select(pl.coalesce(number, whole.cast(pl.UInt64, strict=False).reinterpret(signed=True)))[:, 0]
        return number
    return _integer(text, {"hex": 16, "binary": 2, "octal": 8}[encoding])


def _integer(digits: pl.Series, base: int) -> pl.Series:
    return digits.str.to_integer(base=base, dtype=pl.UInt64, strict=False).reinterpret(signed=True)


def _digits(text: pl.Series, encoding: str) -> int:
    """Bits that the digits of a column hold; 0 for decimal ones, whose number of digits says nothing."""
    per_digit = {"hex": 4, "binary": 1, "octal": 3}.get(encoding, 0)
    return per_digit * int(text.str.len_bytes().max() or 0)  # type: ignore[arg-type]


def _width(number: pl.Series, digits: int, word: Word) -> int:
    """The least usual width that holds the numbers, their digits and the bits of the profile."""
    needed = max([*(bit + 1 for bit in word.bits), *(h + 1 for low, h in word.fields if (low, h) != ALL_BITS), 1])
    return next(
        (width for width in _WIDTHS if needed <= width and digits <= width and bool(_fits(number, width).all())), 64
    )


def _fits(number: pl.Series, width: int) -> pl.Series:
    """Whether the numbers lie inside the width, unsigned or as two's complement; true where unknown."""
    if width == 64:
        return pl.repeat(True, len(number), eager=True)
    return ((number >= -(1 << (width - 1))) & (number < (1 << width))).fill_null(True)


def _mask(number: pl.Series, width: int) -> Unsigned:
    raw: Unsigned = number.fill_null(0).to_numpy().astype(np.int64).view(np.uint64)
    return raw if width == 64 else raw & np.uint64((1 << width) - 1)


def _in_order(raw: Unsigned, width: int, word: Word) -> Unsigned:
    """The words with their bytes and 16-bit parts as the highest first."""
    if width == 8 or (word.byte_order == "high_first" and word.word_order == "high_first"):
        return np.ascontiguousarray(raw)
    cells = raw.astype(">u8").view(np.uint8).reshape(-1, 8)[:, 8 - width // 8 :].reshape(-1, width // 16, 2)
    if word.word_order == "low_first":
        cells = cells[:, ::-1, :]
    if word.byte_order == "low_first":
        cells = cells[:, :, ::-1]
    whole = np.zeros((len(raw), 8), np.uint8)
    whole[:, 8 - width // 8 :] = cells.reshape(-1, width // 8)
    return whole.view(">u8").reshape(-1).astype(np.uint64)
