"""Guards the dialects: read back with nothing but the standard library, each dump tells the same states."""

from __future__ import annotations

import csv
import tomllib
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from zoneinfo import ZoneInfo

import polars as pl
import pytest

from eventlens.signals import MEASURES
from eventlens.simulation import Faults, Scenario, Simulated, signals_of, simulate
from eventlens.simulation.dialects import DIALECTS, TAGS, bits_of, opens

ZONE = "Europe/Lisbon"
Told = dict[str, list[tuple[datetime, float]]]
"""Signal -> the changes that a dump tells."""


@cache
def simulated() -> Simulated:
    return simulate(
        Scenario(
            signals=signals_of(("hoist", "trolley"), load=True),
            heartbeat_s=60.0,
            shifts=((6.0, 8.0),),
            faults=Faults(holes_per_day=3.0),
        ),
        seed=8,
        step_s=0.02,
    )


def changes_of(events: pl.DataFrame) -> Told:
    """Changes of state per signal; what merely repeats the state is left out."""
    told: Told = {}
    for at, signal, value in events.select("time", "signal", "value").iter_rows():
        kept = told.setdefault(signal, [])
        if not kept or kept[-1][1] != value:
            kept.append((at, value))
    return told


def _profile(name: str, tmp_path: Path) -> tuple[dict[str, object], Path]:
    recording, dialect = simulated().recording, DIALECTS[name]
    dump = dialect.write(recording, tmp_path / "dump.csv", ZONE)
    return tomllib.loads(dialect.profile(recording, ZONE)), dump


def _add(told: Told, signal: str, at: datetime, value: float) -> None:
    kept = told.setdefault(signal, [])
    if not kept or kept[-1][1] != value:
        kept.append((at, value))


def _sense(source: object) -> tuple[str, bool]:
    """Signal, and whether 1 in the dump means off."""
    if isinstance(source, str):
        return source, False
    assert isinstance(source, dict)
    return source["signal"], source.get("on") == "0" or bool(source.get("invert"))


def read_changes(profile: dict[str, object], dump: Path) -> Told:
    told: Told = {}
    names = {name: _sense(source) for name, source in profile["signals"].items()}  # type: ignore[attr-defined]
    for row in csv.DictReader(dump.read_text("utf-8").splitlines(), delimiter=";"):
        if row["Name"] == profile["log"]["heartbeat"]:  # type: ignore[index]
            continue
        local = datetime.strptime(row["Zeit"], "%d.%m.%Y %H:%M:%S,%f").replace(tzinfo=ZoneInfo(ZONE))
        signal, inverted = names[row["Name"]]
        value = float(row["Zustand"])
        _add(told, signal, local.astimezone(UTC), 1.0 - value if inverted else value)
    return told


def read_samples(profile: dict[str, object], dump: Path) -> Told:
    told: Told = {}
    for row in csv.DictReader(dump.read_text("utf-8").splitlines()):
        for column, signal in profile["signals"].items():  # type: ignore[attr-defined]
            _add(told, signal, datetime.fromisoformat(row["time"]).astimezone(UTC), float(row[column]))
    return told


def read_words(profile: dict[str, object], dump: Path) -> Told:
    told: Told = {}
    for row in csv.DictReader(dump.read_text("utf-8").splitlines(), delimiter=";"):
        local = datetime.fromisoformat(f"{row['Date']}T{row['Time']}").replace(tzinfo=ZoneInfo(ZONE))
        for word, bits in profile["words"].items():  # type: ignore[attr-defined]
            number = int(row[word], 16 if bits["encoding"] == "hex" else 10)
            for bit, source in bits.items():
                if bit != "encoding":
                    signal, inverted = _sense(source)
                    _add(told, signal, local.astimezone(UTC), float((number >> int(bit) & 1) ^ inverted))
    return told


@pytest.mark.parametrize(
    ("name", "read"), [("changes", read_changes), ("samples", read_samples), ("words", read_words)]
)
def test_dump_read_back_tells_the_events(name: str, read, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    profile, dump = _profile(name, tmp_path)
    expected = changes_of(simulated().events)
    if name == "words":
        expected = {signal: told for signal, told in expected.items() if signal not in MEASURES}
    told = read(profile, dump)
    assert told == expected
    assert sum(map(len, told.values())) > 500


def test_rows_of_samples_stand_at_every_recorded_instant(tmp_path: Path) -> None:
    _, dump = _profile("samples", tmp_path)
    rows = len(dump.read_text("utf-8").splitlines()) - 1
    assert rows == simulated().recording.records["time"].n_unique()


def test_every_signal_has_a_name_of_its_own_in_the_circuit_diagram() -> None:
    assert set(signals_of(load=True)) <= set(TAGS)
    assert len(set(TAGS.values())) == len(TAGS)


def test_sixteen_signals_fill_a_word_and_the_next_begins_a_new_one() -> None:
    carried = signals_of(("hoist", "trolley"))
    words = bits_of((*carried, "load.kg"))
    assert list(words) == ["MW20", "MW22"]
    assert [len(signals) for signals in words.values()] == [16, len(carried) - 16]


def test_limits_and_stop_are_opening_contacts() -> None:
    opening = {signal for signal in signals_of(("hoist",)) if opens(signal)}
    assert opening == {
        "hoist.raise.limit",
        "hoist.lower.limit",
        "hoist.raise.slowdown",
        "hoist.lower.slowdown",
        "stop.emergency",
    }


def test_ring_buffer_begins_with_its_newest_records(tmp_path: Path) -> None:
    recording, dialect = simulated().recording, DIALECTS["words"]
    plain = dialect.write(recording, tmp_path / "plain.csv", ZONE).read_text("utf-8").splitlines()
    wrapped = dialect.write(recording, tmp_path / "wrapped.csv", ZONE, oldest_line=10).read_text("utf-8").splitlines()
    assert wrapped[0] == plain[0]
    assert wrapped[1:11] == plain[-10:]
    assert wrapped[11:] == plain[1:-10]
