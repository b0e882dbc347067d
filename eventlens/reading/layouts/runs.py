"""A row for each finished run: its name, and two of start, end and duration.

    Motor;Start;End                                 Motor;End;Duration [s]
    M1 up;2024-05-01 06:00:00;2024-05-01 06:00:12   M1 up;2024-05-01 06:00:12;12
    M1 up;2024-05-01 06:01:00;2024-05-01 06:01:05   M1 up;2024-05-01 06:01:05;5

A run turns its signal on at its start and off at its end; the row itself proves that both were changes. Runs of one
name that overlap cannot both be right: the signal is on as long as one of them lasts, and this is said. An empty end
is a run that is not finished: on to the end of the record if it is the last of its name, else of unknown length. A run
whose end is not understood or lies before its start is set aside; its signal is unknown from its start on.
Further columns that stand for measured values hold at the end of their run. Without a column of names all rows are of
the name `run`.
"""

from __future__ import annotations

from typing import Final

import polars as pl

from eventlens import schema, signals
from eventlens.reading.extracted import Extracted, Stretches, name_table
from eventlens.reading.mapping import Mapped, map_names, spread
from eventlens.reading.profile import Profile
from eventlens.reading.raw import row_text, set_aside
from eventlens.reading.run_times import BAD_RUN, NEGATIVE, RunTimes, run_times
from eventlens.reading.sampled import channel_value
from eventlens.reading.values import find_decimal

NAME = "runs"
ONLY: Final = "run"
"""Name of all rows of a table that has no column of names."""
LINES_SAID: Final = 3


def extract(stretches: Stretches, profile: Profile) -> Extracted:
    """Events at the start and at the end of each run of a mapped name, in the order of time."""
    columns = stretches.shape.runs
    assert columns is not None
    times = run_times(stretches.frame, columns, profile)
    rows = _rows(stretches, times, starts_here=stretches.shape.time == columns.start)
    distinct = stretches.distinct or (ONLY,)
    entries, further = spread(list(map_names(distinct, profile).values()))
    pairs = [(at, at) for at in range(len(distinct)) if entries[at].source is not None] + further
    mapped = pl.DataFrame(pairs, schema={"code": pl.UInt32, "entry": pl.UInt32}, orient="row")
    runs = _merged(rows.join(mapped, on="code").sort("entry", "segment", "start", "at"))
    counters, names, notes = _counters(stretches, profile, rows)
    events = pl.concat([_events(runs, entries), *counters]).sort("segment", "time", "at", "order", maintain_order=True)
    counts = dict(rows["code"].value_counts(name="n").iter_rows())
    repeats = dict(runs.group_by("entry").agg(pl.col("merged").sum()).iter_rows())
    changes = dict(events.filter(pl.col("order") > 0)["entry"].value_counts(name="n").iter_rows())
    for entry, m in enumerate(entries):
        base = next((name for name, at in further if at == entry), entry)
        names.append(_name(m, counts.get(base, 0), changes.get(entry, 0), repeats.get(entry, 0)))
    notes += [*times.notes, *_said(runs, entries, stretches)]
    rejected = pl.concat(
        [
            _set_aside(stretches, times.bad, BAD_RUN),
            _set_aside(stretches, times.negative & ~times.bad, NEGATIVE),
        ]
    )
    stamped = events.select(
        time=pl.col("time").cast(pl.Datetime("us")).dt.replace_time_zone("UTC"),
        signal="signal",
        value="value",
        row=stretches.lines.gather(events["at"]) if events.height else pl.Series(dtype=schema.ROW),
        segment="segment",
    )
    return Extracted(stamped, name_table(names), rejected, tuple(dict.fromkeys(notes)), _spans(rows, stretches))


def _rows(stretches: Stretches, times: RunTimes, *, starts_here: bool) -> pl.DataFrame:
    """Start and end of the run in each row, in order; starts_here: the time of a row is its start, else its end."""
    own = stretches.time.cast(pl.Int64)
    wrong = times.bad | times.negative
    length = pl.select(pl.when(~wrong).then(times.length))[:, 0]
    rows = pl.DataFrame(
        {
            "at": pl.int_range(len(own), dtype=pl.UInt32, eager=True),
            "code": _codes(stretches),
            "start": own if starts_here else own - length,
            "end": own + length if starts_here else own,
            "open": length.is_null(),
            "wrong": wrong,
            "segment": stretches.segment,
        }
    )
    return rows.filter(pl.col("start").is_not_null())


def _codes(stretches: Stretches) -> pl.Series:
    if stretches.codes is not None:
        return stretches.codes
    return pl.repeat(0, len(stretches.time), dtype=pl.UInt32, eager=True)


def _merged(runs: pl.DataFrame) -> pl.DataFrame:
    """Runs of one entry that overlap as one; `merged` counts the rows beyond the first. Sorted by entry and start.

    A run that begins just when the one before ends is another run; a row that repeats one is not.
    """
    group = ["entry", "segment"]
    ends = pl.when("open").then("start").otherwise("end")
    found = runs.with_columns(until=ends).with_columns(
        before=pl.col("until").cum_max().shift().over(group),
        again=((pl.col("start") == pl.col("start").shift()) & (pl.col("until") == pl.col("until").shift())).over(group),
    )
    begins = pl.col("before").is_null() | ((pl.col("start") >= pl.col("before")) & ~pl.col("again").fill_null(False))
    found = found.with_columns(group=begins.cast(pl.UInt32).cum_sum())
    last = pl.col("until").arg_max()
    merged = found.group_by("group", maintain_order=True).agg(
        pl.col("entry", "segment", "start", "at").first(),
        end=pl.col("until").max(),
        end_at=pl.col("at").get(last),
        open=pl.col("open").get(last),
        wrong=pl.col("wrong").get(last),
        merged=pl.len() - 1,
        merged_at=pl.col("at").get(1, null_on_oob=True),
    )
    return merged.drop("group").with_columns(
        first=pl.col("start").is_first_distinct().over(group) & (pl.int_range(pl.len()).over(group) == 0),
        last=pl.int_range(pl.len()).over(group) == pl.len().over(group) - 1,
        after_open=pl.col("open").shift(fill_value=False).over(group),
    )


_PART: Final = pl.Schema(
    {  # type: ignore[arg-type]
        "time": pl.Int64,
        "at": pl.UInt32,
        "order": pl.Int8,
        "entry": pl.UInt32,
        "signal": schema.SIGNAL,
        "value": pl.Float64,
        "segment": pl.UInt32,
    }
)


def _events(runs: pl.DataFrame, entries: list[Mapped]) -> pl.DataFrame:
    """Off before the first start and after an unknown end (order 0), on at the start (1), off at the end (2)."""
    signal = pl.Series([m.signal for m in entries], dtype=schema.SIGNAL)
    turned = pl.Series([bool(m.source and m.source.invert) for m in entries], dtype=pl.Boolean)
    parts = []
    for order, rows, time, at, value in (
        (0, runs.filter(pl.col("first") | pl.col("after_open")), "start", "at", pl.lit(0.0)),
        (1, runs, "start", "at", pl.lit(1.0)),
        (
            2,
            runs.filter(~(pl.col("open") & pl.col("last") & ~pl.col("wrong"))),
            "end",
            "end_at",
            pl.when(~pl.col("open")).then(0.0),
        ),
    ):
        part = rows.select(
            time=time,
            at=at,
            order=pl.lit(order, pl.Int8),
            entry="entry",
            value=value.cast(pl.Float64),
            segment="segment",
        )
        part = part.with_columns(signal=signal.gather(part["entry"]), turned=turned.gather(part["entry"]))
        value_now = pl.when("turned").then(1 - pl.col("value")).otherwise("value")
        parts.append(part.with_columns(value=value_now).select(_PART.names()))
    return pl.concat(parts).cast(dict(_PART))  # type: ignore[arg-type]


def _counters(
    stretches: Stretches, profile: Profile, rows: pl.DataFrame
) -> tuple[list[pl.DataFrame], list[dict[str, object]], list[str]]:
    """Measured values that stand beside each run: they hold at its end."""
    parts: list[pl.DataFrame] = []
    names: list[dict[str, object]] = []
    notes: list[str] = []
    for name, mapped in map_names(stretches.shape.data, profile).items():
        column = stretches.frame[name]
        own = [m for m in mapped.each() if m.source is not None and m.signal in signals.MEASURES]
        if not own:
            names.append(_name(Mapped(name, None, "unmapped"), len(column) - column.null_count(), 0, 0))
        for m in own:
            assert m.source is not None
            found, said = channel_value(name, column, m.source, profile.log.decimal or find_decimal(column))
            notes += said
            value = found.number.gather(rows["at"])
            part = rows.with_columns(value=value).filter(pl.col("value").is_not_null() & ~pl.col("open"))
            signal = pl.lit(m.signal, schema.SIGNAL)
            part = part.select("at", "value", "segment", time="end", order=pl.lit(-1), entry=pl.lit(0), signal=signal)
            parts.append(part.select(_PART.names()).cast(dict(_PART)))  # type: ignore[arg-type]
            names.append(_name(m, len(column) - column.null_count(), int((value != value.shift()).sum()), 0))
    return parts, names, notes


def _name(mapped: Mapped, rows: int, edges: int, repeated: int) -> dict[str, object]:
    return {
        "name": mapped.name,
        "signal": mapped.signal,
        "rows": rows,
        "edges": edges,
        "repeated": repeated,
        "mapped_by": mapped.by,
    }


def _said(runs: pl.DataFrame, entries: list[Mapped], stretches: Stretches) -> list[str]:
    notes: list[str] = []
    for (entry,), part in runs.filter(pl.col("merged") > 0).partition_by("entry", as_dict=True).items():
        lines = stretches.lines.gather(part["merged_at"].head(LINES_SAID)).to_list()
        notes.append(
            f"{int(part['merged'].sum())} runs of '{entries[int(entry)].name}' overlap or repeat another one "
            f"(line {', '.join(str(line) for line in lines)}{' ...' if part.height > LINES_SAID else ''}): "
            "taken as one run from the first start to the last end."
        )
    still = runs.filter(pl.col("open") & ~pl.col("wrong"))
    if still.height:
        kept = int(still["last"].sum())
        notes.append(
            f"{still.height} runs have no end: {kept} taken as still running at the end of the log, "
            f"{still.height - kept} of unknown length."
        )
    return notes


def _set_aside(stretches: Stretches, mask: pl.Series, reason: str) -> pl.DataFrame:
    if not mask.any():
        return schema.REJECTED.empty()
    return set_aside(stretches.lines.filter(mask), reason, row_text(stretches.frame.filter(mask), stretches.delimiter))


def _spans(rows: pl.DataFrame, stretches: Stretches) -> pl.DataFrame:
    """First start and last end of each stretch, by its number: what the record covers."""
    own = pl.DataFrame({"segment": stretches.segment, "start": stretches.time.cast(pl.Int64)})
    both = pl.concat(
        [own.with_columns(end="start"), rows.select("segment", "start", end=pl.col("end").fill_null(pl.col("start")))]
    )
    return both.group_by("segment").agg(pl.col("start").min(), pl.col("end").max()).sort("segment")
