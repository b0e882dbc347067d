"""Messages of a broker become values as the profile says; whatever else is in them is refused with a reason."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eventlens.live.sources._messages import LONGEST_PAYLOAD, NotUnderstoodError, fits, values_of
from eventlens.reading.live_keys import Topic

JSON = {"topic": "quay/json", "payload": "json", "name": "tag", "value": "state", "time": "at"}
SIX = 1_772_431_200_000_000
"""2026-03-02T06:00:00Z [us], counted by hand: 20 514 days and 6 h since 1970."""


def rule_of(**keys: Any) -> Topic:
    return Topic.model_validate({"topic": "quay/#", **keys})


@pytest.mark.parametrize(
    ("topic_filter", "topic", "fitting"),
    [
        # MQTT 5, 4.7.1: the examples of the standard for # and +
        ("sport/tennis/player1/#", "sport/tennis/player1", True),
        ("sport/tennis/player1/#", "sport/tennis/player1/ranking", True),
        ("sport/#", "sport", True),
        ("sport/tennis/+", "sport/tennis/player1", True),
        ("sport/tennis/+", "sport/tennis/player1/ranking", False),
        ("sport/+", "sport", False),
        ("sport/+", "sport/", True),
        ("+/+", "/finance", True),
        ("/+", "/finance", True),
        ("+", "/finance", False),
        ("#", "$SYS/broker", False),
        ("$SYS/#", "$SYS/broker", True),
    ],
)
def test_filters_fit_as_the_standard_says(topic_filter: str, topic: str, fitting: bool) -> None:
    assert fits(topic_filter, topic) is fitting


@pytest.mark.parametrize(
    ("keys", "payload", "expected"),
    [
        ({"level": 2}, b"1", (None, [("K11", "1")])),
        ({"level": [1, 2]}, b" on ", (None, [("quay K11", "on")])),
        ({"as": "S1"}, b"3.5", (None, [("S1", "3.5")])),
        ({}, b"1", (None, [("quay/K11/state", "1")])),
        (JSON, b'{"tag": "K11", "state": 1.50, "at": "2026-03-02T07:00:00+01:00"}', (SIX, [("K11", "1.50")])),
        (JSON, b'{"tag": "K11", "state": true, "at": "2026-03-02T06:00:00"}', (SIX, [("K11", "true")])),
        (JSON, b'{"tag": "K11", "state": null, "at": "2026-03-02T06:00:00Z"}', (SIX, [("K11", None)])),
        (
            {**JSON, "time": "head.t", "time_format": "epoch_ms"},
            b'{"tag": "K11", "state": "up", "head": {"t": 1772431200000.5}}',
            (SIX + 500, [("K11", "up")]),
        ),
        (
            {"payload": "json", "each": True, "time": "t", "time_format": "epoch_ns"},
            b'{"K11": 1, "S1": false, "t": 1772431200000000000}',
            (SIX, [("K11", "1"), ("S1", "false")]),
        ),
    ],
)
def test_values_come_out(keys: dict[str, Any], payload: bytes, expected: object) -> None:
    assert values_of(rule_of(**keys), "quay/K11/state", payload, "UTC") == expected


@pytest.mark.parametrize(
    ("keys", "payload", "reason"),
    [
        (JSON, b'{"tag": "K11", ', "no JSON"),
        (JSON, b"[" * 60_000, "no JSON"),
        (JSON, b"[1]", "JSON without fields"),
        (JSON, b'{"tag": "K11", "state": NaN, "at": 1}', "NaN is no JSON"),
        (JSON, b'{"tag": "K11", "state": 1}', "no field 'at' for the time"),
        (JSON, b'{"tag": "K11", "state": 1, "at": null}', "time is not understood as iso"),
        (JSON, b'{"state": 1, "at": "2026-03-02T06:00:00Z"}', "no field 'tag' for the name"),
        (JSON, b'{"tag": true, "state": 1, "at": "2026-03-02T06:00:00Z"}', "the name is no text"),
        (JSON, b'{"tag": "K11", "state": [1], "at": "2026-03-02T06:00:00Z"}', "the value is a list or an object"),
        (JSON, b'{"tag": "K11", "state": " ", "at": "2026-03-02T06:00:00Z"}', "empty value"),
        (
            {**JSON, "time_format": "epoch_s"},
            b'{"tag": "K", "state": 1, "at": 1e999999999}',
            "not understood as epoch_s",
        ),
        ({**JSON, "time_format": "epoch_s"}, b'{"tag": "K", "state": 1, "at": "NaN"}', "not understood as epoch_s"),
        ({}, b"", "empty payload"),
        ({}, b"\xff\xfe1", "payload is no text in UTF-8"),
        ({}, b"1" * (LONGEST_PAYLOAD + 1), f"payload of {LONGEST_PAYLOAD + 1} bytes, more than {LONGEST_PAYLOAD}"),
        ({"level": 9}, b"1", "the topic has no level 9"),
    ],
)
def test_what_is_not_understood_is_refused_with_its_reason(keys: dict[str, Any], payload: bytes, reason: str) -> None:
    with pytest.raises(NotUnderstoodError, match=re.escape(reason)):
        values_of(rule_of(**keys), "quay/K11/state", payload, "UTC")


json_like = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(["tag", "state", "at", "x"]), inner),
    max_leaves=8,
)


@settings(max_examples=60, deadline=None)
@given(st.binary(max_size=60) | json_like.map(lambda value: json.dumps(value).encode()))
def test_nothing_else_is_ever_raised(payload: bytes) -> None:
    for keys in (JSON, {**JSON, "time_format": "epoch_us"}, {"payload": "json", "each": True}, {"level": 1}):
        try:
            stamp, values = values_of(rule_of(**keys), "quay/K11", payload, "Europe/Lisbon")
        except NotUnderstoodError:
            continue
        else:
            assert stamp is None or isinstance(stamp, int)
            assert all(isinstance(name, str) for name, _ in values)
