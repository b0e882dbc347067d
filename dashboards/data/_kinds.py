"""The kinds of work in a review, as its page shows them."""

from __future__ import annotations

from typing import Any

from dashboards.tables import Kind, Kinds
from eventlens.result import Review


def kinds(review: Review) -> Kinds:
    """The usual kinds of runs and of work cycles; worked out when it is first asked for (a second or two)."""
    table = review.work.table
    rows = tuple(_kind(row) for row in table.iter_rows(named=True))
    return Kinds(rows, review.work.notes, _reading(rows))


def _kind(row: dict[str, Any]) -> Kind:
    return Kind(row["subject"], row["words"], row["count"], row["share"])


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
            most = f"{100 * own[0].share:.0f} % of the most frequent"
            said.append(f"{subject} are of {len(own)} kinds ({most})")
    text = "; ".join(said)
    return f"{text[0].upper()}{text[1:]}."
