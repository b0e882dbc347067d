"""Texts of values -> numbers and on/off. What is not understood is never guessed."""

from __future__ import annotations

import contextlib
from dataclasses import dataclass
from typing import Final, Literal

import polars as pl

ON_WORDS: Final = frozenset(
    {
        "true",
        "on",
        "yes",
        "ein",
        "an",
        "wahr",
        "ja",
        "vrai",
        "oui",
        "marche",
        "si",
        "sí",
        "sì",
        "verdadero",
        "vero",
        "verdadeiro",
        "sim",
        "aan",
        "waar",
        "closed",
        "active",
        "high",
        "set",
    }
)
OFF_WORDS: Final = frozenset(
    {
        "false",
        "off",
        "no",
        "aus",
        "falsch",
        "nein",
        "faux",
        "non",
        "arrêt",
        "falso",
        "nee",
        "não",
        "uit",
        "onwaar",
        "open",
        "inactive",
        "low",
        "reset",
    }
)
"""Spellings in English, German, French, Italian, Spanish, Portuguese and Dutch. A contact is on when closed."""
UNKNOWN_WORDS: Final = frozenset(
    {
        "?",
        "-",
        "--",
        "n/a",
        "na",
        "nan",
        "null",
        "none",
        "unknown",
        "unbekannt",
        "inconnu",
        "desconocido",
        "bad",
        "invalid",
        "ungültig",
        "#n/a",
        "error",
        "timeout",
    }
)
"""Spellings of 'not known': the row is understood, the state is unknown."""

_COMMA: Final = r"^[-+]?(?:\d+|\d{1,3}(?:\.\d{3})+),\d+$"
_COMMA_THOUSANDS: Final = r"^[-+]?\d{1,3}(?:,\d{3})+\.\d+$"
_MAYBE_THOUSANDS: Final = r"^[-+]?[1-9]\d{0,2}\.\d{3}$"

Decimal = Literal[".", ","]


@dataclass(frozen=True)
class Values:
    """Numbers (Float64; null: unknown) and which rows were not understood at all."""

    number: pl.Series
    bad: pl.Series


def find_decimal(text: pl.Series) -> Decimal | None:
    """The decimal mark of a text column, or None where no number shows it."""
    if text.dtype != pl.String:
        return "."
    texts = text.drop_nulls().str.strip_chars()
    if texts.str.contains(_COMMA).any() and not texts.str.contains(_COMMA_THOUSANDS).any():
        return ","
    return "." if texts.str.contains(r"\d\.\d").any() else None


def maybe_thousands(text: pl.Series) -> bool:
    """Whether every number with a point could as well be meant with a thousands point (1.250), by a sample."""
    if text.dtype != pl.String:
        return False
    pointed = text.drop_nulls().head(2000).str.strip_chars()
    pointed = pointed.filter(pointed.str.contains(".", literal=True))
    return len(pointed) > 0 and bool(pointed.str.contains(_MAYBE_THOUSANDS).all())


def numbers(value: pl.Series, decimal: Decimal | None) -> Values:
    """Measured values as numbers."""
    number, odd = _plain(value, decimal)
    if odd is None:
        return Values(number, pl.repeat(False, len(value), eager=True))
    words = value.filter(odd).str.strip_chars().str.to_lowercase()
    bad = ~words.is_in(list(UNKNOWN_WORDS)) & (words != "")
    return Values(number, _at(odd, bad))


def states(value: pl.Series, decimal: Decimal | None = None) -> Values:
    """On (1.0) and off (0.0): known words in any case, and numbers, of which every one but zero is on."""
    number, odd = _plain(value, decimal)
    if odd is not None and decimal is None and find_decimal(value.filter(odd)) == ",":
        number, odd = _plain(value, ",")
    state = (number != 0).cast(pl.Float64)
    if odd is None:
        return Values(state, pl.repeat(False, len(value), eager=True))
    words = value.filter(odd).str.strip_chars().str.to_lowercase()
    known = dict.fromkeys(ON_WORDS, 1.0) | dict.fromkeys(OFF_WORDS, 0.0)
    meant = words.replace_strict(known, default=None, return_dtype=pl.Float64)
    bad = meant.is_null() & ~words.is_in(list(UNKNOWN_WORDS)) & (words != "")
    return Values(state.scatter(odd.arg_true(), meant), _at(odd, bad))


def states_by_text(value: pl.Series, on: str) -> Values:
    """On where the value is this text (case and blanks aside, numbers by value), unknown where empty, else off."""
    text = value.cast(pl.String).str.strip_chars().str.to_lowercase()
    equal = text == on.strip().lower()
    with contextlib.suppress(ValueError):
        equal = equal | (text.cast(pl.Float64, strict=False) == float(on)).fill_null(False)
    unknown = text.is_in(list(UNKNOWN_WORDS)) & ~equal
    state = pl.select(pl.when(~unknown & (text != "")).then(equal.cast(pl.Float64)))[:, 0]
    return Values(state, pl.repeat(False, len(value), eager=True))


def _plain(value: pl.Series, decimal: Decimal | None) -> tuple[pl.Series, pl.Series | None]:
    """The finite numbers of a column, and a mask of texts that are none (None: there is no such text)."""
    if value.dtype != pl.String:
        number = value.cast(pl.Float64, strict=False)
        return pl.select(pl.when(number.is_finite()).then(number))[:, 0], None
    text = value
    if decimal == ",":
        text = value.str.replace_all(".", "", literal=True).str.replace(",", ".", literal=True)
    number = text.cast(pl.Float64, strict=False)
    if number.null_count() > value.null_count():
        again = text.str.strip_chars().cast(pl.Float64, strict=False)
        if decimal != ",":
            grouped = value.str.contains(_COMMA_THOUSANDS)
            ungrouped = value.str.replace_all(",", "", literal=True).cast(pl.Float64, strict=False)
            again = pl.select(pl.when(grouped).then(ungrouped).otherwise(again))[:, 0]
        number = again
    if not number.is_finite().all():
        number = pl.select(pl.when(number.is_finite()).then(number))[:, 0]
    if number.null_count() == value.null_count():
        return number, None
    return number, number.is_null() & value.is_not_null()


def _at(odd: pl.Series, bad: pl.Series) -> pl.Series:
    return pl.repeat(False, len(odd), eager=True).scatter(odd.arg_true(), bad)
