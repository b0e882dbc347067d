"""Scores from long tables: a row for each truth and for each finding of every log, summed up by their columns."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import polars as pl

from tests.benchmarks.matching import Matches, match

CELL: Final = ("pattern", "step_s", "damage")
"""What one cell of the table stands for."""
AIMS: Final = {"certain_precision": 0.995, "decided_recall": 0.99}
"""The project's own aims for clean logs up to a step of 20 ms."""


@dataclass(frozen=True)
class Judged:
    """Truths and findings of some logs, each with its fate."""

    truths: pl.DataFrame
    """story, damage, step_s, pattern, motion, resolvable, decided, matched, matched_certain."""
    finds: pl.DataFrame
    """story, damage, step_s, pattern, motion, certain, matched, start_error_s, end_error_s."""
    machine_days: pl.DataFrame
    """story, damage, step_s, days."""

    @classmethod
    def together(cls, parts: Sequence[Judged]) -> Judged:
        """All of several."""
        return cls(*(pl.concat([getattr(p, name) for p in parts]) for name in ("truths", "finds", "machine_days")))


def judge(
    truth: pl.DataFrame,
    found: pl.DataFrame,
    lacking: pl.DataFrame,
    step_s: float,
    *,
    story: str = "",
    damage: str = "",
    days: float = 1.0,
) -> tuple[Judged, Matches]:
    """The fate of each truth and finding of one log.

    truth: pattern, motion, start, end, margin_s (how far the deciding quantity is from its limit); found: pattern,
    motion, start, end, certainty; lacking: pattern, motion (null: any) of what the review could not assess. A truth is
    `resolvable` where its pattern was assessed, `decided` where its margin is more than one step.
    """
    matches = match(truth, found, step_s)
    partner = dict(matches.pairs)
    sure = (found["certainty"].cast(pl.String) == "certain").to_list()
    key = pl.concat_str(pl.col("pattern"), pl.col("motion").cast(pl.String).fill_null(""), separator=" ")
    not_assessed = lacking.select(key).to_series().to_list()
    here = (pl.lit(story).alias("story"), pl.lit(damage).alias("damage"), pl.lit(step_s).alias("step_s"))
    truths = truth.with_row_index("n").select(
        *here,
        "pattern",
        pl.col("motion").cast(pl.String),
        resolvable=~(key.is_in(not_assessed) | pl.format("{} ", "pattern").is_in(not_assessed)),
        decided=pl.col("margin_s").fill_null(float("inf")) > step_s,
        matched=pl.col("n").is_in(list(partner)),
        matched_certain=pl.col("n").is_in([row for row, place in partner.items() if sure[place]]),
    )
    errors = pl.DataFrame(
        {
            "n": [place for _, place in matches.pairs],
            "start_error_s": matches.start_errors_s,
            "end_error_s": matches.end_errors_s,
        },
        schema={"n": pl.UInt32, "start_error_s": pl.Float64, "end_error_s": pl.Float64},
    )
    finds = (
        found.with_row_index("n")
        .with_columns(pl.col("n").cast(pl.UInt32))
        .join(errors, on="n", how="left", maintain_order="left")
        .select(
            *here,
            "pattern",
            pl.col("motion").cast(pl.String),
            certain=pl.Series(sure, dtype=pl.Boolean),
            matched=pl.col("start_error_s").is_not_null(),
            start_error_s="start_error_s",
            end_error_s="end_error_s",
        )
    )
    lived = pl.DataFrame({"story": [story], "damage": [damage], "step_s": [step_s], "days": [days]})
    return Judged(truths, finds, lived), matches


def table(judged: Judged, by: Sequence[str] = CELL) -> pl.DataFrame:
    """One row for each value of `by`: counts, recall, precision, F1, errors of the ends and false findings per day.

    `resolvable_recall` leaves out truths whose pattern said that it could not be assessed; `decided_recall` also those
    within one log step of a limit. `certain_precision` is the precision of what was called certain.
    """
    happened = judged.truths.group_by(by).agg(
        truths=pl.len(),
        truths_matched=pl.col("matched").sum(),
        resolvable=pl.col("resolvable").sum(),
        resolvable_matched=(pl.col("resolvable") & pl.col("matched")).sum(),
        decided=(pl.col("resolvable") & pl.col("decided")).sum(),
        decided_matched=(pl.col("resolvable") & pl.col("decided") & pl.col("matched")).sum(),
    )
    told = judged.finds.group_by(by).agg(
        found=pl.len(),
        found_matched=pl.col("matched").sum(),
        certain=pl.col("certain").sum(),
        certain_matched=(pl.col("certain") & pl.col("matched")).sum(),
        p95_start_s=pl.col("start_error_s").abs().quantile(0.95),
        p95_end_s=pl.col("end_error_s").abs().quantile(0.95),
    )
    days = judged.machine_days.group_by([name for name in by if name in judged.machine_days.columns]).agg(
        pl.col("days").sum()
    )
    whole = happened.join(told, on=by, how="full", coalesce=True, nulls_equal=True)
    shared = [name for name in by if name in days.columns]
    whole = whole.join(days, on=shared, how="left") if shared else whole.join(days, how="cross")
    counts = [name for name, kind in whole.schema.items() if kind == pl.UInt32]
    return _shares(whole.with_columns(pl.col(counts).fill_null(0))).sort(by)


def _shares(whole: pl.DataFrame) -> pl.DataFrame:
    def share(part: str, of: str) -> pl.Expr:
        return pl.when(pl.col(of) > 0).then(pl.col(part) / pl.col(of))

    return whole.with_columns(
        recall=share("truths_matched", "truths"),
        precision=share("found_matched", "found"),
        resolvable_recall=share("resolvable_matched", "resolvable"),
        decided_recall=share("decided_matched", "decided"),
        certain_precision=share("certain_matched", "certain"),
        false_per_day=(pl.col("found") - pl.col("found_matched")) / pl.col("days"),
        false_certain_per_day=(pl.col("certain") - pl.col("certain_matched")) / pl.col("days"),
    ).with_columns(
        f1=2 * pl.col("recall") * pl.col("precision") / (pl.col("recall") + pl.col("precision")).replace(0.0, None)
    )


def worst(cells: pl.DataFrame, measure: str) -> dict[str, object]:
    """The row with the lowest share of a measure; among equal ones that with the most cases."""
    ranked = cells.filter(pl.col(measure).is_not_null()).sort(measure, "truths", descending=[False, True])
    return ranked.row(0, named=True) if ranked.height else {}
