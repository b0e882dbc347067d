"""Guards against a real controller's log (not a hoist): its ON events are recounted against published counts.

Source of log and counts: see the README beside them. Detector channels stand in for hoist signals.
"""

from __future__ import annotations

from pathlib import Path

import polars as pl
from reading_logs import balanced

from eventlens import signals
from eventlens.reading import Log, read
from eventlens.reading.profile import LogKeys, Profile, Source

DATA = Path(__file__).parents[1] / "data" / "reading" / "street_signal"
LOG = DATA / "street_signal_excerpt.csv"


def known_counts() -> pl.DataFrame:
    return pl.read_csv(DATA / "known_15min_counts.csv", try_parse_dates=True)


def channels() -> dict[str, int]:
    """A hoist signal for each detector channel."""
    return dict(zip(signals.STATES, sorted(known_counts()["Detector"].unique()), strict=False))


def read_channels() -> Log:
    sources: dict[str, Source] = {}
    for signal, channel in channels().items():
        sources[f"82 {channel}"] = Source(signal=signal, sets=True)
        sources[f"81 {channel}"] = Source(signal=signal, sets=False)
    keys = LogKeys(layout="changes", name=("EventId", "Parameter"), timezone="UTC")
    return read(LOG, Profile(keys, sources))


def test_on_events_of_each_channel_and_quarter_agree_with_the_published_counts() -> None:
    log = read_channels()
    balanced(log)
    on = log.events.filter(pl.col("value") == 1).select(
        TimeStamp=pl.col("time").dt.replace_time_zone(None).dt.truncate("15m"),
        Detector=pl.col("signal").cast(pl.String).replace_strict(channels(), return_dtype=pl.Int64),
    )
    counted = on.group_by("TimeStamp", "Detector").agg(Total=pl.len().cast(pl.Int64)).sort("TimeStamp", "Detector")
    known = known_counts().select("TimeStamp", "Detector", "Total").sort("TimeStamp", "Detector")
    assert known.height == 76  # 38 channels, two quarters
    assert counted.equals(known)


def test_records_that_repeat_the_state_are_reported() -> None:
    log = read_channels()
    rows = LOG.read_text().splitlines()[1:]
    state: dict[str, str] = {}
    repeated: dict[str, int] = {}
    for row in rows:  # the slow way
        _, _, code, channel = row.split(",")
        if code in ("81", "82"):
            name = f"{code} {channel}"
            repeated[name] = repeated.get(name, 0) + (state.get(channel) == code)
            state[channel] = code
    found = dict(log.names.filter(pl.col("signal").is_not_null()).select("name", "repeated").rows())
    assert {name: count for name, count in found.items() if count} == {n: c for n, c in repeated.items() if c}
    assert sum(count for name, count in found.items() if name.startswith("82 ")) > 0


def test_what_the_record_can_prove() -> None:
    log = read_channels()
    rows = LOG.read_text().splitlines()[1:]
    assert log.step_s == 0.1
    assert log.rejected.is_empty()
    assert log.reordered == 0
    assert log.files[0].rows == len(rows) == log.segments["rows"].sum()
    assert log.duplicates == len(rows) - len(set(rows))
    assert log.holes.is_empty()
