"""Unusual period: hours of work that do not look like this machine's own.

Definition: an hour of the clock with at least twenty starts of the motion, and half of the usual number, of which the
quantities (starts, share of running time, jogs, reversals, mean run, share of fast, median release time; those that are
logged) lie together further from the machine's usual hours than chance explains, at `unusual_false_alarm` for the whole
log. The usual is the robust centre and spread of all its hours (minimum covariance determinant: Rousseeuw, 1984);
distances are scaled by their own median, held against chi square, and one quantity at least must lie six robust
deviations off by itself: counts and running time above the usual only, since a lull is none. Neighbouring hours are one
period. It says unusual, never faulty: another load, another crew or a visitor will do.

Always only possible: it is a comparison, not a proof. Needs 40 hours of work.
Cost: one group-by over the runs and a fit over the hours.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import timedelta
from typing import Final

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlens import schema, signals
from eventlens.limits import limit
from eventlens.motion.kinds import JogParameters, is_jog
from eventlens.patterns._base import FOUND, Context, Pattern, nothing

LEAST_HOURS: Final = 40
LEAST_STARTS: Final = 20
"""An hour with fewer starts has shares and medians that mean little."""
WHOLE: Final = 0.5
"""Hours with less than this share of the usual starts are cut by breaks and shift ends, and are left out."""
OFF: Final = 6.0
"""Robust deviations that one quantity must lie off by itself (common practice, no source)."""
MORE_ONLY: Final = ("starts", "running", "jogs", "reversals")
"""Quantities of which less than usual is no work, or better work."""
BURSTS: Final = {"starts": 0.5, "jogs": 1.0, "reversals": 1.0}
"""Least spread of the square root of a count: 0.5 of independent events, twice that where they come in bursts of a few,
as inching does."""
QUANTITIES: Final = {
    "starts": "starts",
    "running": "running time",
    "jogs": "jogs",
    "reversals": "reversals",
    "mean_run": "length of a run",
    "fast": "time in fast",
    "release": "release time",
}

Reals = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Parameters(JogParameters):
    unusual_false_alarm: float = limit(
        0.01,
        "probability",
        "common practice, no source: one log in a hundred",
        "raising it reports more hours, and more of them for nothing",
    )


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """Unusual periods of one motion."""
    hours = _hours(context, motion, p)
    if hours.height < LEAST_HOURS:
        return nothing()
    names, values = _values(hours)
    if not names:
        return nothing()
    scores, far = _distances(names, values)
    limit = _limit(p.unusual_false_alarm / hours.height, len(names))
    more = np.where([name in MORE_ONLY for name in names], scores, np.abs(scores))
    odd = hours.with_columns(measured=pl.Series(far), off=pl.Series(more.max(axis=1))).filter(
        (pl.col("measured") > limit) & (pl.col("off") >= OFF)
    )
    apart = (pl.col("hour") - pl.col("hour").shift(1) != timedelta(hours=1)).fill_null(value=True)
    return (
        odd.group_by(apart.cum_sum().alias("period"), maintain_order=True)
        .agg(
            pl.col("hour").first().alias("start"),
            (pl.col("hour").last() + timedelta(hours=1)).alias("end"),
            pl.col("measured").max(),
            pl.col("rows").explode(keep_nulls=False, empty_as_null=False),
        )
        .with_columns(certainty=pl.lit("possible"), limit=pl.lit(limit), direction=pl.lit(None, schema.DIRECTION))
        .select(*FOUND)
    )


def _hours(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """(hour, starts, running, jogs, reversals, mean_run, fast, release, rows) of each local hour with enough work."""
    return context.once(("hours", motion, p), lambda: _hours_of_work(context, motion, p))


def _hours_of_work(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    runs = context.runs_of(motion).filter("start_seen")
    # some zones lie half an hour from the others: their hours begin between those of UTC
    hour = pl.col("start").dt.convert_time_zone(context.timezone).dt.truncate("1h").dt.convert_time_zone("UTC")
    return (
        runs.with_columns(hour=hour, jog=is_jog(p.jog_longest_s))
        .group_by("hour", maintain_order=True)
        .agg(
            starts=pl.len().cast(pl.Float64),
            running=pl.col("duration_s").sum(),
            jogs=pl.col("jog").sum().cast(pl.Float64),
            reversals=pl.col("reversed").sum().cast(pl.Float64),
            mean_run=pl.col("duration_s").mean(),
            fast=pl.col("fast_s").sum() / pl.col("duration_s").sum(),
            release=pl.col("release_time_s").median(),
            first_row=pl.col("start_row").first(),
            last_row=pl.col("end_row").last(),
        )
        .with_columns(rows=pl.concat_list("first_row", "last_row"))
        .filter(pl.col("starts") >= LEAST_STARTS)
        .filter(pl.col("starts") >= WHOLE * pl.col("starts").median())
        .sort("hour")
    )


def _values(hours: pl.DataFrame) -> tuple[list[str], Reals]:
    """The quantities in steady units: square roots of counts, logarithms of times; those that are known and vary."""
    columns = {
        "starts": pl.col("starts").sqrt(),
        "running": pl.col("running").sqrt(),
        "jogs": pl.col("jogs").sqrt(),
        "reversals": pl.col("reversals").sqrt(),
        "mean_run": pl.col("mean_run").clip(0.01).log(),
        "fast": pl.col("fast"),
        "release": pl.col("release").clip(0.01).log(),
    }
    made = hours.select(**columns).fill_null(strategy="mean").fill_nan(None)
    kept = [name for name in made.columns if made[name].null_count() == 0 and made[name].n_unique() > 5]
    return kept, made.select(kept).to_numpy()


def _distances(names: list[str], values: Reals) -> tuple[Reals, Reals]:
    """Robust deviations of each quantity; each hour's robust distance squared, its median that of chi square."""
    from scipy.special import gammaincinv
    from sklearn import config_context
    from sklearn.covariance import MinCovDet

    centre = np.median(values, axis=0)
    spread = 1.4826 * np.median(np.abs(values - centre), axis=0)
    spread = np.maximum(spread, 0.25 * values.std(axis=0) + 1e-9)
    spread = np.maximum(spread, [BURSTS.get(name, 0.0) for name in names])
    scores = (values - centre) / spread
    with config_context(assume_finite=True, skip_parameter_validation=True):  # checks take a quarter of its time
        squared = MinCovDet(random_state=0, support_fraction=0.75).fit(scores).mahalanobis(scores)
    middle = 2 * gammaincinv(values.shape[1] / 2, 0.5)
    return scores, squared * (middle / np.median(squared))


def _limit(chance: float, quantities: int) -> float:
    """The squared distance that chance exceeds this rarely: chi square, doubled because hours are no normal numbers."""
    from scipy.special import gammainccinv

    return float(2 * 2 * gammainccinv(quantities / 2, chance))


def too_short(context: Context, motion: str, p: Parameters) -> str | None:
    """How much more work would allow a judgement."""
    hours = _hours(context, motion, p).height
    return (
        f"{LEAST_HOURS} hours of work with {LEAST_STARTS} starts each (there are {hours})"
        if hours < LEAST_HOURS
        else None
    )


def describe(context: Context, motion: str, found: pl.DataFrame, p: Parameters) -> str:
    """The quantities that make the first of them unusual."""
    hours = _hours(context, motion, p)
    first = found.row(0, named=True)
    inside = hours.with_row_index("n").filter(pl.col("hour").is_between(first["start"], first["end"], closed="left"))
    told = []
    for name, text in QUANTITIES.items():
        here, usual = inside[name].mean(), hours[name].median()
        spread = (hours[name] - usual).abs().median() if usual is not None else None
        if here is not None and usual is not None and spread is not None:
            gap = abs(float(here) - float(usual)) / max(1.4826 * float(spread), 1e-9)  # type: ignore[arg-type]
            told.append((gap, f"{text} {float(here):.3g} where {float(usual):.3g} is usual"))  # type: ignore[arg-type]
    most = [text for _, text in sorted(told, reverse=True)[:2]]
    return f"the first: {'; '.join(most)}. Unusual is not faulty"


EXAMPLE = """
5 s
hoist.raise.contactor \
 ((###......)*30(.)*450(##......)*32(.)*464(####.....)*31(.)*441(###.....)*34(.)*448(##.....)*33(.)*489 \
 (####....)*29(.)*488(###.....)*35(.)*440)*6 (#.)*250(.)*220 (###......)*30(.)*450
"""

PATTERN = Pattern(
    name="unusual_period",
    title="unusual period",
    parameters=Parameters,
    find=find,
    motions=tuple(signals.MOTIONS),
    needs=(("{motion}.*.contactor",), ("{motion}.*.command",)),
    severity="note",
    why_severity="another way of work, load or crew; worth a question, not a repair",
    usually="other work than usual",
    unit="squared distance",
    look_back_s=30 * 86400.0,
    settles_s=math.inf,
    exposure="running_h",
    too_short=too_short,
    describe=describe,
    example=EXAMPLE,
)
