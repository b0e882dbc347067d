"""System log: RFC 5424, and the older form of RFC 3164 whose stamps have no year; with or without a priority.

    <134>1 2026-03-02T06:00:00.120Z hoist1 plc 311 IO [io@1 slot="2"] tag=K11 state=1
    <134>Mar  2 06:00:00 hoist1 plc[311]: tag=K11 state=1
    Mar  2 06:00:00 hoist1 plc[311]: tag=K11 state=1

Columns: time, host, app, process, id, priority, what the structured data hold (`io@1.slot`), pairs of the message
(`tag`, `state`), message. `key=value` pairs become columns where at least four of five messages hold the key. Messages
that are one pair each, with several keys, give the columns name and value. `row` is the line. A line that is no record
is set aside; a line that begins with a blank goes on with the message of the line before.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final

import polars as pl

from eventlens.reading.formats._bounds import LONGEST_LINE, check_width
from eventlens.reading.formats._table import unique_names, whole_table
from eventlens.reading.formats._text import Text, is_text, open_text
from eventlens.reading.profile import Profile
from eventlens.reading.raw import RawTable, set_aside

NAME = "syslog"
NO_RECORD: Final = "no record of a system log"
TOO_LONG: Final = "record is too long"
REGULAR: Final = 0.8
"""Share of messages that hold a key which becomes a column (common practice, no source)."""

_PRI: Final = r"(?:\d{1,8} )?<(?P<priority>\d{1,3})>"
_NEW: Final = (
    _PRI
    + r"1 (?P<time>\S+) (?P<host>\S+) (?P<app>\S+) (?P<process>\S+) (?P<id>\S+) "
    + r'(?P<data>-|(?:\[(?:[^\]"\\]|"(?:\\.|[^"\\])*")*\])+)(?: (?P<message>.*))?'
)
_STAMP: Final = (
    r"(?P<time>[A-Z][a-z]{2} {1,2}\d{1,2} (?:\d{4} )?\d{2}:\d{2}:\d{2}(?:[.,]\d{1,9})?(?: \d{4})?"
    r"|\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(?:[.,]\d{1,9})?(?:Z|[+-]\d{2}:?\d{2})?)"
)
_TAG: Final = r"(?P<app>[^\s:\[\]=]{1,48})(?:\[(?P<process>[^\]\s]{1,128})\])?:(?: (?P<message>.*))?"
_OLD: Final = f"(?:{_PRI})?{_STAMP} (?P<host>[^\\s:=]+) {_TAG}"
_UNTAGGED: Final = _PRI + _STAMP + r" (?P<host>[^\s:=]+)(?: (?P<message>.*))?"
_FORMS: Final = tuple(f"^(?s:{form})$" for form in (_NEW, _OLD, _UNTAGGED))
_PATTERNS: Final = tuple(re.compile(form.replace("(?s:", "(?:"), re.S) for form in _FORMS)
_COLUMNS: Final = ("time", "host", "app", "process", "id", "priority", "data", "message")
_ELEMENT: Final = r'\[([^\s=\]"]+)((?:\s+[^\s=\]"]+="(?:\\.|[^"\\])*")*)\s*\]'
_PARAMETER: Final = r'([^\s=\]"]+)="((?:\\.|[^"\\])*)"'
_PAIR: Final = r'(?:^|[\s,;])([A-Za-z_][\w.:-]*)=("[^"]*"|[^\s,;]*)'
_LOOKED_AT: Final = 20


def sniff(path: Path, head: bytes) -> bool:
    """Text of which most of the first lines are records."""
    if not is_text(head):
        return False
    text = head.decode("utf-16" if head[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig", "ignore")
    lines = [line for line in text.replace("\r", "\n").split("\n")[: 2 * _LOOKED_AT] if line.strip("\0 \t")]
    lines = [line for line in lines if not line.startswith((" ", "\t"))][:_LOOKED_AT]
    return 2 * sum(any(form.match(line[:4096]) for form in _PATTERNS) for line in lines) > len(lines)


def read(path: Path, profile: Profile, like: RawTable | None = None) -> RawTable:
    """The records as a table of texts; what is no record is set aside with its line."""
    text = open_text(path, profile.log.encoding)
    lines = _lines(text)
    too_long = lines.filter(pl.col("text").str.len_bytes() > LONGEST_LINE)
    lines = lines.filter(pl.col("text").str.len_bytes() <= LONGEST_LINE)
    blank = lines["text"].str.strip_chars(" \t\0") == ""
    lines, blanks = lines.filter(~blank), int(blank.sum())
    found = _parts(lines)
    known = found["time"].is_not_null() | found["message"].is_not_null()
    odd = lines.filter(~known)
    rejected = pl.concat(
        [
            set_aside(odd["row"], NO_RECORD, odd["text"]),
            set_aside(too_long["row"], TOO_LONG, too_long["text"]),
        ]
    )
    rows = lines.filter(known)["row"]
    frame = found.filter(known)
    frame = _with_pairs(_with_data(frame, path), path)
    return whole_table(
        path,
        NAME,
        frame,
        lines=rows,
        rejected=rejected,
        blank=blanks,
        first_line=1,
        last_line=text.line_count,
        notes=text.notes,
        sparse=True,
    )


def _lines(text: Text) -> pl.DataFrame:
    """Lines with their numbers; a line that goes on with the one before is joined to it (each one record)."""
    content = bytes(text.data[:]).decode("utf-8", "replace").removeprefix("\ufeff").removesuffix("\n")
    frame = pl.DataFrame({"text": pl.Series(content.split("\n"), dtype=pl.String).str.strip_chars_end("\r\0")})
    frame = frame.with_row_index("row", 1)
    goes_on = pl.col("text").str.contains(r"^[ \t]+\S") & (pl.col("row") > 1)
    if not frame.select(goes_on.any()).item():
        return frame
    joined = frame.with_columns(record=(~goes_on).cum_sum())
    grouped = joined.group_by("record", maintain_order=True).agg(pl.col("row").first(), pl.col("text").str.join("\n"))
    return grouped.select("row", "text")


def _parts(lines: pl.DataFrame) -> pl.DataFrame:
    """The parts of each line by the first form that fits; all null where none does."""
    found = pl.DataFrame({name: pl.repeat(None, lines.height, dtype=pl.String, eager=True) for name in _COLUMNS})
    for form in _FORMS:
        left = found["time"].is_null()
        if not left.any():
            break
        groups = lines.select(pl.col("text").str.extract_groups(form).alias("g"))["g"].struct.unnest()
        now = [
            pl.when(left).then(groups[name]).otherwise(found[name]).alias(name)
            for name in _COLUMNS
            if name in groups.columns
        ]
        found = found.with_columns(now)
    nil = [pl.when(pl.col(name) != "-").then(pl.col(name)).alias(name) for name in _COLUMNS[:-1]]
    return found.with_columns(*nil, pl.col("message").str.strip_prefix("\ufeff"))


def _with_data(frame: pl.DataFrame, path: Path) -> pl.DataFrame:
    """Structured data as columns `element.parameter`, in the order in which they come."""
    elements = (
        frame.select("data")
        .with_row_index("at")
        .drop_nulls()
        .with_columns(pl.col("data").str.extract_all(_ELEMENT))
        .explode("data")
        .drop_nulls()
        .select("at", pl.col("data").str.extract_groups(_ELEMENT))
        .unnest("data")
        .select("at", element="1", parameter=pl.col("2").str.extract_all(_PARAMETER))
        .explode("parameter")
        .drop_nulls()
        .select("at", "element", pl.col("parameter").str.extract_groups(_PARAMETER))
        .unnest("parameter")
        .select(
            "at",
            key=pl.concat_str("element", pl.lit("."), "1"),
            value=pl.col("2").str.replace_all(r'\\(["\\\]])', "${1}"),
        )
    )
    return _widen(frame.drop("data"), elements, path)


def _with_pairs(frame: pl.DataFrame, path: Path) -> pl.DataFrame:
    """Pairs of the messages as columns, where they are regular; the message itself stays as it is."""
    pairs = (
        frame.select("message")
        .with_row_index("at")
        .drop_nulls()
        .select("at", pair=pl.col("message").str.extract_all(_PAIR))
        .explode("pair")
        .drop_nulls()
        .select("at", pl.col("pair").str.extract_groups(_PAIR))
        .unnest("pair")
        .select("at", key="1", value=pl.col("2").str.strip_chars('"'))
    )
    messages = frame.height - frame["message"].null_count()
    if pairs.is_empty() or not messages:
        return frame
    share = pairs.group_by("key", maintain_order=True).agg(pl.col("at").n_unique() / messages)
    regular = share.filter(pl.col("at") >= REGULAR)["key"]
    if len(regular):
        return _widen(frame, pairs.filter(pl.col("key").is_in(regular.implode())), path)
    single = pairs.filter(pl.col("at").is_unique())
    if single.height >= REGULAR * messages and single.height == pairs["at"].n_unique():
        named = single.unpivot(["key", "value"], index="at", variable_name="what", value_name="text").with_columns(
            key=pl.col("what").replace_strict({"key": "name", "value": "value"}), value="text"
        )
        return _widen(frame, named.select("at", "key", "value"), path)
    return frame


def _widen(frame: pl.DataFrame, pairs: pl.DataFrame, path: Path) -> pl.DataFrame:
    """The frame with a column for each key before its message; the first of a key that comes twice in a line."""
    keys = pairs["key"].unique(maintain_order=True).to_list()
    check_width(len(keys), path)
    names = unique_names([*frame.columns, *keys])[frame.width :]
    for key, name in zip(keys, names, strict=True):
        one = pairs.filter(pl.col("key") == key).unique("at", keep="first", maintain_order=True)
        column = pl.repeat(None, frame.height, dtype=pl.String, eager=True).scatter(one["at"], one["value"])
        frame = frame.with_columns(column.alias(name))
    return frame.select(*(name for name in frame.columns if name != "message"), "message")
