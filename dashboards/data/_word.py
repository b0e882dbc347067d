"""The last word of a follower in sentences, and the minutes in which lines came."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final

import polars as pl

from dashboards import words
from dashboards.data._told import clock
from dashboards.following import ENDED, FOLLOWS, SILENT, Arrivals, Follower, Told
from dashboards.wallclock import WallClock, micros
from eventlens.errors import printable
from eventlens.live.word import Word

LEAST, MOST = 15, 120
"""So many minutes are drawn: from shortly before somebody began to follow."""
BEFORE: Final = 3
"""Minutes before that."""
QUIET_S: Final = 60.0
"""After so long without a line [s] the page says for how long (common practice, no source)."""
LOOKING_S: Final = 30.0
"""A look that takes longer [s] is said."""


def follower(key: str, said: Word, now: datetime) -> Follower:
    """Who follows, and how it is with him."""
    how = FOLLOWS if said.follows(now) else ENDED if said.ended else SILENT
    head, more = _said(said, how, now)
    needs = how == SILENT or bool(said.why) or (how == FOLLOWS and bool(said.trouble))
    return Follower(
        key=key,
        machine=said.machine,
        source=source_of(said),
        how=how,
        level="watch" if needs else "calm",
        head=printable(head),
        more=printable(more),
        at=said.at,
        number=said.told,
    )


def source_of(said: Word) -> str:
    """What is followed; where a file lies is the affair of whoever follows."""
    return printable(said.source if "://" in said.source else Path(said.source).name)


def ago(instant: datetime, now: datetime) -> str:
    """How long ago something was, in words."""
    seconds = round((now - instant).total_seconds())
    return f"{words.length(seconds)} ago" if seconds >= 2 else "just now"


def _said(said: Word, how: str, now: datetime) -> tuple[str, str]:
    """How it is, in a few words and in one sentence more."""
    when = f"{ago(said.at, now)}, at {clock(said.at, said.zone)}"
    if how == SILENT:
        return (
            "Nobody follows any more",
            f"The follower fell silent {when}, without ending. What has happened since is not known here.",
        )
    if how == ENDED and said.why:
        return "Nobody follows any more", f"It was broken off {when}, by this: {_without_paths(said)}"
    if how == ENDED:
        return "Nobody follows any more", f"Somebody ended it {when}."
    return f"Followed, but {said.trouble}" if said.trouble else "Followed", _lately(said, now)


def _lately(said: Word, now: datetime) -> str:
    """When the last line came: silence is said as silence."""
    if said.came is None:
        return f"Nothing has come yet, since {clock(said.begun, said.zone)}."
    if (now - said.came).total_seconds() < QUIET_S:
        return f"The last line came {ago(said.came, now)}."
    return f"Nothing has come for {words.length(round((now - said.came).total_seconds()))}."


def _without_paths(said: Word) -> str:
    return said.why.replace(said.state, Path(said.state).name).replace(said.source, source_of(said))


def facts(said: Word, now: datetime) -> tuple[tuple[str, str], ...]:
    """What is known of the record and of whoever follows it."""
    came = "none yet" if said.came is None else clock(said.came, said.zone)
    end = "none was understood yet" if said.record_end is None else clock(said.record_end, said.zone)
    known = [
        ("Source", source_of(said)),
        ("Followed since", clock(said.begun, said.zone)),
        ("Lines of the record", f"{said.lines:,}"),
        ("Last line came", came),
        ("Last record, by the machine's clock", end),
        ("Times", said.zone),
        ("Late records", f"up to {words.length(said.wait_s)} late are put in place"),
    ]
    if said.looking is not None and (now - said.looking).total_seconds() > LOOKING_S and said.follows(now):
        known.append(("At work", f"looking at the record since {clock(said.looking, said.zone)}"))
    return tuple((name, printable(text)) for name, text in known)


def arrivals(said: Word, found: Sequence[Told], now: datetime) -> Arrivals:
    """The minutes before now: how many lines came in each, where somebody followed."""
    last = int(now.timestamp()) // 60
    known = dict(said.minutes)
    if said.follows(now):  # his next word is still to come
        known = dict.fromkeys(range(int(said.at.timestamp()) // 60, last + 1), 0) | known
    minutes = min(max(last - min(known, default=last) + 1 + BEFORE, LEAST), MOST)
    every = range(last - minutes + 1, last + 1)
    begin, end = (datetime.fromtimestamp(60 * minute, UTC) for minute in (every[0], last + 1))
    wall = WallClock.of(begin, end, said.zone, 1.0)
    frame = pl.DataFrame(
        {"at": wall.axis([60_000_000 * minute for minute in every]), "lines": [known.get(minute) for minute in every]},
        schema={"at": pl.Float64, "lines": pl.Int64},
    )
    lately = [one for one in found if begin <= one.moment < end]
    marks = pl.DataFrame(
        {
            "at": wall.axis([micros(one.moment) for one in lately]),
            "level": [one.level if one.holds else "withdrawn" for one in lately],
            "title": [one.title for one in lately],
        },
        schema={"at": pl.Float64, "level": pl.String, "title": pl.String},
    )
    return Arrivals(frame, marks, wall.window(micros(begin), micros(end)), wall.name, _reading(frame, marks.height))


def _reading(frame: pl.DataFrame, found: int) -> str:
    followed = frame.drop_nulls("lines")
    busy = followed.filter(pl.col("lines") > 0).height
    missing = frame.height - followed.height
    span = words.length(timedelta(minutes=frame.height).total_seconds())
    if not followed.height:
        return f"In the last {span} nobody followed."
    parts = [
        f"In the last {span} lines came in {busy} of {words.counted(followed.height, 'minute')} that were followed"
    ]
    if missing:
        parts.append(f"{words.counted(missing, 'minute was', 'minutes were')} not followed (hatched)")
    parts.append(f"{words.counted(found, 'finding')} became certain" if found else "no finding became certain")
    return "; ".join(parts) + "."
