"""A row for each change: stamp, name, value. Also records whose name alone says on or off (see `sets`).

Time;Tag;State
2026-03-02 06:00:00.120;K11;1
2026-03-02 06:00:00.480;K11;0
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import polars as pl

from eventlens import schema, signals
from eventlens.reading.extracted import Extracted, Stretches, name_table
from eventlens.reading.mapping import Mapped, map_names
from eventlens.reading.profile import Profile
from eventlens.reading.raw import BAD_VALUE, row_text, set_aside
from eventlens.reading.values import find_decimal, maybe_thousands, numbers, states, states_by_text

NAME = "changes"


def extract(stretches: Stretches, profile: Profile) -> Extracted:
    """An event for each record of a mapped name.

    A record whose value is not understood is set aside, and its signal is unknown from there on (value null).
    """
    codes = stretches.codes
    assert codes is not None
    mapped = list(map_names(stretches.distinct, profile).values())
    table = _Lookup.of(mapped)
    value = stretches.frame[stretches.shape.value] if stretches.shape.value else None
    chosen = table.signal.is_not_null().gather(codes)
    everything = bool(chosen.all())
    code = codes if everything else codes.filter(chosen)
    known = _Rows(
        code,
        None if value is None else value if everything else value.filter(chosen),
        mapped,
        table,
    )
    number, bad, notes = _values(known, profile)

    def pick(column: pl.Series) -> pl.Series:
        return column if everything else column.filter(chosen)

    lines = pick(stretches.lines)
    events = pl.DataFrame(
        {
            "time": pick(stretches.time),
            "signal": table.signal.gather(code),
            "value": number,
            "row": lines,
            "segment": pick(stretches.segment),
        }
    )
    rejected = schema.REJECTED.empty()
    if bad is not None and bad.any():
        wrong = stretches.frame if everything else stretches.frame.filter(chosen)
        rejected = set_aside(lines.filter(bad), BAD_VALUE, row_text(wrong.filter(bad), stretches.delimiter))
    names = _names(stretches, codes, value, events, code, mapped)
    return Extracted(events, names, rejected, tuple(notes))


@dataclass(frozen=True)
class _Lookup:
    """What is known of each distinct name, in the order of the codes."""

    signal: pl.Series
    is_state: pl.Series
    invert: pl.Series
    factor: pl.Series
    sets: pl.Series

    @staticmethod
    def of(mapped: Sequence[Mapped]) -> _Lookup:
        sources = [m.source for m in mapped]
        return _Lookup(
            pl.Series([s.signal if s else None for s in sources], dtype=schema.SIGNAL),
            pl.Series([m.is_state for m in mapped], dtype=pl.Boolean),
            pl.Series([bool(s and s.invert) for s in sources], dtype=pl.Boolean),
            pl.Series([s.factor if s else 1.0 for s in sources], dtype=pl.Float64),
            pl.Series([None if s is None or s.sets is None else float(s.sets) for s in sources], dtype=pl.Float64),
        )


@dataclass(frozen=True)
class _Rows:
    """The rows of mapped names."""

    code: pl.Series
    value: pl.Series | None
    mapped: Sequence[Mapped]
    table: _Lookup


def _values(rows: _Rows, profile: Profile) -> tuple[pl.Series, pl.Series | None, list[str]]:
    """Numbers of the mapped rows (null: unknown), which are not understood, and notes."""
    table, code, value = rows.table, rows.code, rows.value
    if value is None:
        number = pl.Series([None] * len(code), dtype=pl.Float64)
        bad = None
        notes: list[str] = []
    else:
        number, bad, notes = _read_values(rows, value, profile)
    if table.invert.any():
        turned = table.invert.gather(code)
        number = pl.select(pl.when(turned).then(1 - number).otherwise(number))[:, 0]
    if table.sets.null_count() < len(table.sets):
        stated = table.sets.gather(code)
        number = pl.select(pl.coalesce(stated, number))[:, 0]
        bad = None if bad is None else bad & stated.is_null()
    return number, bad, notes


def _read_values(rows: _Rows, value: pl.Series, profile: Profile) -> tuple[pl.Series, pl.Series, list[str]]:
    table, code = rows.table, rows.code
    notes: list[str] = []
    wanted = [at for at, m in enumerate(rows.mapped) if m.source is not None]
    measures = [at for at in wanted if not rows.mapped[at].is_state]
    if not measures:
        found = states(value, profile.log.decimal)
        number, bad = found.number, found.bad
    else:
        is_state = table.is_state.gather(code)
        measured = value.filter(~is_state)
        decimal = profile.log.decimal or find_decimal(measured)
        state, amount = states(value.filter(is_state), decimal), numbers(measured, decimal)
        if decimal != "," and maybe_thousands(measured):
            notes.append(f"Numbers like {measured.drop_nulls()[0].strip()} are read with a decimal point.")
        factor = table.factor.gather(code.filter(~is_state))
        at, other = is_state.arg_true(), (~is_state).arg_true()
        empty = pl.Series([None], dtype=pl.Float64).new_from_index(0, len(value))
        number = empty.scatter(at, state.number).scatter(other, amount.number * factor)
        bad = pl.repeat(False, len(value), eager=True).scatter(at, state.bad).scatter(other, amount.bad)
    for index in wanted:
        source = rows.mapped[index].source
        if source is not None and source.on is not None:
            at = (code == index).arg_true()
            number = number.scatter(at, states_by_text(value.gather(at), source.on).number)
            bad = bad.scatter(at, False)
    return number, bad, notes


def _names(
    stretches: Stretches,
    codes: pl.Series,
    value: pl.Series | None,
    events: pl.DataFrame,
    code: pl.Series,
    mapped: Sequence[Mapped],
) -> pl.DataFrame:
    """schema.NAMES: rows, edges and repeats of each name. For a mapped name they are those of its signal."""
    counts = codes.value_counts(name="rows").rename({codes.name: "code"})
    one_stretch = stretches.segment.is_empty() or stretches.segment[-1] == stretches.segment[0]
    stretch = [] if one_stretch else ["segment"]
    known = events.lazy().select("signal", "value", "segment").with_columns(code=code)
    before = pl.col("value").shift().over("signal", *stretch)
    flagged = known.select("code", edge=pl.col("value") != before, same=pl.col("value") == before)
    per_code = flagged.group_by("code").agg(pl.col("edge").sum(), pl.col("same").sum()).collect()
    unmapped = pl.Series([m.source is None for m in mapped], dtype=pl.Boolean).gather(codes)
    if value is not None and unmapped.any():
        other = pl.DataFrame({"code": codes, "value": value, "segment": stretches.segment}).filter(unmapped).lazy()
        before = pl.col("value").shift().over("code", *stretch)
        per_name = other.select("code", edge=pl.col("value") != before, same=pl.col("value") == before)
        per_code = pl.concat(
            [per_code, per_name.group_by("code").agg(pl.col("edge").sum(), pl.col("same").sum()).collect()]
        )
    rows = dict(counts.select("code", "rows").iter_rows())
    found = {row[0]: row[1:] for row in per_code.iter_rows()}
    out: list[dict[str, object]] = []
    for at, name in enumerate(mapped):
        edges, same = found.get(at, (0, 0))
        is_measure = name.signal in signals.MEASURES
        out.append(
            {
                "name": name.name,
                "signal": name.signal,
                "rows": rows.get(at, 0),
                "edges": edges,
                "repeated": 0 if is_measure else same,
                "mapped_by": name.by,
            }
        )
    return name_table(out)
