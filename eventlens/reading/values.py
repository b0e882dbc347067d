"""Texts of values -> numbers and on/off. What is not understood is never guessed."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import polars as pl

from eventlens import signals
from eventlens.reading.coded import is_coded, places
from eventlens.reading.numerals import (
    Decimal,
    find_decimal,
    maybe_thousands,
    mixed_marks,
    split_units,
    to_number,
    unit_factors,
    unit_of_signal,
)
from eventlens.reading.vocabulary import LETTER_PAIRS, OFF_WORDS, ON_WORDS, UNKNOWN_WORDS

if TYPE_CHECKING:
    from eventlens.reading.entries import Source

__all__ = [
    "OFF_WORDS",
    "ON_WORDS",
    "UNKNOWN_WORDS",
    "Decimal",
    "Values",
    "doubts",
    "find_decimal",
    "numbers",
    "of_source",
    "states",
    "words_note",
]

_CONTACT_WORDS: Final = (
    *("open", "closed", "offen", "geöffnet", "geschlossen", "ouvert", "ouverte", "fermé", "fermée", "abierto"),
    *("cerrado", "aperto", "chiuso", "aberto", "fechado", "otwarty", "zamknięty", "gesloten"),
)
"""Of a contact `closed` is on, of a brake `open` is released: for a brake these words are not guessed."""
WORDS_SAID: Final = 5


@dataclass(frozen=True)
class Values:
    """Numbers (Float64; null: unknown) and which rows were not understood at all."""

    number: pl.Series
    bad: pl.Series
    words: bool = False
    """Whether some rows held words in place of numbers."""


def of_source(value: pl.Series, source: Source, decimal: Decimal | None) -> Values:
    """The values of one name as its source in the profile wants them."""
    if is_coded(value):
        return _of_each_text(value, lambda texts: of_source(texts, source, decimal))
    if source.signal in signals.MEASURES:
        return numbers(value, decimal, unit_of_signal(source.signal), source.factor)
    if source.above is not None or source.below is not None:
        found = _states_by_limit(value, source.above, source.below, decimal)
    elif source.on or source.off:
        found = _states_by_words(value, source.on, source.off)
    else:
        found = states(value, decimal, is_brake=source.signal.endswith(".brake.released"))
    return Values(1 - found.number, found.bad) if source.invert else found


def numbers(value: pl.Series, decimal: Decimal | None, unit: str | None = None, factor: float = 1.0) -> Values:
    """Measured values as numbers in `unit`: the cell's own unit goes before the factor; a unit that is not known
    makes a cell not understood, unless a factor is stated."""
    if is_coded(value):
        return _of_each_text(value, lambda texts: numbers(texts, decimal, unit, factor))
    number, odd = _plain(value, decimal)
    number = number * factor
    if odd is None:
        return Values(number, _none(value))
    texts = value.filter(odd)
    digits, units = split_units(texts)
    if units.null_count() < len(units):
        scale = unit_factors(units, unit) if unit else pl.repeat(None, len(units), dtype=pl.Float64, eager=True)
        if factor != 1.0:
            scale = scale.fill_null(factor)
        number = number.scatter(odd.arg_true(), to_number(digits, decimal) * scale)
    words = texts.str.strip_chars().str.to_lowercase()
    bad = number.filter(odd).is_null() & ~words.is_in(list(UNKNOWN_WORDS)) & (words != "")
    return Values(number, _at(odd, bad))


def states(value: pl.Series, decimal: Decimal | None = None, *, is_brake: bool = False) -> Values:
    """On (1.0) and off (0.0): known words in any case, and numbers, of which every one but zero is on."""
    if is_coded(value):
        return _of_each_text(value, lambda texts: states(texts, decimal, is_brake=is_brake))
    number, odd = _plain(value, decimal)
    if odd is not None and decimal is None and find_decimal(value.filter(odd)) == ",":
        number, odd = _plain(value, ",")
    state = (number != 0).cast(pl.Float64)
    if odd is None:
        return Values(state, _none(value))
    words = value.filter(odd).str.strip_chars().str.to_lowercase()
    known = dict.fromkeys(ON_WORDS, 1.0) | dict.fromkeys(OFF_WORDS, 0.0)
    if is_brake:
        known = {word: state for word, state in known.items() if word not in _CONTACT_WORDS}
    known |= _letters(words)
    meant = words.replace_strict(known, default=None, return_dtype=pl.Float64)
    bad = meant.is_null() & ~words.is_in(list(UNKNOWN_WORDS)) & (words != "")
    return Values(state.scatter(odd.arg_true(), meant), _at(odd, bad), words=True)


def doubts(value: pl.Series, decimal: Decimal | None, where: str = "") -> list[str]:
    """What is to be said of the numbers of a column of measured values."""
    sample = maybe_thousands(value)
    if sample is not None:
        mark = "comma" if "," in sample else "point"
        if decimal is None or decimal == sample.lstrip("+-")[-4]:
            other = sample.replace(",", "").replace(".", "")
            return [f"Numbers like {sample}{where} are read with a decimal {mark}; they could also mean {other}."]
    if mixed_marks(value):
        return [f"Numbers{where} are written with decimal comma and with decimal point: each is read by its own."]
    return []


def words_note(value: pl.Series, bad: pl.Series, what: str) -> list[str]:
    """One sentence on the words of a column that were not understood, with their counts."""
    if not bad.any():
        return []
    counts = value.filter(bad).cast(pl.String).str.strip_chars().value_counts(sort=True, name="n")
    rows = sorted(counts.iter_rows(), key=lambda row: (-row[1], row[0]))
    said = ", ".join(f"'{word}' {count} x" for word, count in rows[:WORDS_SAID])
    more = f" and {len(rows) - WORDS_SAID} other words" if len(rows) > WORDS_SAID else ""
    return [f"{int(bad.sum())} {what} are not understood ({said}{more}): state unknown."]


def _letters(words: pl.Series) -> dict[str, float]:
    """What single letters mean: only where all letters of the column fit together and in one way."""
    letters = words.filter(words.str.len_chars() == 1)
    seen = set(letters.filter(letters.str.contains(r"[a-z]")).unique().to_list())
    if not seen:
        return {}
    fits = [pair for pair in LETTER_PAIRS if seen <= set(pair)]
    meanings = {letter: {float(pair[0] == letter) for pair in fits} for letter in seen}
    return {letter: next(iter(found)) for letter, found in meanings.items() if len(found) == 1}


def _states_by_words(value: pl.Series, on: Sequence[str], off: Sequence[str]) -> Values:
    """States by the profile's words (case and outer blanks aside, numbers by value).

    Only `on`: everything else is off. Only `off`: everything else is on. Both: any other word is not understood.
    """
    text = value.cast(pl.String).str.strip_chars().str.to_lowercase()
    amount = text.str.replace(",", ".", literal=True).cast(pl.Float64, strict=False)

    def among(words: Sequence[str]) -> pl.Series:
        wanted = [word.strip().lower() for word in words]
        values = []
        for word in wanted:
            with contextlib.suppress(ValueError):
                values.append(float(word.replace(",", ".")))
        return (text.is_in(wanted) | amount.is_in(values).fill_null(False)).fill_null(False)

    is_on, is_off = among(on), among(off)
    unknown = (text.is_in(list(UNKNOWN_WORDS)) | (text == "")).fill_null(True) & ~is_on & ~is_off
    if on and off:
        state = pl.select(pl.when(is_on).then(1.0).when(is_off).then(0.0))[:, 0]
        return Values(state, ~is_on & ~is_off & ~unknown)
    state = pl.select(pl.when(~unknown).then((is_on if on else ~is_off).cast(pl.Float64)))[:, 0]
    return Values(state, _none(value))


def _states_by_limit(value: pl.Series, above: float | None, below: float | None, decimal: Decimal | None) -> Values:
    """On where the number lies above one limit, below the other, or (both stated) between them."""
    number, odd = _plain(value, decimal)
    bad = _none(value)
    if odd is not None:
        texts = value.filter(odd)
        number = number.scatter(odd.arg_true(), to_number(split_units(texts)[0], decimal))
        words = texts.str.strip_chars().str.to_lowercase()
        bad = _at(odd, number.filter(odd).is_null() & ~words.is_in(list(UNKNOWN_WORDS)) & (words != ""))
    on = pl.repeat(True, len(value), eager=True)
    if above is not None:
        on = on & (number > above)
    if below is not None:
        on = on & (number < below)
    state = pl.select(pl.when(number.is_not_null()).then(on.cast(pl.Float64)))[:, 0]
    return Values(state, bad)


def _of_each_text(value: pl.Series, read: Callable[[pl.Series], Values]) -> Values:
    """The values of a coded column, each of its texts read once."""
    texts, at = places(value)
    found = read(texts)
    bad = found.bad.gather(at).fill_null(False) if found.bad.any() else _none(value)
    return Values(found.number.gather(at), bad, found.words)


def _plain(value: pl.Series, decimal: Decimal | None) -> tuple[pl.Series, pl.Series | None]:
    """The finite numbers of a column, and a mask of texts that are none (None: there is no such text)."""
    if value.dtype != pl.String:
        number = value.cast(pl.Float64, strict=False)
        return pl.select(pl.when(number.is_finite()).then(number))[:, 0], None
    if decimal == ",":
        number = to_number(value, ",")
    else:
        number = value.cast(pl.Float64, strict=False)
        if number.null_count() > value.null_count():
            left = number.is_null() & value.is_not_null()
            number = number.scatter(left.arg_true(), to_number(value.filter(left), "."))
    if not number.is_finite().all():
        number = pl.select(pl.when(number.is_finite()).then(number))[:, 0]
    if number.null_count() == value.null_count():
        return number, None
    return number, number.is_null() & value.is_not_null()


def _none(value: pl.Series) -> pl.Series:
    return pl.repeat(False, len(value), eager=True)


def _at(odd: pl.Series, bad: pl.Series) -> pl.Series:
    return pl.repeat(False, len(odd), eager=True).scatter(odd.arg_true(), bad)
