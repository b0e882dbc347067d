"""Proposals -> a commented profile file (TOML) that `review` takes as it is."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Mapping
from typing import Any

import tomli_w

from eventlens.reading.suggest.combine import Proposal

WIDTH = 110
SHOWN = 8


def profile_text(
    log: Mapping[str, Any],
    each: Iterable[Proposal],
    places: Mapping[str, tuple[str, int] | None],
    mapped: Mapping[str, str],
    source: str,
) -> str:
    """The profile.

    log: keys of [log] with their values (None: written as a comment to be filled in); places: each name's word and
    bit, if it has one; mapped: names that already are signals; source: the dump's file name.
    """
    each = sorted(each, key=lambda one: _natural(one.name))
    lines = [
        f"# How '{_plain(source)}' is read. Signals were proposed from names and behaviour: check each against the",
        "# circuit diagram, correct it here, and read further dumps of this kind with this file.",
        "",
        "[log]",
    ]
    lines += [f"{key} = {_value(value)}" for key, value in log.items() if value is not None]
    lines += [f'# {key} = ""' for key, value in log.items() if value is None]
    lines += ["", "[messages]" if log.get("layout") == "messages" else "[signals]"]
    lines += [f"{_value(name)} = {_value(signal)}" for name, signal in mapped.items()]
    for one in each:
        if one.signal is not None and places.get(one.name) is None:
            lines += _entry(_value(one.name), one)
    for word in sorted({place[0] for place in places.values() if place}, key=_natural):
        inside = [one for one in each if one.signal is not None and (places.get(one.name) or ("", 0))[0] == word]
        if inside:
            lines += ["", f"[words.{_value(word)}]"]
            for one in inside:
                place = places[one.name]
                assert place is not None
                lines += _entry(str(place[1]), one)
    lines += _left_out(each, places, mapped)
    return "\n".join(lines) + "\n"


def _entry(key: str, one: Proposal) -> list[str]:
    """The reason as a comment, and the line itself."""
    turn = ", invert = true" if one.invert else ""
    signal = f"{{ signal = {_value(one.signal)}{turn} }}" if turn else _value(one.signal)
    return [*_comment(f"{one.confidence:.2f}: {one.reason}"), f"{key} = {signal}"]


def _left_out(
    each: Iterable[Proposal], places: Mapping[str, tuple[str, int] | None], mapped: Mapping[str, str]
) -> list[str]:
    lines: list[str] = []
    open_ones = [one for one in each if one.signal is None]
    if open_ones:
        lines += ["", "# Left open:"]
    for one in open_ones:
        may = ", ".join(one.candidates[:SHOWN]) + (", ..." if len(one.candidates) > SHOWN else "")
        lines += _comment(f"{_value(one.name)}: {one.reason} (may be {may})")
    known = {one.name for one in each} | set(mapped)
    rest = sorted((name for name in places if name not in known), key=_natural)
    if rest:
        lines += ["", "# Nothing is known of:"]
        lines += _comment(", ".join(_value(name) for name in rest))
    return lines


def _comment(text: str) -> list[str]:
    return [f"# {line}" for line in textwrap.wrap(_plain(text), WIDTH, break_long_words=False)]


def _plain(text: str) -> str:
    """The text on one line, without what a comment may not hold."""
    return "".join(letter if letter.isprintable() else " " for letter in text)


def _value(value: Any) -> str:
    """A value (or a quoted key) as TOML writes it."""
    if isinstance(value, tuple | list):
        return "[" + ", ".join(_value(one) for one in value) + "]"
    return tomli_w.dumps({"k": value}).removeprefix("k = ").strip()


def _natural(name: str) -> list[tuple[int, str]]:
    """I0.2 before I0.10."""
    return [(int(part), "") if part.isdecimal() else (-1, part) for part in re.split(r"(\d+)", name)]
