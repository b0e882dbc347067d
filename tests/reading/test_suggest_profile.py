"""Guards the way from a dump to proposals and back: layouts, the written profile, what is marked, what is not used."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest

import eventlens
from eventlens.errors import ReadingError
from eventlens.reading.profile import Profile, Source
from eventlens.simulation import Scenario, Simulated, signals_of, simulate
from eventlens.simulation.dialects import DIALECTS, column_of
from tests.cli.runner import ran
from tests.reading.reading_logs import write

DAY = Scenario(signals=signals_of(("hoist", "trolley"), load=True))


@pytest.fixture(scope="module")
def day() -> Simulated:
    """One day of a machine in order; seeded."""
    return simulate(DAY, seed=1, days=1)


@pytest.fixture(scope="module")
def dumps(day: Simulated, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("dumps")
    return {name: dialect.write(day.recording, folder / f"{name}.csv", "UTC") for name, dialect in DIALECTS.items()}


def proposed(path: Path) -> dict[str, str]:
    return {one.name: one.signal for one in eventlens.inspect(path).proposals if one.signal}


def stated(path: Path, day: Simulated) -> dict[str, str]:
    """The truth: the dialect's own profile."""
    text = tomllib.loads(DIALECTS[path.stem].profile(day.recording, "UTC"))
    entries = text.get("signals", {})
    entries |= {f"{w}.{b}": e for w, bits in text.get("words", {}).items() for b, e in bits.items() if b != "encoding"}
    return {name: entry["signal"] if isinstance(entry, dict) else entry for name, entry in entries.items()}


@pytest.mark.parametrize("layout", ["changes", "samples", "words"])
def test_nothing_is_wrong_and_the_hoist_is_found(layout: str, dumps: dict[str, Path], day: Simulated) -> None:
    found, truth = proposed(dumps[layout]), stated(dumps[layout], day)
    assert {name: truth.get(name) for name in found} == found
    assert {"hoist.raise.contactor", "hoist.lower.contactor", "hoist.brake.released"} <= set(found.values())


@pytest.mark.parametrize("layout", ["changes", "samples", "words"])
def test_the_written_profile_is_taken_and_gives_the_same_review(
    layout: str, dumps: dict[str, Path], tmp_path: Path
) -> None:
    path = dumps[layout]
    profile = write(tmp_path, eventlens.inspect(path).to_profile(), "profile.toml")
    with_file = json.loads(eventlens.review(path, profile).to_json())
    without = json.loads(eventlens.review(path).to_json())
    assert with_file["motions"] == without["motions"]
    assert with_file["motions"]["hoist"]["starts"] > 100
    assert {row["mapped_by"] for row in with_file["log"]["signals"] if row["signal"]} == {"profile"}
    assert {row["mapped_by"] for row in without["log"]["signals"] if row["signal"]} == {"proposed"}


def test_the_written_profile_says_why_and_what_is_left(dumps: dict[str, Path]) -> None:
    text = eventlens.inspect(dumps["changes"]).to_profile()
    assert '"K11" = "hoist.raise.contactor"' in text
    assert '"S7" = { signal = "hoist.raise.limit", invert = true }' in text
    assert "# 0.97: rises 0.23 s (median of" in text
    assert "# Left open:" in text
    assert "which motion it is" in text
    assert "# Nothing is known of:" in text
    keys = tomllib.loads(text)["log"]
    assert keys == {"layout": "changes", "time": "Zeit", "name": "Name", "value": "Zustand"}


def test_names_that_need_care_in_a_profile(tmp_path: Path) -> None:
    """Quotes, backslashes and control characters in names must not break the file or its comments."""
    rows = [(f'Hoist "up" \\ cmd\t{at}', at % 2) for at in range(2)]
    lines = [f"2024-05-01 06:00:0{n};{name};{value}" for n, (name, value) in enumerate(rows * 3)]
    path = write(tmp_path, "Time;Tag;State\n" + "\n".join(lines) + "\n")
    profile = write(tmp_path, eventlens.inspect(path).to_profile(), "p.toml")
    assert tomllib.loads(profile.read_text("utf-8"))["log"]["name"] == "Tag"


def test_review_without_a_profile_says_so(dumps: dict[str, Path], capsys: pytest.CaptureFixture[str]) -> None:
    log = eventlens.read(dumps["changes"])
    assert any("No profile maps the names" in note for note in log.notes)
    assert "only proposed" in ran(capsys, "review", dumps["changes"]).out


def test_findings_that_rest_on_proposals_are_marked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    jogging = simulate(Scenario(habits={"jog": 1.0, "cycles_per_h": 12.0}), seed=2, days=1)
    recording = jogging.recording
    path = DIALECTS["samples"].write(recording, tmp_path / "log.csv", "UTC")
    marked = json.loads(eventlens.review(path).to_json())["findings"]
    assert marked
    assert all(finding["signals_proposed"] for finding in marked if finding["motion"] == "hoist")
    sources = {column_of(signal): Source(signal=signal) for signal in recording.carried}
    plain = json.loads(eventlens.review(path, Profile(signals=sources)).to_json())["findings"]
    assert [finding["pattern"] for finding in plain]
    assert not any(finding["signals_proposed"] for finding in plain)
    assert "rests on proposed signals" in " ".join(ran(capsys, "review", path).out.split())


def test_names_that_are_signals_need_no_proposals(tmp_path: Path) -> None:
    text = "time,signal,value\n" + "".join(
        f"2024-05-01 06:00:{at:02},{name},{at // 2 % 2}\n"
        for at, name in enumerate(["hoist.raise.contactor", "Not-Aus"] * 10)
    )
    path = write(tmp_path, text)
    assert eventlens.inspect(path).proposals == ()
    names = dict(eventlens.read(path).names.select("name", "mapped_by").iter_rows())
    assert names == {"hoist.raise.contactor": "name", "Not-Aus": "unmapped"}


def test_a_profile_that_maps_anything_is_left_alone(dumps: dict[str, Path]) -> None:
    profile = Profile(signals={"K11": Source(signal="hoist.lower.contactor")})
    log = eventlens.read(dumps["changes"], profile)
    assert log.signals() == {"hoist.lower.contactor"}
    assert not any("No profile" in note for note in log.notes)


def test_nothing_known_is_still_an_error(tmp_path: Path) -> None:
    path = write(tmp_path, "Time;Tag;State\n2024-05-01 06:00:00;I0.0;1\n2024-05-01 06:00:01;I0.0;0\n")
    with pytest.raises(ReadingError, match=r"at least one name that stands for a signal, got the names 'I0.0'"):
        eventlens.read(path)


def test_two_names_that_claim_one_signal_stay_open(tmp_path: Path) -> None:
    lines = [f"2024-05-01 06:00:{at:02};{name};{at % 4 // 2}" for at, name in enumerate(["Not-Aus 1", "Not-Aus 2"] * 8)]
    path = write(tmp_path, "Time;Tag;State\n" + "\n".join(lines) + "\n")
    found = {one.name: one for one in eventlens.inspect(path).proposals}
    assert [one.signal for one in found.values()] == [None, None]
    assert "claims the same signal" in found["Not-Aus 1"].reason + found["Not-Aus 2"].reason


def test_messages_are_proposed_by_their_texts(tmp_path: Path) -> None:
    text = (
        "Time;Message;State\n2024-05-01 06:00:00;Überlast;came\n2024-05-01 06:00:20;Überlast;gone\n"
        "2024-05-01 06:01:00;Door open;came\n"
    )
    path = write(tmp_path, text)
    assert proposed(path) == {"Überlast": "overload.trip"}
    profile = write(tmp_path, eventlens.inspect(path).to_profile(), "profile.toml")
    assert eventlens.read(path, profile).signals() == eventlens.read(path).signals() == {"overload.trip"}


def test_the_command_line_writes_the_profile(
    dumps: dict[str, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    target = tmp_path / "profile.toml"
    done = ran(capsys, "inspect", dumps["words"], "--write-profile", target)
    assert done.status == 0
    assert "proposed:" in done.out
    assert target.read_text("utf-8") == eventlens.inspect(dumps["words"]).to_profile()
    assert ran(capsys, "review", dumps["words"], "--profile", target).status == 0
    before = dumps["words"].read_bytes()
    assert ran(capsys, "inspect", dumps["words"], "--write-profile", dumps["words"]).status == 1
    assert dumps["words"].read_bytes() == before
