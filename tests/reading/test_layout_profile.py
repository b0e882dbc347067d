"""Guards the profile's keys for layouts and values: each wrong combination names file, line and remedy."""

from __future__ import annotations

from pathlib import Path

import pytest
from reading_logs import toml

from eventlens.errors import ProfileError
from eventlens.reading import load_profile
from eventlens.reading.profile import Message, Source, sources_of

FAULTS = [
    ('[log]\nlayout = "samples"\nvalue = "x"\n', 3, "'value', which is for records", 'state layout = "changes"'),
    ('[log]\nlayout = "changes"\ncame = ["C"]\n', 3, "'came', which is for the states", 'state layout = "messages"'),
    ('[log]\nlayout = "words"\nduration = "D"\n', 3, "'duration', which is for finished", 'state layout = "runs"'),
    ('[log]\ngood = ["1"]\n', 2, "'good' alone", "name the column in quality"),
    ('[log]\nlayout = "runs"\nbegin = "B"\n', 3, "only 'begin'", "name the other column too"),
    ('[log]\nlayout = "runs"\nend = "E"\n', 3, "only 'end'", "name the other column too"),
    ('[log]\nduration_unit = "days"\n', 2, "'days'", "correct the value"),
    ('[log]\ncame = ["C"]\ngone = ["g", "c"]\n', 2, "'c' twice", "keep one of them"),
    ('[signals]\n"X" = []\n', 2, "an empty list", "name a signal"),
    ('[signals]\n"X" = ["rope.slack", "rope.slack"]\n', 2, "'rope.slack' twice", "keep one of them"),
    ('[signals]\n"X" = ["rope.slack", "rope.slak"]\n', 2, "'rope.slak'", "did you mean 'rope.slack'?"),
    ('[signals]\n"X" = ["rope.slack", "overload.trip"]\n"Y" = "overload.trip"\n', 3, "'X' and 'Y'", "keep one of them"),
    ('[signals]\n"X" = { signal = "rope.slack", on = "1", off = ["0", "1"] }\n', 2, "'1' in both", "remove one"),
    ('[signals]\n"X" = { signal = "rope.slack", on = "1", above = 2 }\n', 2, "both", "keep one of them"),
    ('[signals]\n"X" = { signal = "rope.slack", above = "high" }\n', 2, "'high'", "correct the value"),
    ('[signals]\n"X" = { signal = "rope.slack", sets = true, on = "1" }\n', 2, "beside it", "keep one of them"),
    ('[signals]\n"X" = { signal = "load.kg", above = 2 }\n', 2, "above", "remove them"),
    ('[signals]\n"X" = { signal = "rope.slack", match = "prefix" }\n', 2, "'match'", "known are"),
    (
        '[signals]\n"X" = { signal = "rope.slack", sets = true }\n"Y" = "rope.slack"\n',
        3,
        "'X' and 'Y'",
        "give both 'sets'",
    ),
    ('[signals]\n"X" = "rope.slack"\n[messages]\n"Y" = "rope.slack"\n', 4, "'X' and 'Y'", "keep one of them"),
    ('[messages]\n"a(" = { signal = "rope.slack", match = "pattern" }\n', 2, "'a('", "correct it"),
    ('[messages]\n"a" = { signal = "rope.slack", match = "suffix" }\n', 2, "'suffix'", "correct the value"),
    ('[words."W"]\nwidth = 12\n', 2, "12", "correct the value"),
    ('[words."W"]\nbyte_order = "little"\n', 2, "'little'", "correct the value"),
    ('[words."W"]\nwidth = 16\n16 = "rope.slack"\n', 3, "'16'", "correct the key or the width"),
    ('[words."W"]\n"7-4" = "rope.slack"\n', 2, "'7-4'", "correct the key"),
    ('[words."W"]\n"0-64" = "load.kg"\n', 2, "'0-64'", "correct the key"),
    ('[words."W"]\n3 = { signal = "rope.slack", sets = true }\n', 2, "'sets'", "remove it"),
    ('[words."W"]\n0 = "rope.slack"\n[words."V"]\nall = "rope.slack"\n', 4, "'W.0' and 'V.all'", "keep one of them"),
]


@pytest.mark.parametrize(("text", "line", "got", "remedy"), FAULTS)
def test_a_fault_names_file_line_and_remedy(text: str, line: int, got: str, remedy: str, tmp_path: Path) -> None:
    with pytest.raises(ProfileError) as caught:
        load_profile(toml(tmp_path, text))
    said = str(caught.value)
    assert f"profile.toml, line {line}: " in said
    assert got in caught.value.got
    assert remedy in said


def test_what_the_description_of_the_profile_shows_is_a_profile(tmp_path: Path) -> None:
    from eventlens.reading import profile

    assert profile.__doc__ is not None
    text = profile.__doc__[profile.__doc__.index("[signals]") :]
    found = load_profile(toml(tmp_path, text))
    assert [source.signal for source in sources_of(found.signals["SPD"])] == [
        "hoist.lower.contactor",
        "hoist.fast.contactor",
    ]
    assert found.signals["S8"] == Source(signal="hoist.lower.limit", on=["hit", "2"], off="clear")  # type: ignore[arg-type]
    assert found.words["MW20"].byte_order == "low_first"
    assert found.words["MW40"].fields[(0, 63)][0].factor == 0.1
    assert found.messages["Phase"] == Message(signal="supply.phase_fault", match="prefix")
