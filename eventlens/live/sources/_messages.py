"""A message of a broker -> values, as `[[live.topics]]` of the profile says. Nothing in it is trusted.

quay/saw-3/K11/state  1                                         level = 3
quay/saw-3/json       {"tag": "K11", "state": 1, "at": "..."}   name = "tag", value = "state", time = "at"
quay/saw-3/all        {"K11": 1, "S1": 0, "at": "..."}          each = true, time = "at"
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import datetime, tzinfo
from decimal import Decimal
from typing import Any, Final
from zoneinfo import ZoneInfo

from eventlens.reading.live_keys import Topic

LONGEST_PAYLOAD: Final = 1 << 16
"""Bytes of a message that are looked at (common practice, no source); a longer one is set aside."""
_US: Final = {
    "epoch_s": Decimal(1_000_000),
    "epoch_ms": Decimal(1_000),
    "epoch_us": Decimal(1),
    "epoch_ns": Decimal("0.001"),
}
_NUMBER: Final = 32
"""Characters of a stamp that is a number."""
_MOST: Final = Decimal(10) ** 20


class NotUnderstoodError(ValueError):
    """Why a message is not understood, for people."""


def fits(topic_filter: str, topic: str) -> bool:
    """Whether a topic is one that a filter with + and # stands for."""
    wanted, levels = topic_filter.split("/"), topic.split("/")
    if topic.startswith("$") and wanted[0] in ("+", "#"):  # topics of the broker itself
        return False
    for place, level in enumerate(wanted):
        if level == "#":
            return True
        if place >= len(levels) or level not in ("+", levels[place]):
            return False
    return len(wanted) == len(levels)


def values_of(rule: Topic, topic: str, payload: bytes, zone: str) -> tuple[int | None, list[tuple[str, str | None]]]:
    """The stamp of a message [us since 1970] (None: the rule names no field for it), and names with values.

    A value of None is unknown (JSON null). zone: of stamps without an offset.
    """
    if len(payload) > LONGEST_PAYLOAD:
        raise NotUnderstoodError(f"payload of {len(payload)} bytes, more than {LONGEST_PAYLOAD}")
    try:
        text = payload.decode()
    except UnicodeDecodeError:
        raise NotUnderstoodError("payload is no text in UTF-8") from None
    if rule.payload == "plain":
        if not text.strip():
            raise NotUnderstoodError("empty payload")
        return None, [(_name(rule, topic, None), text.strip())]
    told = _object(text)
    stamp = None if rule.time is None else stamp_us(_field(told, rule.time, "time"), rule.time_format, ZoneInfo(zone))
    if rule.each:
        skipped = None if rule.time is None else rule.time.split(".")[0]
        return stamp, [(name, _value(value)) for name, value in told.items() if name != skipped]
    assert rule.value is not None
    return stamp, [(_name(rule, topic, told), _value(_field(told, rule.value, "value")))]


def stamp_us(value: Any, notation: str, zone: tzinfo) -> int:
    """An instant [us since 1970] from a field."""
    try:
        if notation == "iso":
            instant = datetime.fromisoformat(str(value))
            instant = instant if instant.tzinfo is not None else instant.replace(tzinfo=zone)
            return round(instant.timestamp() * 1_000_000)
        number = Decimal(str(value)) if len(str(value)) <= _NUMBER else Decimal("nan")
        if not number.is_finite() or abs(number) >= _MOST:  # 1e999999999 would take for ever
            raise ValueError
        return int((number * _US[notation]).to_integral_value())
    except (ValueError, ArithmeticError):
        raise NotUnderstoodError(f"time is not understood as {notation}") from None


def _object(text: str) -> dict[str, Any]:
    def refuse(constant: str) -> None:
        raise NotUnderstoodError(f"{constant} is no JSON")

    try:
        # numbers stay as they are written
        told = json.loads(text, parse_float=str, parse_int=str, parse_constant=refuse)
    except NotUnderstoodError:
        raise
    except (ValueError, RecursionError):
        raise NotUnderstoodError("no JSON") from None
    if not isinstance(told, dict):
        raise NotUnderstoodError("JSON without fields")
    return told


def _field(told: Any, path: str, what: str) -> Any:
    """What stands in a field; a.b: in field b of the object a."""
    parts: Sequence[str] = [path] if isinstance(told, dict) and path in told else path.split(".")
    for part in parts:
        if not isinstance(told, dict) or part not in told:
            raise NotUnderstoodError(f"no field '{path}' for the {what}")
        told = told[part]
    return told


def _name(rule: Topic, topic: str, told: dict[str, Any] | None) -> str:
    if rule.fixed is not None:
        return rule.fixed
    if rule.name is not None:
        name = _field(told, rule.name, "name")
        if not isinstance(name, str):
            raise NotUnderstoodError("the name is no text")
        return name
    levels = topic.split("/")
    if not rule.level:
        return topic
    if max(rule.level) > len(levels):
        raise NotUnderstoodError(f"the topic has no level {max(rule.level)}")
    return " ".join(levels[level - 1] for level in rule.level)


def _value(value: Any) -> str | None:
    """A value as text; None where it is null."""
    if value is None:
        return None
    if isinstance(value, bool):
        return "true" if value else "false"
    if not isinstance(value, str):
        raise NotUnderstoodError("the value is a list or an object")
    if not value.strip():
        raise NotUnderstoodError("empty value")
    return value.strip()
