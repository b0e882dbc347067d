"""Guards stating signals by hand: what is stated is what is read, and what a name did is shown as it was."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import polars as pl
import pytest

import eventlens
from eventlens.errors import ProfileError
from eventlens.reading.preview import Choice, preview
from eventlens.reading.profile import load_profile
from eventlens.simulation import Scenario, Simulated, signals_of, simulate
from eventlens.simulation.dialects import DIALECTS
from tests.reading.reading_logs import write

DAY = Scenario(signals=signals_of(("hoist",), load=True))
LAYOUTS = ["changes", "samples", "words"]


@pytest.fixture(scope="module")
def day() -> Simulated:
    """One day of a machine in order; seeded."""
    return simulate(DAY, seed=1, days=1)


@pytest.fixture(scope="module")
def dumps(day: Simulated, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("dumps")
    return {name: DIALECTS[name].write(day.recording, folder / f"{name}.csv", "UTC") for name in LAYOUTS}


def truth(layout: str, day: Simulated) -> dict[str, Choice]:
    """What the dialect's own profile says of each name."""
    text = tomllib.loads(DIALECTS[layout].profile(day.recording, "UTC"))
    entries = dict(text.get("signals", {}))
    for word, bits in text.get("words", {}).items():
        entries |= {f"{word}.{bit}": entry for bit, entry in bits.items() if bit != "encoding"}
    return {name: _choice(entry) for name, entry in entries.items()}


def _choice(entry: str | Mapping[str, Any]) -> Choice:
    if isinstance(entry, str):
        return Choice(entry)
    return Choice(entry["signal"], entry.get("invert", False) or entry.get("on") == "0")


@pytest.mark.parametrize("layout", LAYOUTS)
def test_what_is_stated_by_hand_is_read_like_the_profile_of_the_dump_itself(
    layout: str, dumps: dict[str, Path], day: Simulated, tmp_path: Path
) -> None:
    found = preview(dumps[layout])
    known = truth(layout, day)  # the load has a factor; a bit that never changes is not offered
    stated = {name: known[name] for name in found.names() if name in known and known[name].signal != "load.kg"}
    nothing = dict.fromkeys(found.names(), Choice(None))
    mine = load_profile(write(tmp_path, found.profile_text(nothing | stated), "mine.toml"))
    own = load_profile(write(tmp_path, DIALECTS[layout].profile(day.recording, "UTC"), "own.toml"))
    events = eventlens.read(dumps[layout], own).events.filter(
        pl.col("signal").is_in([one.signal for one in stated.values()])
    )
    assert events.height > 1000
    assert eventlens.read(dumps[layout], mine).events.equals(events)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_where_nobody_says_anything_the_proposals_stand(layout: str, dumps: dict[str, Path], tmp_path: Path) -> None:
    found = preview(dumps[layout])
    mine = load_profile(write(tmp_path, found.profile_text({}), "mine.toml"))
    proposed = load_profile(write(tmp_path, eventlens.inspect(dumps[layout]).to_profile(), "proposed.toml"))
    assert (mine.signals, mine.words, mine.log) == (proposed.signals, proposed.words, proposed.log)


def test_a_wrong_proposal_is_turned_or_taken_away(dumps: dict[str, Path], tmp_path: Path) -> None:
    found = preview(dumps["changes"])
    assert found.choices()["S7"] == Choice("hoist.raise.limit", invert=True)
    text = found.profile_text({"S7": Choice("hoist.lower.limit"), "S8": Choice(None)})
    assert "stated by hand" in text
    mine = load_profile(write(tmp_path, text, "mine.toml"))
    (source,) = mine.signals["S7"] if isinstance(mine.signals["S7"], tuple) else (mine.signals["S7"],)
    assert (source.signal, source.invert) == ("hoist.lower.limit", False)
    assert "S8" not in mine.signals


def test_a_signal_that_does_not_exist_is_refused_when_the_profile_is_read(
    dumps: dict[str, Path], tmp_path: Path
) -> None:
    text = preview(dumps["changes"]).profile_text({"S7": Choice("hoist.rise.limit")})
    with pytest.raises(ProfileError, match=r"hoist\.raise\.limit"):
        load_profile(write(tmp_path, text, "mine.toml"))


def test_a_name_with_quotes_and_brackets_is_only_a_name(tmp_path: Path) -> None:
    rows = "\n".join(f'2026-04-13 08:00:{s:02};"<b>K1""]\\";{s % 2}' for s in range(20))
    path = write(tmp_path, f"Time;Name;Value\n{rows}\n", "odd.csv")
    found = preview(path)
    (name,) = found.names()
    mine = load_profile(write(tmp_path, found.profile_text({name: Choice("hoist.raise.command")}), "mine.toml"))
    assert eventlens.read(path, mine).signals() == {"hoist.raise.command"}


@pytest.mark.parametrize("layout", LAYOUTS)
def test_the_course_of_each_name_is_what_its_signal_did(
    layout: str, dumps: dict[str, Path], day: Simulated, tmp_path: Path
) -> None:
    found = preview(dumps[layout])
    own = load_profile(write(tmp_path, DIALECTS[layout].profile(day.recording, "UTC"), "own.toml"))
    events = eventlens.read(dumps[layout], own).events
    for name, choice in truth(layout, day).items():
        if choice.signal == "load.kg" or name not in found.tracks:
            continue  # a bit that never changes is not a track
        course = found.tracks[name]
        value = (1 - course["value"]) if choice.invert else course["value"]
        read = events.filter(pl.col("signal") == choice.signal).select("time", "value")
        first = pl.int_range(pl.len()) == 0
        new = read.filter(first | pl.col("value").ne_missing(pl.col("value").shift()))
        assert course["time"].to_list() == new["time"].to_list(), name
        assert value.to_list() == new["value"].to_list(), name
