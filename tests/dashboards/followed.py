"""Somebody who follows, as the pages see him: words and journals written by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from eventlens.live import Lines, Message
from eventlens.live import word as words
from eventlens.live.word import Note, Word
from tests.logs import at

NOW = at(10_000)
"""The time at which the pages look."""
HOSTILE = '<img src=x onerror="document.title=1">'


def ago(seconds: float) -> datetime:
    return NOW - timedelta(seconds=seconds)


WORD = Word(
    machine="SAW-3",
    source="/var/log/yard/saw-3.csv",
    state="/nowhere/saw-3.csv.follow",
    zone="Europe/Lisbon",
    begun=ago(3600),
    at=ago(2),
    came=ago(4),
    record_end=ago(5),
    lines=1234,
    told=3,
    wait_s=2.0,
)


def message(number: int, told: str = "found", why: str = "", **changed: Any) -> Message:
    """A drop-out of the hoist at 100 s, told 12 s of the log after its end and 0.5 s after that came."""
    one = {
        "pattern": "drop_out",
        "motion": "hoist",
        "signal": None,
        "direction": "raise",
        "start": at(100),
        "end": at(101),
        "certainty": "certain",
        "measured": 0.9,
        "limit": None,
        "rows": [40, 41, 42],
        "n": 1,
    }
    return Message(
        number=number,
        told=told,
        why=why,
        occurrence=one | changed,
        going_on=False,
        age_s=12.0,
        program_s=0.5,
        at=ago(60),
        whole=False,
    )


def followed(archive: Path, name: str = "SAW-3-1", messages: tuple[Message, ...] = (), **changed: Any) -> Path:
    """The folder in which somebody says how he follows into an archive."""
    folder = archive / "following" / name
    words.write(replace(WORD, **changed), folder)
    if messages:
        lines = Lines(folder / words.TOLD)
        lines.tell(messages)
        lines.close()
    return folder


def noted(*texts: str) -> tuple[Note, ...]:
    return tuple(Note(ago(30 * (len(texts) - number)), text) for number, text in enumerate(texts))
