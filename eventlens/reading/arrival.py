"""Logs that write two instants for each record: that of its source, and that of its arrival at the logger."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import polars as pl

from eventlens.reading import clock
from eventlens.reading.profile import Profile
from eventlens.reading.vocabulary import words_of

ARRIVAL_WORDS: Final = words_of(
    """arrived arrival received receive reception logged log inserted insert stored server empfangen eingang
    eingegangen reçu réception recibido recepción ricevuto recebido odebrano"""
)
SOURCE_WORDS: Final = words_of(
    """source origin event occurred occurrence device field quelle ereignis origine origen fuente źródło"""
)


def arrival_notes(frame: pl.DataFrame, time: pl.Series, profile: Profile) -> list[str]:
    """How far arrivals lie behind their sources, where the profile names a column of arrivals."""
    columns = [frame[name] for name in profile.log.arrived]
    if not columns:
        return []
    stamps = clock.read_clock(columns, profile.log.time_format)
    if stamps is None:
        return [f"Column '{columns[0].name}' ([log] arrived) holds no stamps: not looked at."]
    known = stamps.time.is_not_null()
    filled = replace(stamps, time=stamps.time.fill_null(strategy="forward").fill_null(strategy="backward"))
    if filled.time.null_count():
        return []
    arrived, missing, _ = clock.to_utc(filled, profile.log.timezone or "UTC", round(profile.log.late_s * 1e6))
    lag = (arrived - time.cast(pl.Int64)).filter(known & ~missing)
    notes: list[str] = []
    if len(lag) and (most := int(lag.max())) > 0:  # type: ignore[arg-type]
        notes.append(f"Records arrive up to {most / 1e6:g} s after the instant of their source; that instant is used.")
        if most > profile.log.late_s * 1e6:
            notes.append(
                f"Where that puts records more than {profile.log.late_s:g} s behind their predecessor, it counts as a "
                "step of the clock; state a larger [log] late_s if the clock was never set."
            )
    before = int((lag < 0).sum())
    if before:
        least = -int(lag.min()) / 1e6  # type: ignore[arg-type]
        ahead = f"{before} records arrive up to {least:g} s before the instant of their source"
        notes.append(f"{ahead}: two clocks differ.")
    return notes
