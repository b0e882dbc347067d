"""Rows with a name and a value -> events: shared by the layouts that have a row for each record of a name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import polars as pl

from eventlens import schema, signals
from eventlens.reading.extracted import Stretches
from eventlens.reading.mapping import Mapped
from eventlens.reading.profile import Profile
from eventlens.reading.values import doubts, find_decimal, numbers, of_source, states
from eventlens.threads import both, in_threads

REPEATS_SAID = 5


@dataclass(frozen=True)
class Rows:
    """Some rows of a record, each with the signal that it tells: `code` is a position in `mapped`."""

    at: pl.Series | None
    """Positions in the record, rising; None: all rows (of the mask), in order."""
    code: pl.Series
    value: pl.Series | None
    """As it stands (null: empty); None: the names alone tell."""
    mapped: Sequence[Mapped]
    mask: pl.Series | None = None
    """In place of `at` where each row comes once: which rows they are."""

    @staticmethod
    def of(
        codes: pl.Series, value: pl.Series | None, mapped: Sequence[Mapped], further: Sequence[tuple[int, int]]
    ) -> Rows:
        """The rows of mapped names; `further` as mapping.spread gives it: a row that tells several signals comes
        several times."""
        if not further and all(m.source is not None for m in mapped):
            return Rows(None, codes, value, mapped)
        chosen = pl.Series([m.source is not None for m in mapped], dtype=pl.Boolean).gather(codes)
        if not further:
            return Rows(None, codes.filter(chosen), None if value is None else value.filter(chosen), mapped, chosen)
        at = chosen.arg_true()
        code = codes.gather(at)
        for name, entry in further:
            more = (codes == name).arg_true()
            at = at.append(more)
            code = code.append(pl.repeat(entry, len(more), dtype=code.dtype, eager=True))
        order = at.to_frame("at").select(pl.arg_sort_by("at", maintain_order=True))["at"]
        at, code = at.gather(order), code.gather(order)
        return Rows(at, code, None if value is None else value.gather(at), mapped)

    def pick(self, column: pl.Series) -> pl.Series:
        """A column of the record for these rows."""
        if self.mask is not None:
            return column.filter(self.mask)
        return column if self.at is None else column.gather(self.at)


@dataclass(frozen=True)
class _Lookup:
    """What is known of each entry, in the order of the codes."""

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


def read_rows(rows: Rows, stretches: Stretches, profile: Profile) -> tuple[pl.DataFrame, pl.Series | None, list[str]]:
    """The events of the rows (schema.EVENTS, a row for each), which values were not understood, and notes."""
    table = _Lookup.of(rows.mapped)
    number, bad, notes = _values(rows, table, profile)
    events = pl.DataFrame(
        {
            "time": rows.pick(stretches.time),
            "signal": table.signal.gather(rows.code),
            "value": number,
            "row": rows.pick(stretches.lines),
            "segment": rows.pick(stretches.segment),
        }
    )
    return events, bad, notes


def _values(rows: Rows, table: _Lookup, profile: Profile) -> tuple[pl.Series, pl.Series | None, list[str]]:
    """Numbers of the rows (null: unknown), which are not understood, and notes."""
    code, value = rows.code, rows.value
    bad: pl.Series | None = None
    notes: list[str] = []
    if value is None:
        number = pl.repeat(None, len(code), dtype=pl.Float64, eager=True)
    else:
        number, bad, notes = _read_values(rows, table, value, profile)
    if table.sets.null_count() < len(table.sets):
        stated = table.sets.gather(code)
        number = pl.select(pl.coalesce(stated, number))[:, 0]
        bad = None if bad is None else bad & stated.is_null()
    return number, bad, notes


def _read_values(
    rows: Rows, table: _Lookup, value: pl.Series, profile: Profile
) -> tuple[pl.Series, pl.Series, list[str]]:
    """All plain values at once; those of names with an own way of reading name by name."""
    code = rows.code
    notes: list[str] = []
    wanted = [(at, m) for at, m in enumerate(rows.mapped) if m.source is not None]
    decimal = profile.log.decimal
    if all(m.is_state for _, m in wanted):
        found = states(value, decimal)
        number, bad, words = found.number, found.bad, found.words
    else:
        is_state = table.is_state.gather(code)
        measured = value.filter(~is_state)
        decimal = decimal or find_decimal(measured)
        notes += doubts(measured, decimal)
        state, amount = states(value.filter(is_state), decimal), numbers(measured, decimal)
        factor = table.factor.gather(code.filter(~is_state))
        at, other = is_state.arg_true(), (~is_state).arg_true()
        empty = pl.repeat(None, len(value), dtype=pl.Float64, eager=True)
        number = empty.scatter(at, state.number).scatter(other, amount.number * factor)
        bad = pl.repeat(False, len(value), eager=True).scatter(at, state.bad).scatter(other, amount.bad)
        words = state.words or bool(amount.bad.any())
    if table.invert.any():
        turned = table.invert.gather(code)
        number = pl.select(pl.when(turned).then(1 - number).otherwise(number))[:, 0]
    for index, m in wanted:
        assert m.source is not None
        if not _is_special(m, words):
            continue
        at = (code == index).arg_true()
        own = of_source(value.gather(at), m.source, decimal)
        number, bad = number.scatter(at, own.number), bad.scatter(at, own.bad)
    return number, bad, notes


def _is_special(mapped: Mapped, words: bool) -> bool:
    """Whether a name's values cannot be read together with all others: own words or limits, units, brakes."""
    source = mapped.source
    assert source is not None
    if source.on or source.off or source.above is not None or source.below is not None:
        return True
    return words and (not mapped.is_state or source.signal.endswith(".brake.released"))


def name_rows(
    rows: Rows,
    events: pl.DataFrame,
    codes: pl.Series,
    value: pl.Series | None,
    segment: pl.Series,
    further: Sequence[tuple[int, int]] = (),
) -> list[dict[str, object]]:
    """Rows for schema.NAMES: records, edges and repeats of each name. For a mapped name they are those of its signal.

    `codes`, `value` and `segment` are those of the whole record.
    """
    mapped = rows.mapped
    one_stretch = segment.is_empty() or segment[-1] == segment[0]
    counted, found = both(
        lambda: codes.value_counts(name="rows"),
        lambda: _edges_of_signals(rows, events, one_stretch=one_stretch),
        events.height,
    )
    counts = dict(counted.iter_rows())
    counts |= {entry: counts.get(name, 0) for name, entry in further}
    unmapped = pl.Series([m.source is None for m in mapped], dtype=pl.Boolean)
    if value is not None and unmapped.any():
        other = pl.DataFrame({"code": codes, "value": value, "segment": segment}).filter(unmapped.gather(codes))
        found |= _edges(other.lazy(), ["code"] if one_stretch else ["code", "segment"])
    several = {mapped[name].name for name, _ in further}
    out: list[dict[str, object]] = []
    for at, name in enumerate(mapped):
        edges, same = found.get(at, (0, 0))
        is_measure = name.signal in signals.MEASURES
        out.append(
            {
                "name": name.name,
                "signal": name.signal,
                "rows": counts.get(at, 0),
                "edges": edges,
                "repeated": 0 if is_measure or name.name in several else same,
                "mapped_by": name.by,
            }
        )
    return out


def _edges_of_signals(rows: Rows, events: pl.DataFrame, *, one_stretch: bool) -> dict[int, tuple[int, int]]:
    """Changes and repeats of each code, against the record before of its signal and stretch, whichever name told it.

    There are few signals: to pick the rows of each takes a tenth of the time of windows over all of them.
    """
    names_of: dict[str, list[int]] = {}
    for at, name in enumerate(rows.mapped):
        if name.source is not None:
            names_of.setdefault(name.source.signal, []).append(at)

    def count(signal: str) -> dict[int, tuple[int, int]]:
        own = events["signal"].to_physical() == signals.ALL.index(signal)
        value = events["value"].filter(own)
        edge, same = value != value.shift(), value == value.shift()
        if not one_stretch:
            here = events["segment"].filter(own)
            here = here == here.shift()
            edge, same = edge & here, same & here
        if len(names_of[signal]) == 1:
            return {names_of[signal][0]: (int(edge.sum()), int(same.sum()))}
        code = rows.code.filter(own)
        return {at: (int((edge & (code == at)).sum()), int((same & (code == at)).sum())) for at in names_of[signal]}

    found = in_threads(count, names_of, events.height)
    return {at: counts for part in found for at, counts in part.items()}


def _edges(frame: pl.LazyFrame, group: Sequence[str]) -> dict[int, tuple[int, int]]:
    """Changes and repeats of each code, against the record before in the same group."""
    before = pl.col("value").shift().over(*group)
    flagged = frame.select("code", edge=pl.col("value") != before, same=pl.col("value") == before)
    counted = flagged.group_by("code").agg(pl.col("edge").sum(), pl.col("same").sum()).collect()
    return {row[0]: (row[1], row[2]) for row in counted.iter_rows()}


def repeats_note(names: Sequence[dict[str, object]]) -> list[str]:
    """One sentence on mapped names whose records repeat the state before them."""
    found = sorted(
        ((int(str(name["repeated"])), str(name["name"])) for name in names if name["signal"] and name["repeated"]),
        key=lambda pair: (-pair[0], pair[1]),
    )
    if not found:
        return []
    said = ", ".join(f"'{name}' {count} x" for count, name in found[:REPEATS_SAID])
    more = f" and {len(found) - REPEATS_SAID} other names" if len(found) > REPEATS_SAID else ""
    return [f"Records repeat the state before them ({said}{more}): no change; what lay between may be missing."]
