"""Texts whose lines are records with a message, and `key=value` pairs in the messages: as columns, or as rows.

- One pair in each message, as where a logger writes what has changed: key and value become the columns name and value.
- Two or more keys that most messages hold: a column for each key; words beside them would look like names and are left
  out, which is said where they change.
- Some of many keys in each message: each pair a row with name and value. Prose, as in a system log, where pairs may be
  accidents, keeps its pairs in the message instead, but for a key that most messages hold.

A line that is no record is set aside; a line that begins with a blank goes on with the message of the line before.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Final

import polars as pl

from eventlens.reading.formats._bounds import LONGEST_LINE, check_width
from eventlens.reading.formats._table import unique_names, whole_table
from eventlens.reading.formats._text import Text, last_line_note, open_text
from eventlens.reading.profile import Profile
from eventlens.reading.raw import RawTable, set_aside

TOO_LONG: Final = "record is too long"
REGULAR: Final = 0.8
"""Share of messages with a pair, or with the same key, from which on that is the rule (common practice, no source)."""
NAMED: Final = ("name", "value")
KEY: Final = r"[A-Za-z_][\w.:/-]*(?:\[\d+\])?"
PAIR: Final = rf'(?:^|[\s,;])({KEY})(?:=| = )("[^"]*"|[^\s,;]*)'


def table_of_records(
    path: Path,
    name: str,
    profile: Profile,
    no_record: str,
    parts: Callable[[pl.DataFrame], pl.DataFrame],
    like: RawTable | None,
    *,
    prose: bool,
) -> RawTable:
    """The table of a text of records; lines that are none are set aside with `no_record`.

    parts: lines (row, text) -> a row for each with at least time and message, both null where a line is no record.
    prose: messages are sentences as a rule, in which a pair may be an accident. like: an earlier file of the same log;
    where it has pairs as rows, so has this one.
    """
    text = open_text(path, profile.log.encoding)
    lines = _lines(text)
    long = lines["text"].str.len_bytes() > LONGEST_LINE
    too_long, lines = lines.filter(long), lines.filter(~long)
    blank = lines["text"].str.strip_chars(" \t\0") == ""
    lines, blanks = lines.filter(~blank), int(blank.sum())
    found = parts(lines)
    known = found["time"].is_not_null() | found["message"].is_not_null()
    odd = lines.filter(~known)
    if not found["time"].count():  # a pair tells the time
        found = found.drop("time")
    rejected = [set_aside(odd["row"], no_record, odd["text"]), set_aside(too_long["row"], TOO_LONG, too_long["text"])]
    as_rows = like is not None and set(NAMED) <= set(like.frame.columns)
    found = found.filter(known).with_columns(lines["row"].filter(known))
    whole = found.height - (not text.ends_with_newline and found.height > 1)  # the last one may be cut off
    frame = _with_pairs(found, whole, path, prose=prose, rows=as_rows)
    left_out = () if "message" in frame.columns else _words_left_out(found["message"])
    return whole_table(
        path,
        name,
        frame.drop("row"),
        lines=frame["row"],
        rejected=pl.concat(rejected),
        blank=blanks,
        first_line=1,
        last_line=text.line_count,
        notes=(*text.notes, *last_line_note(text), *left_out),
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


def _with_pairs(frame: pl.DataFrame, whole: int, path: Path, *, prose: bool, rows: bool) -> pl.DataFrame:
    """The pairs of the messages as columns, or each as a row of its own; the message itself stays as it is.

    whole: the first messages, by which that is decided.
    """
    pairs = pairs_of(frame["message"])
    if pairs.is_empty():
        return frame
    shown = pairs.filter(pl.col("at") < whole)
    paired = shown["at"].n_unique()
    messages = frame["message"].head(whole).count() if prose else paired
    if paired >= REGULAR * messages and (rows or paired == shown.height):
        return _as_rows(frame, pairs)
    held = shown.group_by("key", maintain_order=True).agg(pl.len(), pl.col("at").n_unique().alias("messages"))
    regular = held.filter(pl.col("messages") >= REGULAR * messages)
    if len(regular) >= (1 if prose else 2):
        kept = regular if prose else held.filter((pl.col("len") > 1) | pl.col("key").is_in(regular["key"].implode()))
        wide = widened(frame, pairs.filter(pl.col("key").is_in(kept["key"].implode())), path)
        return wide if prose else wide.drop("message")  # words beside the pairs would look like the names
    return frame if prose else _as_rows(frame, pairs)


def _words_left_out(messages: pl.Series) -> tuple[str, ...]:
    """What is to be said of the words of messages whose pairs alone are taken; nothing where they never change."""
    words = messages.str.replace_all(PAIR, "").str.strip_chars(" ,;")
    if words.n_unique() < 2:
        return ()
    return (f"Words beside the pairs are no part of the log, as '{words.filter(words != '')[0][:40]}'.",)


def _as_rows(frame: pl.DataFrame, pairs: pl.DataFrame) -> pl.DataFrame:
    """A row for each pair, with name and value; a line without one stays a row, with its message for a name."""
    named = pairs.select("at", *(pl.col(old).alias(new) for old, new in zip(("key", "value"), NAMED, strict=True)))
    joined = frame.with_row_index("at").join(named, on="at", how="left", maintain_order="left_right")
    return joined.with_columns(pl.coalesce(NAMED[0], "message").alias(NAMED[0])).select(
        pl.exclude("at", "message"), "message"
    )


def pairs_of(messages: pl.Series) -> pl.DataFrame:
    """The pairs in order: (at, key, value), `at` the place of the message."""
    return (
        pl.DataFrame({"message": messages})
        .with_row_index("at")
        .drop_nulls()
        .select("at", pair=pl.col("message").str.extract_all(PAIR))
        .explode("pair")
        .drop_nulls()
        .select("at", pl.col("pair").str.extract_groups(PAIR))
        .unnest("pair")
        .select("at", key="1", value=pl.col("2").str.strip_chars('"'))
    )


def widened(frame: pl.DataFrame, pairs: pl.DataFrame, path: Path) -> pl.DataFrame:
    """The frame with a column for each key before its message; the first of a key that comes twice in a line.

    pairs: (at, key, value) with the row, from 0, of each.
    """
    keys = pairs["key"].unique(maintain_order=True).to_list()
    check_width(len(keys), path)
    names = unique_names([*frame.columns, *keys])[frame.width :]
    of_key = pairs.unique(["at", "key"], keep="first", maintain_order=True).partition_by("key", as_dict=True)
    empty = pl.repeat(None, frame.height, dtype=pl.String, eager=True)
    columns = [
        empty.clone().scatter(of_key[key,]["at"], of_key[key,]["value"]).alias(name)
        for key, name in zip(keys, names, strict=True)
    ]
    return frame.select(pl.exclude("message"), *columns, "message")
