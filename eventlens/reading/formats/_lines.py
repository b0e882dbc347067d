"""The careful path: every physical line is looked at; good ones go through the fast parser, odd ones one by one."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import polars as pl

from eventlens import schema
from eventlens.reading.formats._bounds import LONGEST_CELL
from eventlens.reading.formats._looks import Looks
from eventlens.reading.formats._notation import FIELD, QUOTE, canonical, mark_of, split
from eventlens.reading.formats._odd import OddLines
from eventlens.reading.formats._stack import NoRoomError, Stack
from eventlens.reading.formats._text import Text, offset_of_line
from eventlens.reading.raw import BAD_QUOTE, OTHER_TABLE, TOO_FEW, TOO_LONG, TOO_MANY, Dialect, set_aside
from eventlens.spill import is_long

AT_ONCE: Final = 1 << 20
"""Lines of a long text that are worked on at once (common practice)."""
_SAMPLE = 200
"""Good rows at either end from which the looks of the columns are taken."""


@dataclass(frozen=True)
class Rows:
    """Data rows with their physical lines, and what was not taken."""

    frame: pl.DataFrame
    lines: pl.Series
    rejected: pl.DataFrame
    blank: int
    joined: tuple[int, ...] = ()
    notes: tuple[str, ...] = ()
    laid_down: bool = False
    """The frame lies in files (see `spill`)."""


def read_carefully(text: Text, dialect: Dialect) -> Rows:
    """All data rows of the text: taken, set aside with line and reason, or blank."""
    physical = physical_lines(text, dialect.first_line)
    mark = mark_of(dialect.written)
    lines = _unpadded(canonical(physical, dialect.written), mark)
    good, blank = _sort_out(lines, mark, len(dialect.columns))
    number = pl.int_range(dialect.first_line, dialect.first_line + len(lines), dtype=pl.UInt32, eager=True)
    odd = OddLines(lines, good, blank, mark, len(dialect.columns), _looks(lines, good, mark))
    odd.read()
    parts = [_parse_good(lines, good, mark, dialect).with_columns(_line=number.filter(good))]
    if odd.taken:
        cells = pl.DataFrame(list(odd.taken.values()), schema=parts[0].drop("_line").schema, orient="row")
        at = number.gather(list(odd.taken))
        parts.append(cells.with_columns(pl.all().replace("", None)).with_columns(_line=at))
    frame = pl.concat(parts)
    if odd.taken:
        frame = frame.sort("_line")
    frame = _with_tails(frame, odd, dialect)
    if mark == FIELD and text.has_quote:
        frame = frame.with_columns(pl.exclude("_line").str.replace_all(FIELD, dialect.delimiter, literal=True))
    rejected = schema.REJECTED.empty()
    for reason in (TOO_FEW, TOO_MANY, BAD_QUOTE, TOO_LONG, OTHER_TABLE):
        where = [at for at, why in odd.refused.items() if why == reason]
        if where:
            rejected = rejected.vstack(set_aside(number.gather(where), reason, physical.gather(where)))
    joined = sorted(odd.joined)
    blanks = int(blank.sum()) - sum(1 for at in joined if blank[at])
    first = dialect.first_line
    return Rows(
        frame.drop("_line"),
        frame["_line"],
        rejected.sort("row"),
        blanks,
        tuple(at + first for at in joined),
        odd.notes(first),
    )


def physical_lines(text: Text, first_line: int) -> pl.Series:
    """The lines from `first_line` on, without their line ends; null where nothing stands."""
    if text.line_count < first_line:
        return pl.Series(dtype=pl.String)
    absent = next((chr(code) for code in (31, 30, 29, 28, 1, 2, 3, 4, 5, 6) if bytes([code]) not in text.data), None)
    if absent is None:
        data = text.data[offset_of_line(text.data, first_line) :].decode("utf-8", "replace")
        lines = pl.Series(data.split("\n"), dtype=pl.String)
        return (lines.head(-1) if text.ends_with_newline else lines).str.strip_chars_end("\r")
    frame = pl.read_csv(
        text.source,
        separator=absent,
        quote_char=None,
        has_header=False,
        skip_lines=first_line - 1,
        schema={"line": pl.String},
    )
    return _piled(
        frame.height,
        lambda part: frame[part].select(pl.col("line").str.strip_chars_end("\r").str.strip_prefix("\ufeff")),
    )["line"]


def _piled(rows: int, make: Callable[[slice], pl.DataFrame]) -> pl.DataFrame:
    """What is made of some rows; of many rows piece by piece, laid down while it grows."""
    if not is_long(rows):
        return make(slice(0, rows))
    try:
        with Stack() as stack:
            for begin in range(0, rows, AT_ONCE):
                stack.add(make(slice(begin, begin + AT_ONCE)))
            return stack.whole()
    except NoRoomError:
        return make(slice(0, rows))


def _unpadded(lines: pl.Series, mark: str) -> pl.Series:
    """The lines without blanks between a delimiter and a quote that opens a cell."""
    padded = mark + " " + QUOTE
    if mark == " " or not lines.str.contains(padded, literal=True).any():
        return lines
    return lines.str.replace_all(f"({re.escape(mark)}) +{QUOTE}", f"${{1}}{QUOTE}")


def _sort_out(lines: pl.Series, mark: str, width: int) -> tuple[pl.Series, pl.Series]:
    """Which lines are good (the right number of cells, quotes closed), and which are blank."""
    between = re.escape(mark)
    cell = f'(?:"[^"]*"|[^"{between}]*)'
    quoted = f"^{cell}(?:{between}{cell}){{{width - 1}}}$"
    frame = lines.alias("line").to_frame().lazy()
    line = pl.col("line")
    plain = ~line.str.contains(QUOTE, literal=True)
    blank = line.is_null() | line.str.contains(f"^(?:\\s*|(?:{between}| )*)$")
    few = line.str.count_matches(mark, literal=True) == width - 1
    short = line.str.len_bytes() <= LONGEST_CELL
    out = frame.select(
        good=(~blank & short & pl.when(plain).then(few).otherwise(line.str.contains(quoted))).fill_null(False),
        blank=blank.fill_null(True),
    ).collect()
    return out["good"], out["blank"]


def _looks(lines: pl.Series, good: pl.Series, mark: str) -> Looks:
    """The looks of the columns, from the first and last good rows."""
    at = good.arg_true()
    sample = lines.gather(at.head(_SAMPLE).append(at.slice(max(_SAMPLE, len(at) - _SAMPLE))))
    return Looks([split(line, mark) for line in sample])


def _parse_good(lines: pl.Series, good: pl.Series, mark: str, dialect: Dialect) -> pl.DataFrame:
    """The cells of the good lines."""
    schema_ = dict.fromkeys(dialect.columns, pl.String)

    def parsed(part: slice) -> pl.DataFrame:
        some = lines[part].filter(good[part])
        if some.is_empty():
            return pl.DataFrame(schema=schema_)
        return pl.read_csv(some.str.join("\n")[0].encode(), separator=mark, has_header=False, schema=schema_)

    return _piled(len(lines), parsed)


def _with_tails(frame: pl.DataFrame, odd: OddLines, dialect: Dialect) -> pl.DataFrame:
    """The rows with their continuation lines put behind their last cell."""
    if not odd.tails:
        return frame
    last = dialect.columns[-1]
    rows = pl.Series("_line", [at + dialect.first_line for at in odd.tails], dtype=pl.UInt32)
    tails = pl.DataFrame({"_line": rows, "_tail": ["\n".join(texts) for texts in odd.tails.values()]})
    whole = pl.concat_str([last, "_tail"], separator="\n", ignore_nulls=True)
    text = pl.when(pl.col("_tail").is_null()).then(pl.col(last)).otherwise(whole)
    return frame.join(tails, on="_line", how="left", maintain_order="left").with_columns(text.alias(last)).drop("_tail")
