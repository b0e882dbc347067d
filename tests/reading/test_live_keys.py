"""The [live] table of a profile: what it may hold, and that its faults name file, line and remedy."""

from __future__ import annotations

from pathlib import Path

import pytest

from eventlens.errors import ProfileError
from eventlens.reading import load_profile
from eventlens.reading.live_keys import overlap

TOPIC = '[[live.topics]]\ntopic = "quay/#"\n'


def load(tmp_path: Path, text: str) -> object:
    path = tmp_path / "profile.toml"
    path.write_text(text, "utf-8")
    return load_profile(path)


def test_a_profile_with_live_reads_the_record_that_is_written(tmp_path: Path) -> None:
    profile = load_profile(_written(tmp_path, '[log]\ntimezone = "Europe/Lisbon"\n' + TOPIC))
    assert (profile.log.time, profile.log.name, profile.log.value) == (("time",), ("signal",), "value")
    assert (profile.log.quality, profile.log.good, profile.log.layout) == ("quality", ("good",), "changes")
    assert profile.log.timezone == "Europe/Lisbon"
    assert profile.live is not None
    assert profile.live.topics[0].topic == "quay/#"


def test_a_profile_without_it_is_as_it_was(tmp_path: Path) -> None:
    profile = load_profile(_written(tmp_path, '[log]\ntime = "Zeit"\n'))
    assert profile.live is None
    assert profile.log.time == ("Zeit",)
    assert profile.log.quality is None


def _written(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "profile.toml"
    path.write_text(text, "utf-8")
    return path


@pytest.mark.parametrize(
    ("text", "line", "part"),
    [
        ("[live]\nqos = 2\n", 2, "a known key in [live], got 'qos'"),
        ('[live]\nprotocol = "3"\n', 2, "'live.protocol'"),
        (TOPIC + "levle = 2\n", 3, "did you mean 'level'?"),
        (TOPIC + "level = 0\n", 3, "live.topics.0.level"),
        ('[[live.topics]]\ntopic = "quay/a+"\n', 2, "a topic with + for one level"),
        ('[[live.topics]]\ntopic = "quay/#/x"\n', 2, "a topic with + for one level"),
        (TOPIC + 'level = 2\nas = "K11"\n', 4, "one way to the name, got level and as"),
        (TOPIC + 'value = "v"\n', 3, "a JSON payload for fields"),
        (TOPIC + 'payload = "json"\n', 3, "'value' for a JSON payload"),
        (TOPIC + 'payload = "json"\neach = true\nvalue = "v"\n', 4, "'each' alone"),
        (TOPIC + 'payload = "json"\nvalue = "v"\ntime_format = "iso"\n', 5, "'time' beside 'time_format'"),
        (
            TOPIC + '[[live.topics]]\ntopic = "quay/a/+"\n',
            4,
            "no two fit the same message, got 'quay/#' and 'quay/a/+'",
        ),
        ('[live.nodes]\n"ns=2;s=A" = "K11"\n"ns=2;s=B" = "K11"\n', 3, "one node for each name"),
        ('[log]\ntime = "Zeit"\n' + TOPIC, 2, "no 'time' beside [live]"),
        ('[log]\ntime_format = "epoch_ms"\n' + TOPIC, 2, "no 'time_format' beside [live]"),
    ],
)
def test_faults_name_file_line_and_remedy(tmp_path: Path, text: str, line: int, part: str) -> None:
    with pytest.raises(ProfileError) as caught:
        load(tmp_path, text)
    assert caught.value.line == line
    assert part in str(caught.value)
    assert "profile.toml" in str(caught.value)


@pytest.mark.parametrize(
    ("one", "other", "both"),
    [
        ("a/b", "a/b", True),
        ("a/b", "a/c", False),
        ("a/+", "a/c", True),
        ("a/+", "a/c/d", False),
        ("a/#", "a", True),
        ("a/#", "b/#", False),
        ("+/b", "a/+", True),
        ("+/b/#", "a/+/c", True),
        ("#", "x/y/z", True),
        ("a", "a/b", False),
    ],
)
def test_overlap_is_found_from_both_sides(one: str, other: str, both: bool) -> None:
    assert overlap(one, other) is both
    assert overlap(other, one) is both
