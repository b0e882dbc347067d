"""The dump's own names (columns, tags, bits of words) as tracks in time, before anything is known of their meaning."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any, Final

import polars as pl

from eventlens.reading.entries import Word
from eventlens.reading.extracted import Stretches
from eventlens.reading.layouts.words import read_word
from eventlens.reading.profile import Profile
from eventlens.reading.suggest.bits import Track
from eventlens.reading.values import numbers, states

ROWS: Final = 1_000_000
"""Rows of the record that are looked at: months of an ordinary dump, seconds of work."""
EDGES: Final = 20_000
"""Changes of one name that are looked at."""
SHORTEST_US: Final = 10 * 3600 * 1_000_000
"""A name that changes EDGES times within this is no signal of a hoist: above 1000 starts an hour (from memory)."""
HEX_WORD: Final = r"(?i)^\s*(?:0x|16#)?[0-9a-f]{2,16}h?\s*$"
DECIMAL_WORD: Final = r"^-?\d{1,19}$"
FLIPS: Final = 2.0
"""A status word changes by fewer bits than this at a time, on average; a measured number by more (from memory)."""


def tracks_of(stretches: Stretches, profile: Profile, layout: str | None) -> list[Track]:
    """Every name of the record but its stamps; words are taken apart into those bits that ever change."""
    frame, segment = stretches.frame.head(ROWS), stretches.segment.head(ROWS).cast(pl.Int64)
    axis = _axis(stretches.time.head(ROWS), segment)
    if layout == "changes" and stretches.codes is not None:
        return list(_of_changes(stretches, frame, axis, segment, profile))
    found: list[Track] = []
    for name in stretches.shape.data or ():
        column = frame[name]
        if profile.log.empty == "unchanged":
            column = column.fill_null(strategy="forward")
        word = word_of(column, name)
        if word is None:
            found.append(_track(name, axis, _values(column, profile), segment))
        else:
            found += _bits(name, axis, word, segment)
    return found


def _axis(time: pl.Series, segment: pl.Series) -> pl.Series:
    """Microseconds; a stretch that begins before the end of the one before is moved behind it by an hour."""
    frame = pl.DataFrame({"t": time.cast(pl.Int64), "s": segment})
    shift, last = {}, None
    for number, first, end in (
        frame.group_by("s", maintain_order=True).agg(first=pl.col("t").first(), end=pl.col("t").last()).iter_rows()
    ):
        move = 0 if last is None or first > last else last - first + 3_600_000_000
        shift[number] = move
        last = end + move
    moved = frame["s"].replace_strict(shift, return_dtype=pl.Int64)
    return frame["t"] + moved


def _values(column: pl.Series, profile: Profile) -> pl.Series:
    """Numbers and words of on and off alike, as numbers (null: unknown)."""
    number = numbers(column, profile.log.decimal).number
    if number.null_count() == column.null_count():
        return number
    state = states(column, profile.log.decimal).number
    return pl.select(pl.coalesce(number, state))[:, 0]


def _track(name: str, time: pl.Series, value: pl.Series, segment: pl.Series, **more: Any) -> Track:
    frame = pl.DataFrame({"t": time, "v": value.cast(pl.Float64), "s": segment})
    new = pl.col("v").ne_missing(pl.col("v").shift()) | (pl.col("s") != pl.col("s").shift()).fill_null(value=True)
    kept = frame.filter(new).head(EDGES)
    return Track(
        name,
        kept["t"].to_numpy(),
        kept["v"].fill_null(float("nan")).to_numpy(),
        kept["s"].to_numpy(),
        **more,
    )


def _of_changes(
    stretches: Stretches, frame: pl.DataFrame, axis: pl.Series, segment: pl.Series, profile: Profile
) -> Iterator[Track]:
    if stretches.shape.value is None or stretches.codes is None:
        return
    value = frame[stretches.shape.value]
    table = pl.DataFrame({"code": stretches.codes.head(ROWS), "t": axis, "v": value, "s": segment})
    for (code,), part in table.partition_by("code", as_dict=True, maintain_order=True).items():
        name = stretches.distinct[int(code)]
        word = word_of(part["v"], name)
        if word is None:
            yield _track(name, part["t"], _values(part["v"], profile), part["s"])
        else:
            yield from _bits(name, part["t"], word, part["s"])


def word_of(column: pl.Series, name: str) -> pl.Series | None:
    """The column as packed status words (Int64), or None if it holds something else."""
    if column.dtype == pl.Boolean or column.dtype.is_float() or column.dtype.is_temporal():
        return None
    text = column.drop_nulls().cast(pl.String).str.strip_chars()
    if text.is_empty() or not (text.str.contains(HEX_WORD).all() or text.str.contains(DECIMAL_WORD).all()):
        return None
    number, bad = read_word(column, Word({}))
    known = number.drop_nulls()
    if bad or known.is_empty() or known.is_in([0, 1]).all():
        return None
    changed = known.filter((known != known.shift()).fill_null(value=True))
    flips = (changed ^ changed.shift()).drop_nulls().bitwise_count_ones()
    if not len(flips) or float(flips.mean() or 0) >= FLIPS:  # type: ignore[arg-type]
        return None
    seen = changed.n_unique()
    return number if seen > 1 and int(flips.n_unique()) >= 1 and _toggles(changed) else None


def _toggles(word: pl.Series) -> bool:
    """Whether single bits come and go: most changes flip one or two bits, and the number does not just count."""
    step = word.diff().drop_nulls()
    counts = float(((step == 1) | (step == -1)).mean() or 0)  # type: ignore[arg-type]
    return counts < 0.6 or int(word.max()) >= 256 or word.n_unique() <= 4  # type: ignore[arg-type]


def _bits(name: str, axis: pl.Series, word: pl.Series, segment: pl.Series) -> list[Track]:
    found = []
    ever = int(word.drop_nulls().bitwise_or() or 0)  # type: ignore[arg-type,call-overload,unused-ignore]
    always = int(word.drop_nulls().bitwise_and() or 0)  # type: ignore[arg-type,call-overload,unused-ignore]
    for bit in range(64):
        if (ever ^ always) >> bit & 1:
            state = (word // (1 << bit)) & 1 if bit < 63 else (word < 0).cast(pl.Int64)
            found.append(_track(f"{name}.{bit}", axis, state, segment, word=name, bit=bit))
    return found


def segment_ends(stretches: Stretches) -> dict[int, int]:
    """Last instant of each segment on the axis of the tracks."""
    segment = stretches.segment.head(ROWS).cast(pl.Int64)
    axis = _axis(stretches.time.head(ROWS), segment)
    frame = pl.DataFrame({"t": axis, "s": segment}).group_by("s").agg(pl.col("t").last())
    return dict(frame.iter_rows())


def in_step(tracks: list[Track], end: dict[int, int]) -> tuple[list[Track], dict[int, int]]:
    """The tracks and the ends of segments up to the instant at which the first track is cut off (see EDGES).

    Names that change too often for any signal are left out, else they would shorten the time for all others.
    """
    full = {t.name: int(t.time[-1]) for t in tracks if len(t.time) >= EDGES}
    first = min((int(t.time[0]) for t in tracks if len(t.time)), default=0)
    kept = [t for t in tracks if full.get(t.name, first + SHORTEST_US) - first >= SHORTEST_US]
    last = min((full[t.name] for t in kept if t.name in full), default=None)
    if last is None:
        return kept, end
    cut = []
    for t in kept:
        inside = t.time <= last
        cut.append(replace(t, time=t.time[inside], value=t.value[inside], segment=t.segment[inside]))
    return cut, {segment: min(instant, last) for segment, instant in end.items()}
