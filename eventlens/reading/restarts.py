"""Where the controller or the logger began again: a record that says so, or a counter of rows that starts over."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import polars as pl

from eventlens.errors import ReadingError
from eventlens.reading import counters
from eventlens.reading.profile import Profile
from eventlens.reading.record import Record
from eventlens.reading.shape import Shape
from eventlens.reading.values import OFF_WORDS

NAMES_SHOWN: Final = 20
BOOT_NAMES: Final = frozenset(
    {
        *("boot", "reboot", "restart", "startup", "power_on", "power on", "poweron", "power-on", "cold_start"),
        *("warm_start", "coldstart", "warmstart", "system_start", "neustart", "anlauf", "hochlauf", "redemarrage"),
        *("redémarrage", "reinicio", "arranque", "riavvio", "herstart", "opstart"),
    }
)
"""Names of records that a controller writes when it begins again; `[log] boot` of a profile names another."""


@dataclass(frozen=True)
class Names:
    """Names of a record with a row for each change, by number."""

    codes: pl.Series
    distinct: Sequence[str]
    value: pl.Series | None

    def rows_of(self, name: str) -> pl.Series:
        """Positions of the rows of a name."""
        return (self.codes == self.distinct.index(name)).arg_true()


def no_such(key: str, name: str, known: Sequence[str], path: Path) -> ReadingError:
    shown = ", ".join(f"'{other}'" for other in known[:NAMES_SHOWN])
    return ReadingError(f"the {key} '{name}' of the profile", shown, f"correct [log] {key}", file=path)


def counter_of(record: Record, shape: Shape) -> pl.Series | None:
    """The column that numbers the rows in the order in which they were written."""
    if record.turned:  # numbers of slots
        return None
    names = shape.counters(record.frame)
    return counters.count_of(record.frame[names[0]]) if names else None


def restarts_of(record: Record, shape: Shape, profile: Profile, names: Names | None) -> pl.Series:
    """Positions of the first row after the controller or the logger began again."""
    boot = profile.log.boot
    known = names.distinct if names is not None else shape.data
    if boot is not None and boot not in known:
        raise no_such("boot", boot, known, record.raws[0].path)
    found = [name for name in known if name == boot or (boot is None and name.strip().lower() in BOOT_NAMES)]
    at = [_booted(record, names, name) for name in found]
    counted = counter_of(record, shape)
    if counted is not None:
        again = counters.restarts(counted)
        at.append(again.filter(~again.is_in(record.begins.implode())))
    if not at:
        return pl.Series(dtype=pl.UInt32)
    # what was recorded in the same instant before the record that tells of the restart belongs to the time after it
    first = record.time.rle_id().gather(pl.concat([rows.cast(pl.UInt32) for rows in at]))
    rows = record.time.rle_id().search_sorted(first.unique().sort()).cast(pl.UInt32)
    return rows.filter(rows > 0)


def _booted(record: Record, names: Names | None, name: str) -> pl.Series:
    """Rows in which a name tells of a restart: those where it comes on, or all of them if it never says off."""
    if names is not None:
        rows = names.rows_of(name)
        if names.value is None:
            return rows
        value = names.value.gather(rows)
    else:
        value = record.frame[name]
        rows = pl.int_range(len(value), dtype=pl.UInt32, eager=True)
    text = value.cast(pl.String, strict=False).str.strip_chars().str.to_lowercase()
    off = (text.is_in(list(OFF_WORDS)) | (text.cast(pl.Float64, strict=False) == 0).fill_null(False)).fill_null(
        names is None
    )
    if names is not None and not off.any():
        return rows
    on = ~off
    return rows.filter(on & ~on.shift(1, fill_value=names is None))
