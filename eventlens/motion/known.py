"""How much the log says about each signal: what is repeated, what is missing, and for how long its state is unknown."""

from __future__ import annotations

import polars as pl

from eventlens import schema, signals
from eventlens.reading.log import Log
from eventlens.threads import in_threads


def signal_quality(log: Log, states: pl.DataFrame) -> pl.DataFrame:
    """One row for each signal that the log carries, by name. states: schema.STATES.

    signal, records, repeated (on after on and off after off), missing_offs (on after on: an off in between was not
    recorded, or the record only repeats), unknown_records (with a value that was not understood or of bad quality) and
    unknown_share: the share of the observed time in which the state is not known (0 to 1; null for measured signals).
    """
    observed = log.observed_s
    counted = _missing(log)
    signal = pl.col("signal")
    state = signal.cast(pl.String).is_in(list(signals.STATES))
    names = (
        log.names.lazy()
        .filter(signal.is_not_null())
        .group_by("signal")
        .agg(records=pl.col("rows").sum(), repeated=pl.col("repeated").sum())
    )
    length = (pl.col("end") - pl.col("start")).dt.total_microseconds().sum() / 1e6
    known = states.lazy().group_by("signal").agg(known_s=length)
    share = (1 - pl.col("known_s").fill_null(0.0) / observed).clip(0.0, 1.0) if observed else pl.lit(None, pl.Float64)
    return (
        names.join(counted.lazy(), on="signal", how="left")
        .join(known, on="signal", how="left")
        .with_columns(pl.col("missing_offs", "unknown_records").fill_null(0))
        .with_columns(unknown_share=pl.when(state).then(share))
        .select(
            pl.col("signal").cast(schema.SIGNAL),
            *(pl.col(name).cast(pl.Int64) for name in ("records", "repeated", "missing_offs", "unknown_records")),
            pl.col("unknown_share").cast(pl.Float64),
        )
        .sort(signal.cast(pl.String))
        .collect()
    )


def _missing(log: Log) -> pl.DataFrame:
    """signal, missing_offs and unknown_records of each signal that is on or off."""
    codes, values, segments = log.events["signal"].to_physical(), log.events["value"], log.events["segment"]
    carried = log.signals()
    unknown = values.null_count() > 0

    def count(name: str) -> dict[str, object]:
        at = codes == signals.ALL.index(name)
        value = values.filter(at)
        on = (value != 0).fill_null(value=False)
        again = on & on.shift(fill_value=False)
        if again.any() and segments[0] != segments[-1]:
            again &= segments.filter(at).diff().fill_null(0) == 0
        missing = int(again.sum()) if name in signals.STATES else 0
        return {"signal": name, "missing_offs": missing, "unknown_records": value.null_count() if unknown else 0}

    rows = in_threads(count, [name for name in signals.ALL if name in carried], log.events.height)
    return pl.DataFrame(rows, schema={"signal": schema.SIGNAL, "missing_offs": pl.Int64, "unknown_records": pl.Int64})
