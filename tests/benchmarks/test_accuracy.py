"""Guards the scorer: pairs are one to one, as many as possible, and only of spans that agree."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import permutations

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eventlens import schema
from tests.benchmarks.matching import match
from tests.benchmarks.scores import Judged, judge, table, worst

BEGIN = datetime(2026, 3, 2, tzinfo=UTC)


def frame(*rows: tuple[str, str | None, float, float]) -> pl.DataFrame:
    return pl.DataFrame(
        {
            "pattern": [row[0] for row in rows],
            "motion": [row[1] for row in rows],
            "start": [BEGIN + timedelta(microseconds=round(row[2] * 1e6)) for row in rows],
            "end": [BEGIN + timedelta(microseconds=round(row[3] * 1e6)) for row in rows],
            "margin_s": [None for _ in rows],
            "certainty": ["certain" for _ in rows],
        },
        schema={
            "pattern": pl.String,
            "motion": schema.MOTION,
            "start": schema.TIME,
            "end": schema.TIME,
            "margin_s": pl.Float64,
            "certainty": pl.String,
        },
    )


@pytest.mark.parametrize(
    ("start", "end", "step_s", "paired"),
    [
        (10.06, 10.14, 0.01, True),  # both ends within 60 ms
        (10.07, 10.14, 0.01, False),
        (10.2, 10.4, 0.1, True),  # within two steps of 0.1 s
        (10.21, 10.41, 0.1, False),
    ],
)
def test_ends_agree_within_sixty_milliseconds_or_two_steps(
    start: float, end: float, step_s: float, paired: bool
) -> None:
    truth = frame(("no_start", "hoist", 10.0, 10.2))
    assert bool(match(truth, frame(("no_start", "hoist", start, end)), step_s).pairs) is paired


@pytest.mark.parametrize(("end", "paired"), [(15.0, True), (14.9, False)])
def test_or_the_overlap_is_half_of_the_union(end: float, paired: bool) -> None:
    truth = frame(("jogging", "hoist", 10.0, 20.0))
    assert bool(match(truth, frame(("jogging", "hoist", 10.0, end)), 0.01).pairs) is paired


def test_patterns_and_motions_do_not_mix_and_no_motion_is_one_of_them() -> None:
    truth = frame(("no_start", "hoist", 0.0, 1.0), ("log_hole", None, 5.0, 6.0))
    found = frame(("no_start", "bridge", 0.0, 1.0), ("drop_out", "hoist", 0.0, 1.0), ("log_hole", None, 5.0, 6.0))
    matches = match(truth, found, 0.01)
    assert (matches.pairs, matches.missed, matches.spurious) == (((1, 2),), (0,), (0, 1))


def test_one_finding_proves_one_truth_only() -> None:
    truth = frame(("no_start", "hoist", 0.0, 1.0), ("no_start", "hoist", 0.01, 1.01))
    matches = match(truth, frame(("no_start", "hoist", 0.0, 1.0)), 0.01)
    assert (matches.pairs, matches.missed) == (((0, 0),), (1,))


def test_more_pairs_come_before_closer_ones() -> None:
    # the closest pair (truth 0 with found 0) would leave truth 1 without a partner; crossing them pairs both
    truth = frame(("no_start", "hoist", 1.0, 2.0), ("no_start", "hoist", 0.95, 1.95))
    found = frame(("no_start", "hoist", 1.0, 2.0), ("no_start", "hoist", 1.6, 2.6))
    assert len(match(truth, found, 0.01).pairs) == 1
    found = frame(("no_start", "hoist", 1.0, 2.0), ("no_start", "hoist", 1.3, 2.3))
    assert set(match(truth, found, 0.01).pairs) == {(0, 1), (1, 0)}


def test_errors_are_found_minus_true() -> None:
    matches = match(frame(("no_start", "hoist", 1.0, 2.0)), frame(("no_start", "hoist", 1.02, 1.97)), 0.01)
    assert [*matches.start_errors_s, *matches.end_errors_s] == pytest.approx([0.02, -0.03])


def test_empty_frames_match_nothing() -> None:
    some = frame(("no_start", "hoist", 1.0, 2.0))
    assert match(frame(), some, 0.01).spurious == (0,)
    assert match(some, frame(), 0.01).missed == (0,)


spans = st.lists(st.tuples(st.integers(0, 40), st.integers(1, 20)), max_size=5)


@settings(deadline=None)  # a slow oracle on a busy machine
@given(spans, spans)
def test_as_many_pairs_as_any_assignment_gives(some: list[tuple[int, int]], others: list[tuple[int, int]]) -> None:
    # oracle: try every assignment
    def overlap(a: tuple[int, int], b: tuple[int, int]) -> bool:
        inner = min(a[0] + a[1], b[0] + b[1]) - max(a[0], b[0])
        return inner >= 0.5 * (max(a[0] + a[1], b[0] + b[1]) - min(a[0], b[0]))

    few, many = sorted((some, others), key=len)
    best = max(sum(overlap(a, b) for a, b in zip(few, chosen, strict=True)) for chosen in permutations(many, len(few)))
    truth = frame(*(("jogging", "hoist", float(a), float(a + n)) for a, n in some))
    found = frame(*(("jogging", "hoist", float(a), float(a + n)) for a, n in others))
    assert len(match(truth, found, 0.01).pairs) == best


NOTHING = pl.DataFrame(schema={"pattern": pl.String, "motion": schema.MOTION})


def test_scores_add_up_and_the_worst_cell_is_named() -> None:
    good = frame(("drop_out", "hoist", 1.0, 2.0), ("drop_out", "hoist", 5.0, 6.0))
    half = frame(("drop_out", "hoist", 1.0, 2.0))
    parts = [
        judge(good, good, NOTHING, 0.01, story="ordinary", damage="clean")[0],
        judge(good, half, NOTHING, 0.01, story="electrics", damage="clean")[0],
    ]
    both = Judged.together(parts)
    row = table(both).row(0, named=True)
    assert (row["truths"], row["found"], row["recall"], row["precision"]) == (4, 3, 0.75, 1.0)
    assert row["f1"] == pytest.approx(2 * 0.75 / 1.75)
    assert row["days"] == 2.0
    by_story = table(both, ["pattern", "story"])
    assert worst(by_story, "recall")["story"] == "electrics"


def test_what_no_log_can_decide_and_what_was_only_possible_is_counted_apart() -> None:
    truth = frame(("drop_out", "hoist", 1.0, 2.0), ("drop_out", "hoist", 5.0, 6.0))
    truth = truth.with_columns(margin_s=pl.Series([0.01, 0.011]))  # the first lies within one step of a limit
    found = frame(("drop_out", "hoist", 5.0, 6.0), ("drop_out", "hoist", 50.0, 60.0))
    found = found.with_columns(certainty=pl.Series(["certain", "possible"]))
    row = table(judge(truth, found, NOTHING, 0.01)[0]).row(0, named=True)
    assert (row["recall"], row["precision"]) == (0.5, 0.5)
    assert (row["decided_recall"], row["certain_precision"]) == (1.0, 1.0)
    assert (row["false_per_day"], row["false_certain_per_day"]) == (1.0, 0.0)


def test_what_the_review_could_not_assess_is_not_held_against_it() -> None:
    truth = frame(("drop_out", "hoist", 1.0, 2.0), ("drop_out", "trolley", 5.0, 6.0))
    lacking = pl.DataFrame({"pattern": ["drop_out"], "motion": ["trolley"]}, schema=NOTHING.schema)
    row = table(judge(truth, truth.head(1).with_columns(certainty=pl.lit("certain")), lacking, 0.01)[0]).row(
        0, named=True
    )
    assert (row["recall"], row["resolvable_recall"]) == (0.5, 1.0)


def test_a_pattern_that_was_only_found_or_only_missed_has_a_row() -> None:
    row = table(judge(frame(), frame(("no_start", "hoist", 1.0, 2.0)), NOTHING, 0.01)[0]).row(0, named=True)
    assert (row["truths"], row["found"], row["recall"], row["precision"]) == (0, 1, None, 0.0)
    row = table(judge(frame(("no_start", "hoist", 1.0, 2.0)), frame(), NOTHING, 0.01)[0]).row(0, named=True)
    assert (row["truths"], row["found"], row["recall"], row["precision"]) == (1, 0, 0.0, None)
