"""Guards the profile file: what it may hold, and that every fault names file, line and remedy."""

from __future__ import annotations

from pathlib import Path

import pytest
from reading_logs import toml

from eventlens.errors import ProfileError
from eventlens.reading import load_profile
from eventlens.reading.profile import LogKeys, Source, as_profile

FULL = """
[log]
layout = "changes"
time = ["Date", "Time"]
name = "Tag"
value = "State"
timezone = "Europe/Lisbon"
header = false
late_s = 5
[signals]
"K11" = "hoist.raise.contactor"
"S7" = { signal = "hoist.raise.limit", on = 0 }
"B3" = { signal = "hoist.brake.released", invert = true }
"I" = { signal = "hoist.motor.current_a", factor = 0.1 }
"82 4" = { signal = "hoist.raise.command", sets = true }
"81 4" = { signal = "hoist.raise.command", sets = false }
[words."MW20"]
encoding = "hex"
0 = "hoist.lower.command"
15 = { signal = "hoist.lower.contactor", invert = true }
[messages]
"Load limit reached" = "overload.trip"
"""


def test_everything_that_a_profile_may_hold(tmp_path: Path) -> None:
    found = load_profile(toml(tmp_path, FULL))
    assert found.name == "profile.toml"
    assert found.log.time == ("Date", "Time")
    assert found.log.name == ("Tag",)
    assert found.log.header is False
    assert found.log.late_s == 5
    assert found.signals["K11"] == Source(signal="hoist.raise.contactor")
    assert found.signals["S7"].on == ("0",)
    assert found.signals["81 4"].sets is False
    assert found.signals["I"].factor == 0.1
    assert found.words["MW20"].encoding == "hex"
    assert found.words["MW20"].bits[15].invert
    assert found.messages["Load limit reached"].signal == "overload.trip"


def test_nothing_stated() -> None:
    assert as_profile(None).log == LogKeys()
    assert as_profile(None).log.late_s == 2.0  # the stated bound of late arrivals: common practice


FAULTS = [
    ('[log]\nlayuot = "changes"\n', 2, "'layuot'", "did you mean 'layout'?"),
    ('[logs]\nlayout = "changes"\n', 1, "'logs'", "did you mean 'log'?"),
    ('[log]\ntimezone = "Europe/Lisbonne"\n', 2, "'Europe/Lisbonne'", "did you mean 'Europe/Lisbon'?"),
    ('[log]\ntimezone = "xyz"\n', 2, "'xyz'", "write it like 'Europe/Lisbon' or 'UTC'"),
    ("[log]\nheader = 0\n", 2, "0", "correct the value"),
    ("[log]\nheader = true\n", 2, "True", "correct the value"),
    ("[log]\nlongest_silence_s = 0\n", 2, "0", "correct the value"),
    ('[log]\ndelimiter = ";;;;;;;;;"\n', 2, "';;;;;;;;;'", "correct the value"),
    (
        '[signals]\n"K1" = "hoist.raise.contacter"\n',
        2,
        "'hoist.raise.contacter'",
        "did you mean 'hoist.raise.contactor'?",
    ),
    ('[signals]\n"K1" = { signal = "hoist.up.limit" }\n', 2, "'hoist.up.limit'", "did you mean"),
    ('[signals]\n"K1" = { signal = "rope.slack", inverted = true }\n', 2, "'inverted'", "did you mean 'invert'?"),
    ('[signals]\n"K1" = { on = "1" }\n', 2, "", "add it"),
    ('[signals]\n"K1" = 5\n', 2, "5", "write it like"),
    ('[signals]\n"L" = { signal = "load.kg", invert = true }\n', 2, "invert", "remove them"),
    ('[signals]\n"L" = { signal = "rope.slack", factor = 2.0 }\n', 2, "a factor", "remove it"),
    ('[signals]\n"a" = "rope.slack"\n"b" = "rope.slack"\n', 3, "'a' and 'b'", "keep one of them"),
    ('[words."W"]\n64 = "rope.slack"\n', 2, "'64'", "correct the key"),
    ('[words."W"]\nx = "rope.slack"\n', 2, "'x'", "correct the key"),
    ('[words."W"]\n1 = "rope.slak"\n', 2, "'rope.slak'", "did you mean 'rope.slack'?"),
    ('[words."W"]\n1 = "load.kg"\n', 2, "load.kg", "take another signal"),
    ('[words."W"]\nencoding = "roman"\n', 2, "'roman'", "correct the value"),
    ('[messages]\n"over" = "overload.tripp"\n', 2, "'overload.tripp'", "did you mean 'overload.trip'?"),
    ("[log\n", 1, "", "correct this line"),
]


@pytest.mark.parametrize(("text", "line", "got", "remedy"), FAULTS)
def test_a_fault_names_file_line_and_remedy(text: str, line: int, got: str, remedy: str, tmp_path: Path) -> None:
    with pytest.raises(ProfileError) as caught:
        load_profile(toml(tmp_path, text))
    said = str(caught.value)
    assert f"profile.toml, line {line}: " in said
    assert got in caught.value.got
    assert remedy in said


def test_a_profile_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(ProfileError, match=r"nowhere\.toml: wanted a settings file"):
        load_profile(tmp_path / "nowhere.toml")
