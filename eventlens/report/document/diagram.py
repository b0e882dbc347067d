"""The timing diagram of one occurrence as SVG: the same lanes that `--show` draws in characters, finer.

Black and white by design: on is a solid bar, off a thin line, unknown a dashed frame with a question mark, several
changes within one column upright strokes; a measured value is a stepped area. No colour carries a meaning.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from html import escape
from itertools import groupby
from typing import Any, Final

from eventlens.errors import printable
from eventlens.report.document.language import Words
from eventlens.report.occurrence import Lane, around, lanes_of
from eventlens.report.timing import Grid
from eventlens.result import Review

COLUMNS: Final = 240
LABEL: Final = 190.0
"""Width of the names [user units]; the whole picture is WIDTH wide."""
WIDTH: Final = 720.0
LANE: Final = 17.0
BAR: Final = 10.0
HEAD: Final = 22.0
TICKS: Final = 7
INK: Final = "#1a1a1a"
GREY: Final = "#767676"
ON_SHOWN: Final = 2
"""Intervals of a signal that the words beside the picture name."""
_UNITS: Final = ((1.0, "s"), (60.0, "min"), (3600.0, "h"), (86400.0, "d"))
_STEPS: Final = (1.0, 2.0, 5.0, 10.0)
_SYMBOL_ROOM: Final = 10.0
_FONT: Final = "font-family=\"'DejaVu Sans Mono', monospace\""


@dataclass(frozen=True)
class Drawing:
    """A picture, what it shows in words, and the names of signals that found no room."""

    svg: str
    alt: str
    left_out: list[str]


def draw(review: Review, found: dict[str, Any], words: Words) -> Drawing:
    """The signals around an occurrence (a row of schema.OCCURRENCES)."""
    grid = around(found, COLUMNS)
    lanes, left_out = lanes_of(review, found, grid)
    axis = _Axis.of(grid)
    mark = grid.mark(*sorted((found["start"], found["end"])))
    begin, end = mark.index("="), len(mark.rstrip())
    height = HEAD + LANE * (len(lanes) + 1) + 4
    body = [*axis.lines(height, words), *_extent(axis, begin, end, height)]
    for number, lane in enumerate(lanes):
        body += _lane(axis, lane, HEAD + LANE * number, words)
    body += _mark(axis, begin, end, HEAD + LANE * len(lanes), words("this_occurrence"))
    head = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:g} {height:g}" width="{WIDTH:g}"'
    svg = f'{head} height="{height:g}" {_FONT} font-size="9.5" fill="{INK}">{"".join(body)}</svg>'
    return Drawing(svg, _in_words(axis, lanes, begin, end, words), left_out)


@dataclass(frozen=True)
class _Axis:
    """Where a column lies on the picture, and which second it is, counted from the beginning of the occurrence."""

    grid: Grid

    @classmethod
    def of(cls, grid: Grid) -> _Axis:
        return cls(grid)

    def x(self, column: float) -> float:
        return round(LABEL + (WIDTH - LABEL - 8) * column / self.grid.count, 2)

    def second(self, column: float) -> float:
        return (self.grid.first + column * self.grid.column - self.grid.zero) / 1e6

    @property
    def unit(self) -> tuple[float, str]:
        longest = self.grid.column * self.grid.count / 1e6
        return next((unit for unit in _UNITS if longest / unit[0] <= 120), _UNITS[-1])

    def ticks(self) -> Iterator[tuple[float, float]]:
        """Column and value of each mark: a handful, at round values, one of them zero."""
        size, _ = self.unit
        per_column = self.grid.column / 1e6 / size
        rough = per_column * self.grid.count / TICKS
        power = 10.0 ** math.floor(math.log10(rough))
        step = next(s * power for s in _STEPS if s * power >= rough * 0.999)
        zero = (self.grid.zero - self.grid.first) / self.grid.column
        for number in range(
            math.ceil(-zero * per_column / step), math.floor((self.grid.count - zero) * per_column / step) + 1
        ):
            yield zero + number * step / per_column, number * step

    def lines(self, height: float, words: Words) -> Iterator[str]:
        """Marks of the axis, their values above, a fine line below."""
        _, unit = self.unit
        marks = list(self.ticks())
        for number, (column, value) in enumerate(marks):
            x = self.x(column)
            written = f"{value:.6g}".replace(".", words("decimal")) + (f" {unit}" if number == len(marks) - 1 else "")
            anchor = "end" if x > WIDTH - 40 else "middle"
            yield f'<path d="M{x} {HEAD - 6}V{height - 4:g}" stroke="{GREY}" stroke-width="0.4"/>'
            yield f'<text x="{x}" y="{HEAD - 9}" text-anchor="{anchor}">{escape(written)}</text>'


def _lane(axis: _Axis, lane: Lane, top: float, words: Words) -> Iterator[str]:
    """One signal: its name, then its states or its values."""
    base = top + (LANE + BAR) / 2
    label = lane.name if lane.top is None else words("full_height", name=lane.name, value=words.number(lane.top))
    size = "" if len(label) <= 31 else f' textLength="{LABEL - 8:g}" lengthAdjust="spacingAndGlyphs"'
    yield f'<text x="2" y="{base - 1.5:g}"{size}>{escape(label)}</text>'
    if lane.top is not None:
        yield _area(axis, lane.line, base)
        return
    column = 0
    for state, group in groupby(lane.line):
        length = len(list(group))
        yield _piece(state, axis.x(column), axis.x(column + length), base)
        column += length


def _piece(state: str, left: float, right: float, base: float) -> str:
    """One stretch of one state; base is its lower edge."""
    wide, top = round(right - left, 2), base - BAR
    if state == "#":
        return f'<rect x="{left}" y="{top:g}" width="{wide}" height="{BAR:g}"/>'
    if state == ".":
        return f'<path d="M{left} {base - 0.5:g}H{right}" stroke="{INK}" stroke-width="1"/>'
    frame = (
        f'<rect x="{left}" y="{top:g}" width="{wide}" height="{BAR:g}" fill="#fff" stroke="{INK}" stroke-width="0.6"'
    )
    if state == "?":
        asks = f'<text x="{(left + right) / 2:.2f}" y="{base - 1.5:g}" text-anchor="middle">?</text>'
        return f'{frame} stroke-dasharray="2 2"/>' + (asks if wide >= _SYMBOL_ROOM else "")
    strokes = "".join(f"M{left + 1 + 2 * n:.2f} {top:g}v{BAR:g}" for n in range(max(int(wide // 2), 1)))
    return f'{frame}/><path d="{strokes}" stroke="{INK}" stroke-width="1"/>'


def _area(axis: _Axis, line: str, base: float) -> str:
    """Measured values as a stepped area; what is not known is left open."""
    found, column = [], 0
    for digit, group in groupby(line):
        length = len(list(group))
        left, right = axis.x(column), axis.x(column + length)
        if digit == "?":
            found.append(_piece("?", left, right, base))
        else:
            tall = max(BAR * int(digit) / 9, 0.8)
            box = f'width="{right - left:.2f}" height="{tall:.2f}"'
            found.append(f'<rect x="{left}" y="{base - tall:.2f}" {box} fill="{GREY}"/>')
        column += length
    return "".join(found)


def _extent(axis: _Axis, begin: int, end: int, height: float) -> Iterator[str]:
    """Two dashed lines through all lanes where the occurrence begins and ends."""
    for column in (begin, end):
        x = axis.x(column)
        yield f'<path d="M{x} {HEAD - 4}V{height - 4:g}" stroke="{INK}" stroke-width="0.8" stroke-dasharray="4 2"/>'


def _mark(axis: _Axis, begin: int, end: int, top: float, label: str) -> Iterator[str]:
    middle = top + LANE / 2
    left, right = axis.x(begin), axis.x(end)
    yield f'<text x="2" y="{middle + 3.5:g}" font-weight="bold">{escape(label)}</text>'
    drawn = f"M{left} {middle}H{right}M{left} {middle - 4}v8M{right} {middle - 4}v8"
    yield f'<path d="{drawn}" stroke="{INK}" stroke-width="2.4"/>'


def _in_words(axis: _Axis, lanes: list[Lane], begin: int, end: int, words: Words) -> str:
    """The picture in words: when each signal is on, in seconds from the beginning of the occurrence."""
    size, unit = axis.unit

    def at(column: int) -> str:
        return f"{axis.second(column) / size:.3g}".replace(".", words("decimal"))

    parts = [words("alt_head", begin=at(begin), end=at(end), unit=unit)]
    resting: dict[str, list[str]] = {}
    for lane in lanes:
        name = lane.name.replace(".", " ").replace("_", " ")  # read aloud
        if lane.top is not None:
            parts.append(words("alt_measured", name=name, value=words.number(lane.top)))
        elif on := list(_spells(lane.line)):
            when = words.listed((words("alt_from_to", a=at(a), b=at(b)) for a, b in on), ON_SHOWN)
            parts.append(words("alt_on", name=name, when=when))
        else:
            resting.setdefault("alt_unknown" if set(lane.line) == {"?"} else "alt_off", []).append(name)
    parts += [words(key, names=", ".join(names)) for key, names in resting.items()]
    return printable(" ".join(parts))


def _spells(line: str) -> Iterator[tuple[int, int]]:
    """Columns in which a signal is on, or changes: from, to."""
    column = 0
    for active, group in groupby(line, key=lambda state: state in "#x"):
        length = len(list(group))
        if active:
            yield column, column + length
        column += length
