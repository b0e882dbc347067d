"""Lost function: the output of a direction, or of fast, fails in every try, or in a large share of them.

Definition: a try is a command held long enough (`no_start_s`; fast: `fast_reach_s` while running) that nothing refuses
on purpose; it fails if its output stays off. Lost is a function with `lost_tries` failing tries in a row, up to the
end of the log or until it works again, or one that fails in more than `lost_share` of at least `lost_least_tries`
tries. Each failing try is one occurrence and spans the command; they are the same tries as those of `no_start` and
`fast_not_reached`, told once more because together they say that the function is gone. Measured is how many failed in
that row. A row ends at a hole of the log. Tries whose output is not known, and those within chatter or a common
drop-out, are no tries.

Certain if the try's failing is certain and there are enough of such in its row, or among all tries.
Source: common practice. Cost: little; the tries are matched once for `no_start`, `fast_not_reached` and this.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import polars as pl

from eventlens import schema, signals
from eventlens.limits import limit
from eventlens.patterns._base import FOUND, Context, Pattern, extent, graded, nothing
from eventlens.patterns._tries import contactor_close_s, direction_tries, fast_reach_s, fast_tries, no_start_s


@dataclass(frozen=True)
class Parameters:
    no_start_s: float = no_start_s()
    contactor_close_s: float = contactor_close_s()
    fast_reach_s: float = fast_reach_s()
    lost_tries: float = limit(
        3.0,
        "tries in a row",
        "common practice: once or twice is a bad contact, three times in a row is lost",
        "raising it waits for longer rows; lowering it calls a single refusal a lost function",
    )
    lost_share: float = limit(
        0.2,
        "share of the tries",
        "common practice, no source: one in five",
        "raising it passes functions that fail often; lowering it calls a bad contact a lost function",
    )
    lost_least_tries: float = limit(
        20.0,
        "tries",
        "common practice, no source",
        "raising it judges the share on longer logs only; lowering it on a few tries",
    )


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """Failing tries of the functions of one motion that are lost."""
    parts = [_lost(tried, name, p) for name, tried in _tries(context, motion, p).items()]
    return pl.concat(parts, how="vertical_relaxed").sort("start") if parts else nothing()


def _tries(context: Context, motion: str, p: Parameters) -> dict[str, pl.DataFrame]:
    """The tries of every output of a motion whose command is logged too."""
    names = [f"{motion}.{way}" for way in (*signals.MOTIONS[motion], "fast")]
    both = [name for name in names if {f"{name}.command", f"{name}.contactor"} <= context.carried]
    return {
        f"{name}.contactor": fast_tries(context, motion, p.fast_reach_s)
        if name.endswith(".fast")
        else direction_tries(context, motion, name.split(".")[1], p.no_start_s, p.contactor_close_s)
        for name in both
    }


def _lost(tried: pl.DataFrame, output: str, p: Parameters) -> pl.DataFrame:
    """The failing tries of an output that is lost."""
    if not tried["failed"].any():
        return nothing("signal")
    new = (pl.col("failed") != pl.col("failed").shift(1)) | (pl.col("segment") != pl.col("segment").shift(1))
    sure, many = pl.col("failed") & pl.col("sure"), tried.height >= p.lost_least_tries
    most = p.lost_share * tried.height
    return (
        tried.with_columns(_row=new.fill_null(value=True).cum_sum())
        .with_columns(
            measured=pl.len().over("_row").cast(pl.Float64),
            _by_row=pl.len().over("_row") >= p.lost_tries,
            _sure_row=sure.sum().over("_row") >= p.lost_tries,
            _by_share=pl.lit(many) & (pl.col("failed").sum() > most),
            _sure_share=pl.lit(many) & (sure.sum() > most),
        )
        .filter(pl.col("failed") & (pl.col("_by_row") | pl.col("_by_share")))
        .with_columns(
            graded(pl.col("sure") & (pl.col("_sure_row") | pl.col("_sure_share"))),
            signal=pl.lit(output, schema.SIGNAL),
            limit=pl.when("_by_row").then(pl.lit(p.lost_tries)),
            rows=pl.concat_list("start_row", "end_row"),
        )
        .select(*FOUND, "signal")
    )


def describe(context: Context, motion: str, found: pl.DataFrame, p: Parameters) -> str:
    output = str(found["signal"][0])
    tried = _tries(context, motion, p)[output]
    pattern = "fast_not_reached" if ".fast." in output else "no_start"
    last = tried.row(-1, named=True)
    return (
        f"{output} failed in {tried['failed'].sum()} of {tried.height} tries, up to {extent(found)[1]:.0f} in a row, "
        f"{'and did not come back' if last['failed'] else 'and worked again'}; the same tries as {pattern}"
    )


EXAMPLE = """
0.1 s
hoist.raise.command    .(..#########.)*3.......
hoist.raise.contactor  .(............)*3.......
hoist.raise.limit      .(............)*3.......
hoist.motor.hot        .(............)*3.......
stop.emergency         .(............)*3.......
overload.trip          .(............)*3.......
"""

PATTERN = Pattern(
    name="lost_function",
    title="lost function",
    parameters=Parameters,
    find=find,
    motions=tuple(signals.MOTIONS),
    needs=(
        ("{motion}.*.command", "{motion}.*.contactor"),
        ("{motion}.fast.command", "{motion}.fast.contactor", "{motion}.*.command"),
    ),
    severity="repair",
    why_severity="the function is gone, not only unwilling",
    usually="a relay, a coil, a wire or an interlock contact that no longer makes; fast: the timer or the second step",
    unit="failing tries in a row",
    look_back_s=86400.0,  # a row, and the share, may take a day to come together
    settles_s=math.inf,
    exposure="try",
    finest=("no_start_s",),
    describe=describe,
    absence=True,
    example=EXAMPLE,
)
