"""What is told when, and what is told again: looks made by hand."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta
from typing import Any

import polars as pl

from eventlens import schema
from eventlens.live.looks import Seen
from eventlens.live.told import LASTS_S, Ledger, Message

AT = datetime(2026, 3, 2, 6, tzinfo=UTC)
LATE = 2.0
SURE, DOUBT = "certain", "possible"


def at(second: float) -> datetime:
    return AT + timedelta(seconds=second)


def seen(now: float, *rows: tuple[str, float, float, str], **given: Any) -> Seen:
    """A look at the whole record up to an instant [s]: pattern, start, end, certainty. part: it began there [s]."""
    part, known = given.get("part"), given.get("known")
    found = pl.DataFrame(
        {
            "pattern": [row[0] for row in rows],
            "motion": ["hoist"] * len(rows),
            "signal": [None] * len(rows),
            "start": [at(row[1]) for row in rows],
            "end": [at(row[2]) for row in rows],
            "certainty": [row[3] for row in rows],
            "measured": [row[2] - row[1] for row in rows],
            "limit": [None] * len(rows),
            "direction": [None] * len(rows),
            "rows": [[int(row[1])] for row in rows],
        },
        schema=schema.OCCURRENCES.schema,
    )
    frame = found.with_columns(
        age_s=pl.Series([now - row[2] for row in rows], dtype=pl.Float64),
        before_s=pl.Series([math.inf if part is None else row[1] - part for row in rows], dtype=pl.Float64),
    )
    if part is None:
        return Seen(frame, at(now), whole=True)
    return Seen(frame, at(now), whole=False, row=int(part), begin=at(part), known=at(known), known_row=int(known))


class Heard:
    """A ledger, and what it has told so far: (told, why, start)."""

    def __init__(self, *, possible: bool = False) -> None:
        self.ledger = Ledger(possible=possible, wait_s=LATE)

    def at(self, look: Seen, **given: Any) -> list[tuple[str, str, float]]:
        rows = self.ledger.weigh(look, **given)
        messages = [
            Message(
                number=self.ledger.number + number,
                told=row.pop("told"),
                why=row.pop("why"),
                going_on=row.pop("going_on"),
                age_s=row.pop("age_s"),
                occurrence=row,
                program_s=0.0,
                at=AT,
                whole=look.whole,
            )
            for number, row in enumerate(rows, 1)
        ]
        self.ledger.keep(messages)
        return [(one.told, one.why, (one.occurrence["start"] - AT).total_seconds()) for one in messages]


DROP = ("drop_out", 50.0, 51.0, SURE)  # it settles in 10 s


def test_it_is_told_once_when_it_has_settled_and_nothing_late_can_come() -> None:
    heard = Heard()
    assert heard.at(seen(62.9, DROP)) == []
    assert heard.at(seen(63.0, DROP)) == [("found", "", 50.0)]
    assert heard.at(seen(64.0, DROP)) == []


def test_where_nothing_comes_late_records_are_not_waited_for_any_longer() -> None:
    heard = Heard()
    assert heard.at(seen(60.9, DROP), quiet=True) == []
    assert heard.at(seen(61.0, DROP), quiet=True) == [("found", "", 50.0)]


def test_at_the_end_everything_is_told() -> None:
    assert Heard().at(seen(51.0, DROP), ended=True) == [("found", "", 50.0)]


def test_what_is_only_possible_waits_until_it_is_certain_or_is_asked_for() -> None:
    doubt = ("drop_out", 50.0, 51.0, DOUBT)
    assert Heard(possible=True).at(seen(70, doubt)) == [("found", "", 50.0)]
    heard = Heard()
    assert heard.at(seen(70, doubt)) == []
    assert heard.at(seen(80, DROP)) == [("found", "", 50.0)]
    told = heard.at(seen(90, doubt))
    assert told == [("withdrawn", "with what came later it is only possible", 50.0)]
    assert heard.ledger.net.is_empty()


def test_what_is_seen_no_more_is_withdrawn() -> None:
    heard = Heard()
    heard.at(seen(70, DROP, ("no_start", 20.0, 22.0, SURE)))
    assert heard.at(seen(90, DROP)) == [("withdrawn", "with what came later it is none", 20.0)]
    assert heard.ledger.net["pattern"].to_list() == ["drop_out"]


def test_what_lasts_is_told_after_a_while_and_again_with_its_end() -> None:
    heard = Heard()
    for now in (60.0, 60.0 + LASTS_S - 1):
        assert heard.at(seen(now, ("contactor_stuck", 50.0, now, SURE))) == []
    now = 60.0 + LASTS_S
    assert heard.at(seen(now, ("contactor_stuck", 50.0, now, SURE))) == [("found", "", 50.0)]
    assert heard.at(seen(100.0, ("contactor_stuck", 50.0, 100.0, SURE))) == []
    assert heard.at(seen(120.0, ("contactor_stuck", 50.0, 110.0, SURE))) == [("changed", "it went on", 50.0)]


def test_figures_that_round_in_another_way_are_the_same() -> None:
    heard = Heard()
    heard.at(seen(70, DROP))
    look = seen(70, DROP)
    near = look.found.with_columns(pl.col("measured") + 1e-9)
    assert heard.at(Seen(near, look.end, whole=True)) == []
    other = look.found.with_columns(pl.col("measured") + 1e-3)
    assert heard.at(Seen(other, look.end, whole=True)) == [("changed", "what came later gives other figures", 50.0)]


def test_a_part_speaks_of_what_it_reaches_and_of_what_the_whole_has_not_settled() -> None:
    """A drop-out looks 600 s back; the whole record was looked at up to 1000 s."""
    heard = Heard()
    reached, known = ("drop_out", 1010.0, 1011.0, SURE), ("drop_out", 980.0, 981.0, SURE)
    weighs_all = ("lost_function", 1010.0, 1011.0, SURE)
    assert heard.at(seen(1100, known, weighs_all, reached, part=300, known=1000)) == [("found", "", 1010.0)]
    assert heard.at(seen(1100, known, reached, part=500, known=1000)) == []
    assert heard.at(seen(1100, part=500, known=1000)) == []  # it does not reach: nothing is withdrawn
    assert heard.at(seen(1100, part=300, known=1000)) == [("withdrawn", "with what came later it is none", 1010.0)]


def test_two_that_differ_in_their_lines_alone_are_two() -> None:
    assert Heard().at(seen(70, DROP, DROP)) == [("found", "", 50.0)] * 2
