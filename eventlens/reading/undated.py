"""Records whose stamp shows no instant: known to lie between their neighbours, so their signal is unknown there."""

from __future__ import annotations

import polars as pl

from eventlens import schema


def loosen(
    events: pl.DataFrame, undated: pl.Series, time: pl.Series, lines: pl.Series, segment: pl.Series
) -> pl.DataFrame:
    """The events (schema.EVENTS) with those of undated rows between their neighbours.

    Such a record came at some instant after the row before it and before the row after it. Its signal is unknown from
    the row before on, and has the recorded value when the row after comes; where the record breaks off before that, it
    stays unknown. undated: lines; time, lines, segment: of all rows of the record.
    """
    if undated.is_empty() or events.is_empty():
        return events
    frame = pl.DataFrame({"row": lines, "time": time, "segment": segment})
    frame = frame.with_columns(undated=pl.col("row").is_in(undated.implode()))
    dated = pl.when(~pl.col("undated")).then("time")
    near = frame.with_columns(
        before=dated.forward_fill().over("segment"), after=dated.backward_fill().over("segment")
    ).filter("undated")
    joined = events.with_row_index("_at").join(
        near.select("row", "before", "after"), on="row", how="left", maintain_order="left"
    )
    loose = pl.col("row").is_in(undated.implode())
    moved = joined.with_columns(
        time=pl.when(loose).then(pl.coalesce("after", "time")).otherwise("time"),
        value=pl.when(loose & pl.col("after").is_null()).then(None).otherwise("value"),
        _order=pl.lit(1),
    )
    unknown = joined.filter(loose & pl.col("before").is_not_null() & (pl.col("before") < pl.col("after"))).with_columns(
        time=pl.col("before"), value=pl.lit(None, pl.Float64), _order=pl.lit(0)
    )
    both = pl.concat([moved, unknown]).sort("_at", "_order").sort("segment", "time", maintain_order=True)
    return schema.EVENTS.check(both.select(events.columns))
