"""XES (IEEE 1849): XML with traces of events, each event with typed attributes.

    <log><trace><string key="concept:name" value="lift 17"/>
      <event><string key="concept:name" value="hoist.raise.contactor"/>
        <string key="lifecycle:transition" value="start"/>
        <date key="time:timestamp" value="2026-03-02T06:00:00.120+01:00"/></event></trace></log>

A column for each attribute of events, then `trace:...` for those of traces; inner attributes become `outer.inner`.
`row` is the number of the event in the file, from 1. A log is grouped by trace and says nothing of the order across
traces: events are put in order of time, while the order inside a trace stays. Document types and entities are refused.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final
from xml.etree.ElementTree import Element, ParseError

import polars as pl

from eventlens import schema
from eventlens.errors import ReadingError
from eventlens.reading.clock import read_clock
from eventlens.reading.formats._bounds import LONGEST_CELL, check_width
from eventlens.reading.formats._table import unique_names, whole_table
from eventlens.reading.formats._text import is_text
from eventlens.reading.profile import Profile
from eventlens.reading.raw import RawTable, set_aside

NAME = "XES"
BROKEN: Final = "XML is broken from here on"
_LOG: Final = re.compile(
    r"\s*(?:<\?.*?\?>\s*|<!--.*?-->\s*|<!DOCTYPE[^\[>]*(?:\[.*?\])?\s*>\s*)*<(?:\w+:)?log[\s>/]", re.S
)
_TIME: Final = "time:timestamp"
_TRACE: Final = "trace:"
_BATCH: Final = 20_000
_DEEPEST: Final = 20
"""Attributes inside attributes (common practice, no source)."""
Cells = dict[str, str | None]


def sniff(path: Path, head: bytes) -> bool:
    """XML whose outermost element is a log."""
    if not is_text(head):
        return False
    encoding = "utf-16" if head[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"
    return _LOG.match(head.decode(encoding, "ignore")) is not None


def read(path: Path, profile: Profile, like: RawTable | None = None) -> RawTable:
    """The events as a table of texts. Where the XML breaks, the events before the break are kept and it is said."""
    events = _Events(path)
    broken = _collect(path, events)
    frame = events.frame()
    rejected = schema.REJECTED.empty()
    notes: list[str] = []
    count = events.count
    if broken is not None:
        if not count:
            raise ReadingError("whole XML with events", broken, "export the dump again", file=path)
        rejected = set_aside(pl.Series([count + 1]), BROKEN, pl.Series([broken]))
        notes.append(f"The XML is broken ({broken}): the {count} events before that were read.")
    lines = pl.int_range(1, count + 1, dtype=schema.ROW, eager=True)
    frame, lines, moved = _by_time(frame, lines, events.traces())
    if moved:
        notes.append(
            "The traces overlap in time: their events were put in order of time, inside a trace as they stand."
        )
    last = count + (broken is not None)
    return whole_table(
        path,
        NAME,
        # events without a single attribute are blank rows
        frame if frame.width else pl.DataFrame({_TIME: pl.Series([None] * count, dtype=pl.String)}),
        lines=lines,
        rejected=rejected,
        last_line=last,
        notes=tuple(notes),
        sparse=True,
    )


@dataclass
class _Events:
    """Events found so far."""

    path: Path
    count: int = 0
    _trace: int = 0
    _names: dict[str, None] = field(default_factory=dict)
    _trace_names: dict[str, None] = field(default_factory=dict)
    _batch: list[Cells] = field(default_factory=list)
    _frames: list[pl.DataFrame] = field(default_factory=list)
    _of_trace: list[int] = field(default_factory=list)
    _open: list[Cells] = field(default_factory=list)

    def add(self, cells: Cells) -> None:
        """One event of the trace that is open."""
        self._names.update(dict.fromkeys(cells))
        check_width(len(self._names) + len(self._trace_names), self.path)
        self._open.append(cells)
        self._of_trace.append(self._trace)
        self.count += 1

    def close_trace(self, cells: Cells) -> None:
        """The trace's own attributes, once all of it is known."""
        own = {_TRACE + name: cell for name, cell in cells.items()}
        self._trace_names.update(dict.fromkeys(own))
        self._batch += [event | own for event in self._open]
        self._open = []
        self._trace += 1
        if len(self._batch) >= _BATCH:
            self._close()

    def _close(self) -> None:
        names = [*self._names, *self._trace_names]
        columns = {name: [cells.get(name) for cells in self._batch] for name in names}
        self._frames.append(pl.DataFrame(columns, schema=dict.fromkeys(names, pl.String)))
        self._batch = []

    def frame(self) -> pl.DataFrame:
        """All events, the attributes of events before those of traces."""
        self.close_trace({})
        self._close()
        found = pl.concat(self._frames, how="diagonal").select(*self._names, *self._trace_names)
        return found.rename(dict(zip(found.columns, unique_names(found.columns), strict=True)))

    def traces(self) -> pl.Series:
        """Number of the trace of each event."""
        return pl.Series("trace", self._of_trace, dtype=pl.UInt32)


def _collect(path: Path, events: _Events) -> str | None:
    """Walks through the file; returns what is broken, or None."""
    from defusedxml.common import DefusedXmlException

    parents: list[Element] = []
    try:
        for what, element in _walk(path):
            if what == "start":
                parents.append(element)
                if len(parents) > 2 * _DEEPEST:
                    raise ReadingError("XES", f"elements more than {2 * _DEEPEST} deep", "export it again", file=path)
                continue
            parents.pop()
            tag = _local(element.tag)
            if tag == "event":
                events.add(_attributes(element, path))
            elif tag == "trace":
                events.close_trace(_attributes(element, path))
            inside_event = any(_local(parent.tag) == "event" for parent in parents)
            inside_trace = any(_local(parent.tag) == "trace" for parent in parents)
            if tag in ("event", "trace") or not (inside_event or inside_trace):
                element.clear()  # its memory is given back while the walk goes on
                if parents:
                    parents[-1].remove(element)
    except DefusedXmlException:
        got = "a document type or entities, which can swell without end"
        raise ReadingError("XES without a document type", got, "export it without", file=path) from None
    except (ParseError, ValueError, LookupError) as fault:
        return str(fault)[:120]
    return None


def _walk(path: Path) -> Iterator[tuple[str, Any]]:
    from defusedxml.ElementTree import iterparse

    yield from iterparse(path, events=("start", "end"), forbid_dtd=True)


def _local(tag: Any) -> str:
    return str(tag).rpartition("}")[2]


def _attributes(element: Element, path: Path, prefix: str = "", depth: int = 0) -> Cells:
    """The attributes of an event or trace by key; the second of a key is `key_2`."""
    cells: Cells = {}
    if depth > _DEEPEST:
        return cells
    for child in element:
        if _local(child.tag) in ("event", "trace"):
            continue
        key = child.get("key")
        if key is None:  # the shell of a list
            inner = _attributes(child, path, prefix, depth + 1)
        else:
            value = child.get("value")
            if value is not None and len(value) > LONGEST_CELL:
                got = f"one of {len(value)} characters in '{key}'"
                raise ReadingError(f"values of at most {LONGEST_CELL} characters", got, "shorten it", file=path)
            inner = {prefix + key: value} if value is not None else {}
            inner |= _attributes(child, path, f"{prefix}{key}.", depth + 1)
        for name, cell in inner.items():
            free, number = name, 2
            while free in cells:
                free, number = f"{name}_{number}", number + 1
            cells[free] = cell
    return cells


def _by_time(frame: pl.DataFrame, lines: pl.Series, traces: pl.Series) -> tuple[pl.DataFrame, pl.Series, bool]:
    """The events in order of time across traces; each goes with the latest stamp of its own trace up to it."""
    if _TIME not in frame.columns or traces.n_unique() < 2:
        return frame, lines, False
    stamps = read_clock([frame[_TIME]])
    if stamps is None:
        return frame, lines, False
    keys = pl.DataFrame({"time": stamps.time, "trace": traces}).with_columns(
        key=pl.col("time").cum_max().forward_fill().over("trace")
    )
    if keys["key"].drop_nulls().is_sorted():
        return frame, lines, False
    order = keys.with_row_index("at").sort("key", maintain_order=True)["at"]
    return frame[order], lines.gather(order), True
