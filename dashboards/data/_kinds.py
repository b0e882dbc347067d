"""The kinds of work in a review, as its page shows them."""

from __future__ import annotations

from typing import Any, Final

from dashboards import words
from dashboards.tables import Kind, Kinds
from eventlens.result import Review

_SHOWN: Final = 0.8
"""Share of the most frequent kind from which on it is said to be nearly all (as four in five of schema.KINDS)."""


def kinds(review: Review) -> Kinds:
    """The usual kinds of runs and of work cycles; worked out when it is first asked for (a second or two)."""
    table = review.work.table
    rows = tuple(_kind(row) for row in table.iter_rows(named=True))
    return Kinds(rows, review.work.notes, _reading(rows))


def _kind(row: dict[str, Any]) -> Kind:
    lengths = tuple(words.length(row[name]) for name in ("length_s", "length_low_s", "length_high_s"))
    return Kind(row["subject"], row["words"], row["count"], row["share"], lengths[0], f"{lengths[1]} to {lengths[2]}")


def _reading(rows: tuple[Kind, ...]) -> str:
    """One sentence: how many kinds of each, and the most frequent."""
    if not rows:
        return "There is too little work in this log to tell kinds of it apart."
    said = []
    for subject in dict.fromkeys(row.subject for row in rows):
        own = [row for row in rows if row.subject == subject]
        if len(own) == 1:
            said.append(f"{subject} are of one kind")
        else:
            most = f"nearly all, {own[0].share:.0%}," if own[0].share >= _SHOWN else f"{own[0].share:.0%}"
            said.append(f"{subject} are of {len(own)} kinds ({most} of the most frequent)")
    text = "; ".join(said)
    return f"{text[0].upper()}{text[1:]}."
