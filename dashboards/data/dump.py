"""A dump that somebody brings in: what it is, what its names stand for, and what each of them did."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import Any, Final
from zoneinfo import available_timezones

import polars as pl
import tomli_w

from dashboards import words
from dashboards.data import Week
from dashboards.lanes import Lanes, Record
from dashboards.tables import Lane, LanesView, Window
from dashboards.wallclock import WallClock, micros
from eventlens import signals
from eventlens.errors import EventlensError
from eventlens.machine import GROUPS
from eventlens.reading.preview import Choice, Preview, preview
from eventlens.reading.profile import Profile, load_profile, sources_of
from eventlens.wiring import machine_of, review

__all__ = ["GROUPS", "SPECTRA", "Choice", "Dump", "EventlensError", "Plate", "checked_machine", "fits", "reviewed"]

NOTHING: Final = "nothing of use"
"""What a name stands for that is of no use here."""
FITS: Final = 0.8
"""Share of a profile's names that a dump must hold to be taken for one of the same kind (judgement: a dump of a quiet
day does not mention every name)."""
AROUND_S: Final = 20.0
"""Time shown before and after a change [s]: the run around it (from memory)."""
SET_ASIDE_SHOWN: Final = 5
SPECTRA: Final = ("L1", "L2", "L3", "L4")


@dataclass(frozen=True)
class Shown:
    """Lanes around one change of a name."""

    view: LanesView
    number: int
    """Which change, from 1."""
    of: int
    at: str
    """When, on the clock of the log."""
    place: float
    """The same on the axis [ms]."""


class Dump:
    """One dump, before its signals are stated."""

    def __init__(self, paths: Sequence[Path]) -> None:
        self.preview: Preview = preview(list(paths))
        found = self.preview.inspection
        self.clock = WallClock.of(found.start, found.end, found.timezone, found.step_s)
        self.names = self.preview.names()

    def facts(self) -> list[tuple[str, str]]:
        """What it is, as (what, how)."""
        one = self.preview.inspection
        rhythm = "none: silence proves nothing" if one.rhythm_s is None else f"{one.rhythm_s:g} s"
        first, last = self.clock.texts(pl.Series([one.start, one.end])).to_list()
        return [
            ("Kind of file", one.container),
            ("Kind of log", one.layout or "not recognised"),
            ("Rows", f"{one.rows:,}"),
            ("Set aside", words.counted(one.rejected, "row") if one.rejected else "none"),
            ("From", f"{first} ({self.clock.zone})"),
            ("To", last),
            ("Step of the log", f"{one.step_s:g} s"),
            ("Rhythm", rhythm),
            ("Time in", " + ".join(one.time_columns)),
        ]

    def notes(self) -> tuple[str, ...]:
        """What its reader should know of it."""
        return self.preview.inspection.notes

    def set_aside(self) -> list[dict[str, Any]]:
        """The first rows that were not understood: file, line, reason, text."""
        return self.preview.inspection.set_aside.head(SET_ASIDE_SHOWN).to_dicts()

    def rows(self) -> list[dict[str, Any]]:
        """A row for each name: what it holds, what it is taken for, and why."""
        seen = {one.name: one for one in self.preview.inspection.names}
        why = {one.name: one for one in self.preview.inspection.proposals}
        return [
            {
                "name": name,
                "changes": len(course) - 1 if (course := self.preview.tracks.get(name)) is not None else None,
                "values": ", ".join(seen[name].values) if name in seen else "0, 1",
                "signal": choice.signal or NOTHING,
                "invert": choice.invert,
                "why": _why(name, choice, why),
            }
            for name, choice in self.preview.choices().items()
        ]

    def profile_text(self, rows: Sequence[Mapping[str, Any]], zone: str = "", tapped: str = "") -> str:
        """The profile (TOML) of what the rows of the table say.

        zone: of stamps that carry none; tapped: 'input' or 'order', where commands are read; empty: not stated.
        """
        return self.preview.profile_text(chosen(rows), {"timezone": zone or None, "commands_from": tapped or None})

    def around(
        self, name: str, number: int, rows: Sequence[Mapping[str, Any]], bins: int, *, brief: bool = False
    ) -> Shown | None:
        """Every name's lane around a change of one, as the rows of the table say; None where it never changes.

        number: which change, from 1; beyond the last one the first. brief: lanes carry the dump's names alone.
        """
        course = self.preview.tracks.get(name)
        if course is None or len(course) < 2:
            return None
        most = len(course) - 1
        number = (number - 1) % most + 1
        at = course["time"][number]
        window = self._window(at - timedelta(seconds=AROUND_S), at + timedelta(seconds=AROUND_S))
        lanes = Lanes(self._record(chosen(rows), at), self.clock, _named(chosen(rows), brief=brief))
        (text,) = self.clock.texts(pl.Series([at])).to_list()
        return Shown(lanes.view(window, bins), number, most, text, window_middle(window))

    def _window(self, start: Any, end: Any) -> Window:
        return self.clock.window(micros(start), micros(end))

    def _record(self, choices: Mapping[str, Choice], at: Any) -> Record:
        """The names near an instant as states, and as measured values."""
        near = timedelta(seconds=2 * AROUND_S)
        last = max(course["time"][-1] for course in self.preview.tracks.values() if len(course))
        states, events = [_no_states()], [_no_events()]
        for name, course in self.preview.tracks.items():
            held = course.with_columns(end=pl.col("time").shift(-1).fill_null(last)).filter(
                (pl.col("end") >= at - near) & (pl.col("time") <= at + near)
            )
            turned = choices.get(name, Choice(None)).invert
            if course["value"].drop_nulls().is_in([0.0, 1.0]).all():
                states.append(_states(name, held, turned=turned))
            else:
                events.append(held.select("time", pl.lit(name).alias("signal"), "value", segment=pl.lit(0, pl.UInt32)))
        ends = pl.DataFrame({"segment": pl.Series([0], dtype=pl.UInt32), "end": pl.Series([last])})
        order = tuple(sorted(self.names, key=lambda name: (_place(choices.get(name)), name)))
        return Record(
            pl.concat(states), pl.concat(events), ends, pl.Series([], dtype=pl.Datetime("us", "UTC")), order, None
        )


def window_middle(window: Window) -> float:
    """The place in the middle of a window."""
    return (window[0] + window[1]) / 2


def chosen(rows: Sequence[Mapping[str, Any]]) -> dict[str, Choice]:
    """What the rows of the table say."""
    return {
        str(row["name"]): Choice(
            None if row.get("signal") in (None, "", NOTHING) else str(row["signal"]), bool(row.get("invert"))
        )
        for row in rows
    }


def zones() -> list[str]:
    """Time zones that a profile may state."""
    return sorted(available_timezones())


def options() -> list[str]:
    """What a name may stand for."""
    return [NOTHING, *signals.ALL]


def fits(profile: Path, dump: Dump) -> bool:
    """Whether a profile that read another dump is of the same kind as this one: it holds most of its names."""
    try:
        stated = load_profile(profile)
    except EventlensError:
        return False
    asked = {*stated.signals, *stated.messages, *(f"{word}" for word in stated.words)}
    there = {one.name for one in dump.preview.inspection.names} | set(dump.preview.inspection.columns)
    return bool(asked) and len(asked & there) >= FITS * len(asked)


def stated_signals(profile: Path) -> list[tuple[str, str]]:
    """What a profile says, as (name in the dump, signal). ProfileError for what is no profile."""
    return [(name, ", ".join(one.signal for one in each)) for name, each in _entries(load_profile(profile))]


def _entries(stated: Profile) -> list[tuple[str, Sequence[Any]]]:
    found: list[tuple[str, Sequence[Any]]] = [(name, sources_of(entry)) for name, entry in stated.signals.items()]
    found += [(name, sources_of(entry)) for name, entry in stated.messages.items()]
    for name, word in stated.words.items():
        found += [(f"{name}.{bit}", (source,)) for bit, source in word.bits.items()]
    return found


@dataclass(frozen=True)
class Plate:
    """What the form asks of the machine; texts as they were typed, empty where nothing was."""

    id: str = ""
    rated_load_kg: float | None = None
    group: str = ""
    trolley_group: str = ""
    bridge_group: str = ""
    used_before_h: float | None = None
    load_spectrum: str = ""
    shifts: str = ""

    def to_toml(self) -> str:
        """The machine file."""
        plate = {
            "id": self.id.strip() or "machine",
            "rated_load_kg": self.rated_load_kg,
            "group": self.group,
            "trolley_group": self.trolley_group,
            "bridge_group": self.bridge_group,
        }
        tables: dict[str, dict[str, Any]] = {
            "machine": plate,
            "life": {"used_before_h": self.used_before_h, "load_spectrum": self.load_spectrum},
            "work": {"shifts": self.shifts.replace(",", " ").split()},
        }
        kept = {
            name: {key: value for key, value in table.items() if value not in (None, "", [])}
            for name, table in tables.items()
        }
        return tomli_w.dumps({name: table for name, table in kept.items() if table})


def checked_machine(path: Path) -> str:
    """The name of the machine in a machine file; MachineError for anything it may not hold."""
    return machine_of(path).id


def reviewed(paths: Sequence[Path], profile: Path | None, machine: Path | None, tell: Callable[[str], None]) -> Week:
    """The review of a dump, ready to be looked at. EventlensError in one sentence where there is none."""
    found = review(list(paths), profile, machine, progress=tell)
    tell("pages")
    return Week(found)


def _why(name: str, choice: Choice, why: Mapping[str, Any]) -> str:
    if name in why:
        one = why[name]
        sure = f"{one.confidence:.0%} sure: " if one.signal else ""
        may = f" It may be {', '.join(one.candidates[:3])}." if one.candidates else ""
        return f"{sure}{one.reason}{may}"
    return "it is the signal's own name" if choice.signal else "nothing is known of it"


def _named(choices: Mapping[str, Choice], *, brief: bool) -> Callable[[str], Lane]:
    def lane(name: str) -> Lane:
        signal = choices.get(name, Choice(None)).signal
        if signal is None:
            return Lane(name, "unstated", name, None)
        motion = words.motion_of(signal)
        shown = name if brief else f"{name}: {words.lane_name(signal, motion)}"
        return Lane(name, motion or "", shown, words.needs_person(signal))

    return lane


def _place(choice: Choice | None) -> int:
    """Names that stand for something come first, in the order of the lanes."""
    if choice is None or choice.signal not in signals.ALL:
        return len(signals.ALL)
    return list(signals.ALL).index(choice.signal)


def _states(name: str, held: pl.DataFrame, *, turned: bool) -> pl.DataFrame:
    on = (pl.col("value") == 0.0) if turned else (pl.col("value") == 1.0)
    return held.drop_nulls("value").select(
        pl.lit(name).alias("signal"),
        on.alias("on"),
        pl.col("time").alias("start"),
        "end",
        start_seen=pl.lit(value=True),
        end_seen=pl.lit(value=True),
        start_row=pl.lit(0, pl.UInt32),
        end_row=pl.lit(0, pl.UInt32),
    )


def _no_states() -> pl.DataFrame:
    return _states("", _no_course().with_columns(end="time"), turned=False)


def _no_events() -> pl.DataFrame:
    return _no_course().select("time", pl.lit("").alias("signal"), "value", segment=pl.lit(0, pl.UInt32))


def _no_course() -> pl.DataFrame:
    return pl.DataFrame(schema={"time": pl.Datetime("us", "UTC"), "value": pl.Float64})
