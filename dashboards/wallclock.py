"""Times as the log's own zone shows them, and the time axis of the charts.

A browser's time axis knows no zones, so it is given the wall clock as if it were UTC, in milliseconds. Where the zone
changes its clock within the log the axis keeps the offset of the log's beginning throughout, and says so; texts carry
their offset then.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any, Final
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt
import polars as pl

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


INSTANT: Final = pl.Datetime("us", "UTC")


def whole(instants: pl.Series) -> npt.NDArray[np.int64]:
    """A column of instants as whole microseconds since 1970."""
    return instants.to_physical().to_numpy()


def micros(instant: datetime) -> int:
    """Whole microseconds since 1970."""
    return (instant - _EPOCH) // timedelta(microseconds=1)


@dataclass(frozen=True)
class WallClock:
    """The clock of one log."""

    zone: str
    offset_us: int
    """Offset of the axis from UTC [us]: the one in force at the log's beginning."""
    steady: bool
    """Whether that offset holds for the whole log."""
    decimals: int
    """Decimals of a second that the log step gives meaning to: 0, 3 or 6."""

    @classmethod
    def of(cls, start: datetime, end: datetime, zone: str, step_s: float) -> WallClock:
        """The clock of a log that lasts from start to end with log step step_s [s]."""
        days = [start + timedelta(days=n) for n in range((end - start).days + 1)] + [end]
        offsets = [day.astimezone(ZoneInfo(zone)).utcoffset() or timedelta() for day in days]
        decimals = 0 if step_s >= 1 else 3 if step_s >= 1e-3 else 6
        return cls(zone, offsets[0] // timedelta(microseconds=1), len(set(offsets)) == 1, decimals)

    @property
    def name(self) -> str:
        """Zone and offset of the axis in words."""
        sign = "-" if self.offset_us < 0 else "+"
        hours, minutes = divmod(abs(self.offset_us) // 60_000_000, 60)
        offset = f"UTC{sign}{hours:02d}:{minutes:02d}"
        if not self.steady:
            return f"{offset} throughout, although {self.zone} changes its clock within this log"
        return self.zone if self.zone == "UTC" else f"{self.zone}, {offset}"

    def axis(self, instants: Any) -> npt.NDArray[np.float64]:
        """Milliseconds on the axis of instants (whole microseconds since 1970)."""
        return (np.asarray(instants, np.int64) + self.offset_us) / 1000

    def instant(self, axis_ms: float) -> int:
        """The instant (whole microseconds since 1970) of a place on the axis."""
        return round(axis_ms * 1000) - self.offset_us

    def window(self, start_us: int, end_us: int) -> tuple[float, float]:
        """Two instants as places on the axis [ms]."""
        start, end = self.axis([start_us, end_us])
        return float(start), float(end)

    def texts(self, instants: pl.Series) -> pl.Series:
        """Instants as texts that sort in the order of time."""
        form = "%Y-%m-%d %H:%M:%S" + (f"%.{self.decimals}f" if self.decimals else "")
        return instants.dt.convert_time_zone(self.zone).dt.to_string(form if self.steady else form + " %:z")

    def text(self, instant: datetime) -> str:
        """One instant, as `texts`."""
        return str(self.texts(pl.Series([instant], dtype=INSTANT))[0])

    def short(self, instant: datetime) -> str:
        """Weekday, day and time to the minute, for sentences."""
        local = instant.astimezone(ZoneInfo(self.zone))
        return f"{local:%a} {local.day} {local:%b %Y %H:%M}"


def read_place(place: object) -> float:
    """A place on the axis as the browser reports it (text 'YYYY-MM-DD HH:MM:SS.ffff' or milliseconds) [ms]."""
    if isinstance(place, int | float):
        return float(place)
    moment = datetime.fromisoformat(str(place).replace("T", " ")[:26]).replace(tzinfo=UTC)
    return micros(moment) / 1000


def read_window(relayout: dict[str, Any] | None) -> Sequence[float] | str | None:
    """What a change of the chart's view asks for: (from, to) [ms], 'whole', or None where it asks for nothing."""
    change = relayout or {}
    if change.get("xaxis.autorange"):
        return "whole"
    if "xaxis.range" in change:
        return tuple(read_place(place) for place in change["xaxis.range"])
    if "xaxis.range[0]" in change and "xaxis.range[1]" in change:
        return read_place(change["xaxis.range[0]"]), read_place(change["xaxis.range[1]"])
    return None
