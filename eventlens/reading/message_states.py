"""Came, gone, acknowledged: the words of a log of messages. An acknowledgement is neither beginning nor end."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import polars as pl

from eventlens.reading.profile import LogKeys
from eventlens.reading.vocabulary import (
    ACKNOWLEDGED_WORDS,
    CAME_WORDS,
    COMBINED,
    GONE_WORDS,
    OFF_WORDS,
    ON_WORDS,
    UNKNOWN_WORDS,
)

_ACKNOWLEDGED: Final = -1.0


@dataclass(frozen=True)
class MessageStates:
    """The state that each row of messages tells."""

    number: pl.Series
    """1 came, 0 gone, null neither."""
    acknowledged: pl.Series
    bad: pl.Series
    """Rows whose word is not known."""


def message_states(value: pl.Series, keys: LogKeys) -> MessageStates:
    """States of a column of words; words of the profile replace the usual ones of their kind."""
    known = _meanings(keys)
    text = value.cast(pl.String).str.strip_chars().str.to_lowercase().str.replace(r"^([01])[.,]0+$", "$1")
    meant = text.replace_strict(known, default=None, return_dtype=pl.Float64)
    acknowledged = (meant == _ACKNOWLEDGED).fill_null(False)
    number = pl.select(pl.when(~acknowledged).then(meant))[:, 0]
    nothing = (text.is_in(list(UNKNOWN_WORDS)) | (text == "")).fill_null(True)
    return MessageStates(number, acknowledged, meant.is_null() & ~nothing)


def is_message_state(column: pl.Series) -> bool:
    """Whether a sample of a column holds states of messages that could not as well be plain on and off."""
    if column.dtype != pl.String:
        return False
    words = set(column.drop_nulls().str.strip_chars().str.to_lowercase().unique().to_list())
    telling = CAME_WORDS | GONE_WORDS | ACKNOWLEDGED_WORDS | set(COMBINED)
    plain = ON_WORDS | OFF_WORDS | UNKNOWN_WORDS | {"+", "-", "0", "1"}
    own = words - plain
    return len(words) > 1 and words <= telling and bool(own) and bool(words & (GONE_WORDS | set(COMBINED)))


def state_column(sample: pl.DataFrame, columns: Sequence[str], keys: LogKeys) -> str | None:
    """The column that most likely holds the states: at least half of its cells are known words."""
    known = list(_meanings(keys))
    best, most = None, 0.5
    for name in columns:
        cells = sample[name].drop_nulls().cast(pl.String).str.strip_chars().str.to_lowercase()
        share = float(cells.is_in(known).mean() or 0) if len(cells) else 0.0  # type: ignore[arg-type]
        if share > most or (share == most and best is None):
            best, most = name, share
    return best


def _meanings(keys: LogKeys) -> dict[str, float]:
    came, gone, acknowledged = (
        {word.strip().lower() for word in part} for part in (keys.came, keys.gone, keys.acknowledged)
    )
    found = dict(COMBINED)
    found |= {} if acknowledged else dict.fromkeys(ACKNOWLEDGED_WORDS, _ACKNOWLEDGED)
    found |= {} if came else dict.fromkeys(CAME_WORDS, 1.0)
    found |= {} if gone else dict.fromkeys(GONE_WORDS, 0.0)
    return found | dict.fromkeys(acknowledged, _ACKNOWLEDGED) | dict.fromkeys(came, 1.0) | dict.fromkeys(gone, 0.0)
