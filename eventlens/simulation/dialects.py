"""Three generations of controllers, each with its own dump.

`changes`, the oldest: a line for each change, the names of the circuit diagram, limits and stop as opening contacts
(1 = not operated), local day-first time with a decimal comma:

    Zeit;Name;Zustand
    02.03.2026 06:00:00,120;K11;1

`samples`, the newest: a line whenever something changed and at each sign of life, a column for each signal, stamps
with their offset:

    time,hoist_up_cmd,hoist_down_cmd,...,load_kg
    2026-03-02T06:00:00.120+00:00,1,0,...,0

`words`, in between: the same occasions, signals packed into 16-bit words, one in hexadecimal, the next in decimal:

    Date;Time;MW20;MW22
    2026-03-02;06:00:00.120;0041;1024
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Final

import polars as pl

from eventlens.signals import MEASURES
from eventlens.simulation.logger import HEARTBEAT, Recording

ALIVE: Final = "LEBT"
"""Name of the sign of life in the dialect `changes`."""

TAGS: Final = MappingProxyType(
    {
        "hoist.raise.command": "S1",
        "hoist.lower.command": "S2",
        "hoist.fast.command": "S3",
        "hoist.raise.contactor": "K11",
        "hoist.lower.contactor": "K12",
        "hoist.fast.contactor": "K13",
        "hoist.brake.released": "B3",
        "hoist.motor.hot": "F5",
        "hoist.raise.slowdown": "S5",
        "hoist.raise.limit": "S7",
        "hoist.lower.slowdown": "S6",
        "hoist.lower.limit": "S8",
        "trolley.left.command": "S21",
        "trolley.right.command": "S22",
        "trolley.fast.command": "S23",
        "trolley.left.contactor": "K21",
        "trolley.right.contactor": "K22",
        "trolley.fast.contactor": "K23",
        "trolley.left.slowdown": "S25",
        "trolley.left.limit": "S27",
        "trolley.right.slowdown": "S26",
        "trolley.right.limit": "S28",
        "bridge.forward.command": "S31",
        "bridge.reverse.command": "S32",
        "bridge.fast.command": "S33",
        "bridge.forward.contactor": "K31",
        "bridge.reverse.contactor": "K32",
        "bridge.fast.contactor": "K33",
        "bridge.forward.slowdown": "S35",
        "bridge.forward.limit": "S37",
        "bridge.reverse.slowdown": "S36",
        "bridge.reverse.limit": "S38",
        "overload.trip": "F7",
        "stop.emergency": "S0",
        "supply.control": "K1",
        "load.kg": "P1",
    }
)
"""Signal -> name in the circuit diagram (dialect `changes`)."""

WORDS_START: Final = 20
"""First word of the dialect `words`; they follow in twos, as 16-bit words lie in a byte memory."""


def opens(signal: str) -> bool:
    """The signal comes from an opening contact: 1 = not operated."""
    return signal.endswith((".limit", ".slowdown")) or signal == "stop.emergency"


@dataclass(frozen=True)
class Dialect:
    """How one generation writes: `lines` gives the heading and the data lines, `profile` the profile file."""

    name: str
    heading: Callable[[Sequence[str]], str]
    lines: Callable[[Recording, str], list[str]]
    """Recording, time zone -> data lines in the order written."""
    profile: Callable[[Recording, str], str]

    def write(self, recording: Recording, path: Path, timezone: str, *, oldest_line: int = 0) -> Path:
        """Write a dump. With `oldest_line` above 0 it comes from a ring buffer whose oldest record stands there."""
        lines = self.lines(recording, timezone)
        cut = len(lines) - oldest_line if oldest_line else 0
        text = "\n".join([self.heading(recording.carried), *lines[cut:], *lines[:cut]]) + "\n"
        path.write_text(text, "utf-8", newline="\n")
        return path


# changes


def _changes_lines(recording: Recording, timezone: str) -> list[str]:
    signal = pl.col("name")
    opening = [name for name in recording.carried if opens(name)]
    value = pl.when(signal.is_in(opening)).then(1.0 - pl.col("value")).otherwise(pl.col("value"))
    stamp = pl.col("time").dt.convert_time_zone(timezone).dt.strftime("%d.%m.%Y %H:%M:%S,%3f")
    line = pl.format("{};{};{}", stamp, signal.replace_strict({**TAGS, HEARTBEAT: ALIVE}), value.cast(pl.Int64))
    return recording.records.select(line).to_series().to_list()


def _changes_profile(recording: Recording, timezone: str) -> str:
    rows = ["[log]", 'layout = "changes"', 'time = "Zeit"', 'name = "Name"', 'value = "Zustand"']
    rows += [f'timezone = "{timezone}"', 'encoding = "utf-8"', 'delimiter = ";"', f'heartbeat = "{ALIVE}"']
    rows += ["", "[signals]"]
    for signal in recording.carried:
        if signal == "stop.emergency":
            rows.append(f'"{TAGS[signal]}" = {{ signal = "{signal}", invert = true }}')
        elif opens(signal):
            rows.append(f'"{TAGS[signal]}" = {{ signal = "{signal}", on = "0" }}')
        else:
            rows.append(f'"{TAGS[signal]}" = "{signal}"')
    return "\n".join(rows) + "\n"


# samples


def column_of(signal: str) -> str:
    """Name of a signal's column in the dialect `samples`."""
    words = {"raise": "up", "lower": "down", "command": "cmd", "contactor": "run", "released": "open"}
    return "_".join(words.get(part, part) for part in signal.split("."))


def wide(recording: Recording) -> pl.DataFrame:
    """The state of every signal at each instant at which something was recorded: time, then a column for each."""
    table = recording.records.pivot(
        on="name", index=["segment", "time"], values="value", aggregate_function="last", maintain_order=True
    )
    carried = list(recording.carried)
    return table.sort("segment", maintain_order=True).select(
        "time", *(pl.col(name).forward_fill().over("segment").cast(pl.Int64) for name in carried)
    )


def _samples_lines(recording: Recording, timezone: str) -> list[str]:
    stamp = pl.col("time").dt.convert_time_zone(timezone).dt.strftime("%Y-%m-%dT%H:%M:%S%.3f%:z")
    line = pl.concat_str(stamp, *(pl.col(name) for name in recording.carried), separator=",")
    return wide(recording).select(line).to_series().to_list()


def _samples_heading(carried: Sequence[str]) -> str:
    return ",".join(["time", *(column_of(signal) for signal in carried)])


def _samples_profile(recording: Recording, timezone: str) -> str:
    rows = ["[log]", 'layout = "samples"', 'time = "time"', f'timezone = "{timezone}"', 'encoding = "utf-8"']
    rows += ['delimiter = ","', f"longest_silence_s = {3 * recording.heartbeat_s:g}", "", "[signals]"]
    rows += [f'"{column_of(signal)}" = "{signal}"' for signal in recording.carried]
    return "\n".join(rows) + "\n"


# words


def bits_of(carried: Sequence[str]) -> Mapping[str, list[str]]:
    """Word -> its signals from bit 0 upwards; measured values find no place in a status word."""
    states = [signal for signal in carried if signal not in MEASURES]
    return {f"MW{WORDS_START + 2 * (at // 16)}": states[at : at + 16] for at in range(0, len(states), 16)}


def _is_hex(number: int) -> bool:
    return number % 2 == 0


def _words_lines(recording: Recording, timezone: str) -> list[str]:
    local = pl.col("time").dt.convert_time_zone(timezone)
    parts: list[pl.Expr] = [local.dt.strftime("%Y-%m-%d"), local.dt.strftime("%H:%M:%S%.3f")]
    for number, signals in enumerate(bits_of(recording.carried).values()):
        state = [1 - pl.col(signal) if opens(signal) else pl.col(signal) for signal in signals]
        word = pl.sum_horizontal(one * 2**bit for bit, one in enumerate(state))
        parts.append(_hex(word) if _is_hex(number) else word.cast(pl.String))
    return wide(recording).select(pl.concat_str(*parts, separator=";")).to_series().to_list()


def _hex(word: pl.Expr) -> pl.Expr:
    """Four hexadecimal digits."""
    digits = [(word // 16**place % 16).replace_strict(dict(enumerate("0123456789ABCDEF"))) for place in (3, 2, 1, 0)]
    return pl.concat_str(*digits)


def _words_heading(carried: Sequence[str]) -> str:
    return ";".join(["Date", "Time", *bits_of(carried)])


def _words_profile(recording: Recording, timezone: str) -> str:
    rows = ["[log]", 'layout = "words"', 'time = ["Date", "Time"]', f'timezone = "{timezone}"', 'encoding = "utf-8"']
    rows += ['delimiter = ";"', f"longest_silence_s = {3 * recording.heartbeat_s:g}"]
    for number, (word, signals) in enumerate(bits_of(recording.carried).items()):
        rows += ["", f'[words."{word}"]', f'encoding = "{"hex" if _is_hex(number) else "decimal"}"']
        for bit, signal in enumerate(signals):
            rows.append(f'{bit} = {{ signal = "{signal}", invert = true }}' if opens(signal) else f'{bit} = "{signal}"')
    return "\n".join(rows) + "\n"


DIALECTS: Final = MappingProxyType(
    {
        "changes": Dialect("changes", lambda carried: "Zeit;Name;Zustand", _changes_lines, _changes_profile),
        "samples": Dialect("samples", _samples_heading, _samples_lines, _samples_profile),
        "words": Dialect("words", _words_heading, _words_lines, _words_profile),
    }
)
"""The three, by name."""
