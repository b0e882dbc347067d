"""The `[live]` table of a profile: what is followed at a broker or a server, and how it becomes lines of a record.

[live]
client = "saw-3-follower"   # MQTT: the name under which the broker keeps what was not fetched; else made up
session_h = 168.0           # MQTT: so long the broker keeps it [h]; 168 h, a week, is common practice (no source)
protocol = "5"              # MQTT: "5" or "3.1.1"

[[live.topics]]             # MQTT: topics with + and #; the first whose filter fits a topic reads its messages
topic = "quay/saw-3/+/state"
level = 3                   # the name is this level of the topic, from 1, or several joined by a blank: [2, 3]
payload = "plain"           # the payload is the value, a number or a word; "json": an object
[[live.topics]]
topic = "quay/saw-3/json"
payload = "json"
name = "tag"                # or: the name is in this field (a.b: field b of object a); or it is fixed: as = "K11"
value = "state"             # field of the value; each = true: every field but the time is a signal of that name
time = "at"                 # field of the stamp; without it the time of arrival counts
time_format = "iso"         # iso | epoch_s | epoch_ms | epoch_us | epoch_ns

[live.nodes]                # OPC UA: variable -> its name in the record
"ns=2;s=K11" = "K11"
[[live.events]]             # OPC UA: events become rows too
node = "i=2253"             # who tells of them; the server itself
type = "i=2041"             # BaseEventType, or one that is derived from it
name = "SourceName"         # field of the name; or fixed: as = "ALARM"
value = "Severity"          # field of the value; its stamp is the field Time

Such a profile also reads the record that was written: columns, clock and quality are those of `COLUMNS`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Annotated, Any, Final, Literal

from pydantic import BeforeValidator, Field

from eventlens import settings

if TYPE_CHECKING:
    from eventlens.reading.entries import Place
    from eventlens.reading.profile import LogKeys

COLUMNS: Final = ("time", "signal", "value", "quality", "note")
"""Of a record that is written while a broker or a server is followed."""
GOOD: Final = "good"
"""The one word in its column `quality` that lets a value hold."""
AGAIN: Final = "restart"
"""Its name for the record that says: what came before is cut off here (where [log] boot names no other)."""

_WRITTEN: Final[Mapping[str, Any]] = {
    "layout": "changes",
    "time": ("time",),
    "name": ("signal",),
    "value": "value",
    "quality": "quality",
    "good": (GOOD,),
    "encoding": "utf-8",
    "delimiter": ",",
}
_NOT_THERE: Final = ("time_format", "epoch", "start", "year", "date", "decimal", "header", "arrived")


def _as_levels(value: Any) -> Any:
    return (value,) if isinstance(value, int) else value


class Topic(settings.Settings):
    """One entry of `[[live.topics]]`."""

    topic: Annotated[str, Field(min_length=1, max_length=65535)]
    payload: Literal["plain", "json"] = "plain"
    level: Annotated[tuple[Annotated[int, Field(ge=1)], ...], BeforeValidator(_as_levels)] = ()
    name: str | None = None
    fixed: Annotated[str | None, Field(alias="as")] = None
    value: str | None = None
    each: bool = False
    time: str | None = None
    time_format: Literal["iso", "epoch_s", "epoch_ms", "epoch_us", "epoch_ns"] = "iso"


class Events(settings.Settings):
    """One entry of `[[live.events]]`."""

    node: str = "i=2253"
    type: str = "i=2041"
    name: str = "SourceName"
    fixed: Annotated[str | None, Field(alias="as")] = None
    value: str = "Severity"


class LiveKeys(settings.Settings):
    """The `[live]` table."""

    client: Annotated[str | None, Field(min_length=1, max_length=128)] = None
    session_h: Annotated[float, Field(gt=0, le=1e6)] = 168.0
    protocol: Literal["5", "3.1.1"] = "5"
    topics: tuple[Topic, ...] = ()
    nodes: dict[str, Annotated[str, Field(min_length=1)]] = Field(default_factory=dict)
    events: tuple[Events, ...] = ()


def check_live(live: LiveKeys, place: Place) -> None:
    """Entries that cannot be meant; ProfileError with file, line and remedy."""
    for number, topic in enumerate(live.topics):
        _check_topic(topic, place.inside("live", "topics", str(number)))
        for other in live.topics[:number]:
            if overlap(topic.topic, other.topic):
                raise place.inside("live", "topics", str(number), "topic").error(
                    "topics of which no two fit the same message",
                    f"'{other.topic}' and '{topic.topic}'",
                    "narrow one of them: a broker may send such a message twice",
                )
    seen: dict[str, str] = {}
    for node, name in live.nodes.items():
        if name in seen:
            raise place.inside("live", "nodes", node).error(
                "one node for each name", f"'{name}' for '{seen[name]}' and '{node}'", "give one of them another name"
            )
        seen[name] = node


def _check_topic(topic: Topic, place: Place) -> None:
    levels = topic.topic.split("/")
    misplaced = any(("#" in level or "+" in level) and len(level) > 1 for level in levels) or "#" in levels[:-1]
    if misplaced or "\0" in topic.topic:
        raise place.inside("topic").error(
            "a topic with + for one level and # for all the last ones", f"'{topic.topic}'", "correct it"
        )
    ways = [key for key, given in (("level", topic.level), ("name", topic.name), ("as", topic.fixed)) if given]
    if len(ways) > 1:
        raise place.inside(ways[1]).error("one way to the name", " and ".join(ways), "keep one of them")
    if topic.payload == "plain":
        for key in ("name", "value", "time"):
            if getattr(topic, key) is not None:
                raise place.inside(key).error(
                    "a JSON payload for fields", f"'{key}' with a plain one", 'state payload = "json", or remove it'
                )
    if topic.each and (topic.payload == "plain" or topic.value is not None or ways):
        raise place.inside("each").error(
            "'each' alone, with a JSON payload", "a name or a value beside it", "remove them, or 'each'"
        )
    if topic.payload == "json" and not topic.each and topic.value is None:
        raise place.inside("payload").error(
            "'value' for a JSON payload", "nothing", "name the field of the value, or state each = true"
        )
    if topic.time is None and "time_format" in topic.model_fields_set:
        raise place.inside("time_format").error("'time' beside 'time_format'", "'time_format' alone", "name the field")


def overlap(one: str, other: str) -> bool:
    """Whether some topic fits both filters."""
    a, b = one.split("/"), other.split("/")
    for place in range(max(len(a), len(b)) + 1):
        left, right = (levels[place] if place < len(levels) else None for levels in (a, b))
        if "#" in (left, right):  # it also stands for no further level
            return True
        if left is None or right is None:
            return left is right
        if left != right and "+" not in (left, right):
            return False
    return True


def with_written_columns(log: LogKeys, place: Place) -> LogKeys:
    """The `[log]` table of a profile with `[live]`: the columns are those that are written."""
    for key in log.model_fields_set & {*_WRITTEN, *_NOT_THERE}:
        if key in _NOT_THERE or getattr(log, key) != _WRITTEN[key]:
            raise place.inside("log", key).error(
                f"no '{key}' beside [live], whose record has columns of its own",
                repr(getattr(log, key)),
                "remove it, and keep another profile for other dumps",
            )
    return log.model_copy(update=dict(_WRITTEN))
