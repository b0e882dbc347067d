"""What was told of one record, read as it grows: each finding once, as it was told last."""

from __future__ import annotations

import json
from collections import Counter, OrderedDict
from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, Final
from zoneinfo import ZoneInfo

from dashboards import words
from dashboards.following import Told
from eventlens import schema
from eventlens.errors import printable
from eventlens.report.words import figure

MOST: Final = 2000
"""Findings of a record that stay in memory; the page shows fewer."""


class Journal:
    """A file of messages that grows. Not for several threads."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._begin()

    def _begin(self) -> None:
        self._known, self._offset = b"", 0
        self.found: OrderedDict[str, dict[str, Any]] = OrderedDict()
        """The last message about each of the latest findings, in the order in which they were told first."""
        self.asks: Counter[str] = Counter()
        """How many findings that hold ask for each severity."""
        self.count = 0
        """Findings that were ever told."""

    def read(self) -> None:
        """Takes in what came since. A file that is another one by now is read anew; one that is not there is empty."""
        try:
            with self._path.open("rb") as file:
                if file.read(len(self._known)) != self._known or file.seek(0, 2) < self._offset:
                    self._begin()
                file.seek(0)
                self._known = self._known or file.read(512)
                file.seek(self._offset)
                text = file.read()
        except OSError:
            return
        end = text.rfind(b"\n") + 1
        self._offset += end
        for line in text[:end].splitlines():
            try:
                self._take(json.loads(line))
            except (ValueError, KeyError, TypeError):  # a line that is none says nothing
                continue

    def _take(self, said: dict[str, Any]) -> None:
        before = self.found.get(said["id"])
        if before is None:
            self.count += 1
        elif before["told"] != "withdrawn":
            self.asks[before["severity"]] -= 1
        if said["told"] != "withdrawn":
            self.asks[said["severity"]] += 1
        same = {name: said[name] for name in ("number", "told_at", "going_on")}
        first = before["first"] if before else {**same, **said["delay"]}
        self.found[said["id"]] = {**said, "first": first}
        if len(self.found) > MOST:
            self.found.popitem(last=False)

    def severities(self) -> tuple[tuple[str, int], ...]:
        """The severities that are asked for, the most serious first, and how often."""
        return tuple((name, self.asks[name]) for name in schema.SEVERITIES if self.asks[name] > 0)


def told(said: Mapping[str, Any], zone: str, href: Callable[[Mapping[str, Any]], str]) -> Told:
    """A finding in texts. Whatever stands in a log is only text."""
    first = said["first"]
    return Told(
        key=str(said["id"]),
        number=int(first["number"]),
        latest=int(said["number"]),
        level=str(said["severity"]) if said["severity"] in schema.SEVERITIES else "note",
        title=printable(f"{(said['motion'] or 'machine').capitalize()}: {said['title']}"),
        start=clock(datetime.fromisoformat(said["start"]), zone),
        facts=printable("; ".join(_facts(said))),
        delay=_delay(first),
        told_at=clock(datetime.fromisoformat(said["told_at"]), zone),
        status=str(said["told"]),
        why=printable(str(said["why"])),
        href=href(said),
        moment=datetime.fromisoformat(first["told_at"]),
    )


def clock(instant: datetime, zone: str) -> str:
    """An instant to the second in a zone."""
    return instant.astimezone(ZoneInfo(zone)).strftime("%Y-%m-%d %H:%M:%S")


def _facts(said: Mapping[str, Any]) -> list[str]:
    facts = ["certain" if said["certainty"] == "certain" else "only possible"]
    facts += [str(said[name]) for name in ("direction", "signal") if said[name]]
    if said["measured"] is not None:
        limit = "" if said["limit"] is None else f" (limit {figure(said['limit'])})"
        facts.append(f"{figure(said['measured'])} {said['unit']}{limit}")
    lasted = datetime.fromisoformat(said["end"]) - datetime.fromisoformat(said["start"])
    if said["going_on"]:
        facts.append("still going on")
    elif lasted > timedelta(0) and said["unit"] != "s":  # else that is what was measured
        facts.append(f"lasted {words.length(lasted.total_seconds())}")
    if rows := said["rows"]:
        facts.append(("line " if len(rows) == 1 else "lines ") + words.lines(rows, 6))
    return facts


def _delay(first: Mapping[str, Any]) -> str:
    needed, took = (words.length(max(round(float(first[name]), 1), 0.0)) for name in ("record_s", "program_s"))
    since = "while it went on" if first["going_on"] else f"{needed} of the log after its end"
    return f"certain {since}; told {took} after that came"
