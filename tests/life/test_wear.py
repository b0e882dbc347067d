"""Guards wear: what counts as which start, starts per hour raw and equivalent side by side, the way of the hook."""

from __future__ import annotations

from pathlib import Path

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import eventlens
from eventlens.errors import EventlensError
from eventlens.life.wear import Operations, StartWeights, busiest_weight, full_paths, kinds_of_starts, operations
from eventlens.machine import Machine
from eventlens.motion.kinds import is_jog
from eventlens.report import text
from eventlens.result import Review
from eventlens.schema import TIME
from tests.logs import at, merged, run
from tests.patterns.helpers import as_json, reviewed


def operations_of(runs: pl.DataFrame) -> Operations:
    return operations(kinds_of_starts(runs, is_jog(1.0), StartWeights()), int(runs["end_seen"].sum()))


def test_starts_by_kind() -> None:
    # a full run, two jogs, a full run the other way after 0.1 s (plugging), one after 5 s. Counted by hand
    review = reviewed(
        merged(run(10, 15), run(20, 20.4), run(22, 22.5), run(30, 34), run(34.1, 37, "lower"), run(42, 45)), end=60.0
    )
    done = operations_of(review.runs)
    assert (done.starts, done.jogs, done.plug_stops, done.plug_reversals, done.brake_stops) == (6, 2, 0, 1, 6)
    assert done.equivalent == pytest.approx(3 + 0.25 * 2 + 1.8)  # one motor guide
    assert done.ac4_share == pytest.approx(0.5)


def test_a_touch_of_the_other_direction_stops_the_motor() -> None:
    # a full run, then 0.2 s the other way after 0.1 s: electric braking, 0.8 starts (two motor guides)
    done = operations_of(reviewed(merged(run(10, 15), run(15.1, 15.3, "lower"))).runs)
    assert (done.starts, done.jogs, done.plug_stops, done.plug_reversals) == (2, 0, 1, 0)
    assert done.equivalent == pytest.approx(1.8)
    assert done.ac4_share == pytest.approx(0.5)


def test_no_runs_no_wear() -> None:
    review = reviewed([], end=60.0)
    done = operations_of(review.runs)
    assert (done.starts, done.equivalent, done.ac4_share) == (0, 0.0, 0.0)


def test_kinds_and_weights_start_by_start() -> None:
    # 1 from two or one motor guides: complete 1, jog 0.25, plug stop 0.8, plug reversal 1.8
    review = reviewed(
        merged(run(10, 15), run(15.1, 15.3, "lower"), run(20, 20.4), run(30, 34), run(34.1, 37, "lower")), end=60.0
    )
    kinds = kinds_of_starts(review.runs, is_jog(1.0), StartWeights())
    assert kinds.select("kind", "weight").rows() == [
        ("complete", 1.0),
        ("plug_stop", 0.8),
        ("jog", 0.25),
        ("complete", 1.0),
        ("plug_reversal", 1.8),
    ]


def test_weights_are_as_sure_as_their_least_sure_one() -> None:
    # the 1.8 of a plug reversal is in one motor guide; a weight of the user's own is the machine file's
    assert (StartWeights().source, StartWeights().confidence) == ("weights of motor guides", "from one place")
    assert StartWeights(reversal_pause_s=0.3).confidence == "from one place"
    own = StartWeights(weight_jog=0.5)
    assert (own.source, own.confidence) == ("weights of the machine file", "machine file")


def weighed(starts: list[tuple[int, float]]) -> pl.DataFrame:
    frame = pl.DataFrame(starts, schema={"s": pl.Int64, "weight": pl.Float64}, orient="row")
    return frame.select(start=(pl.lit(at(0)) + pl.duration(seconds="s")).cast(TIME), weight="weight")


def test_the_window_of_the_heaviest_hour_is_half_open() -> None:
    # a start exactly an hour old is outside (FEM 9.683: any hour); by hand
    exactly, within = busiest_weight(weighed([(0, 1.0), (3600, 0.8)])), busiest_weight(weighed([(0, 1.0), (3599, 0.8)]))
    assert exactly is not None
    assert within is not None
    assert (exactly.value, exactly.at) == (1.0, at(0))
    assert (within.value, within.at) == (1.8, at(3599))
    assert busiest_weight(weighed([])) is None


@settings(deadline=None)
@given(st.lists(st.tuples(st.integers(0, 20_000), st.sampled_from([0.25, 0.8, 1.0, 1.8])), min_size=1, max_size=30))
def test_the_heaviest_hour_against_a_plain_count(starts: list[tuple[int, float]]) -> None:
    peak = busiest_weight(weighed(starts))
    assert peak is not None
    sums = [(sum(w for s, w in starts if t - 3600 < s <= t), t) for t, _ in starts]
    assert peak.value == pytest.approx(max(sums)[0])
    assert min(t for total, t in sums if total > max(sums)[0] - 1e-6) == round((peak.at - at(0)).total_seconds())


def test_equivalent_starts_stand_beside_and_never_instead_of_raw_ones() -> None:
    # 241 jogs in an hour where group M5 allows 240 (FEM 9.683): one too many, although they weigh as 60.25 starts
    def jogged(number: int) -> Review:
        jogs = merged(*(run(10 + 14.0 * n, 10.4 + 14.0 * n) for n in range(number)))
        return reviewed(jogs, machine=Machine.model_validate({"machine": {"group": "M5"}}), end=4000.0)

    review = jogged(241)
    assert "starts_per_hour_high" in review.findings["pattern"].to_list()
    assert "starts_per_hour_high" not in jogged(240).findings["pattern"].to_list()
    hour = review.life["hoist"].per_hour
    assert hour is not None
    assert (hour.raw.value, hour.equivalent.value) == (241, 60.25)
    assert hour.equivalent_mean == pytest.approx(60.25 / (4000 / 3600))
    shown = as_json(review)["life"]["hoist"]["starts_per_hour"]
    assert (shown["max"]["value"], shown["equivalent_max"]["value"]) == (241, 60.25)
    page = " ".join(text.render(review).split())
    assert "starts an hour 241 at most, mean 217: raw starts, which the limits count; weighed as complete ones" in page
    assert "weighed as complete ones 60.2 at most" in page or "weighed as complete ones 60.3 at most" in page


def test_no_starts_no_hour() -> None:
    assert reviewed(run(10, 20)).life["hoist"].per_hour is not None
    assert reviewed([], end=60.0).life["hoist"].per_hour is None


def test_no_hour_reaches_over_a_clock_step(tmp_path: Path) -> None:
    # runs of 5 s each half minute: three, then the clock is set back by three minutes, then two. Never five in one
    # hour: how long it took to set the clock is not known
    before, after = (
        [(first + 30 * n + s, int(s == 0)) for n in range(3) for s in (0, 5)] for first in (36_000, 35_880)
    )
    changes = [(35_990, 0), *before, (35_870, 0), *after[:4]]
    rows = [f"{seq},{clock_time(s)},hoist.raise.contactor,{value}" for seq, (s, value) in enumerate(changes, 101)]
    path = tmp_path / "log.csv"
    path.write_text("\n".join(["seq,time,signal,value", *rows]) + "\n")
    review = eventlens.review(path, machine=Machine())
    assert review.log.clock_steps.height == 1
    found = review.life["hoist"].per_hour
    assert review.motions["hoist"].starts == 5
    assert found is not None
    assert (found.raw.value, found.equivalent.value) == (3, 3.0)
    assert found.equivalent.at == found.raw.at


def clock_time(second: int) -> str:
    return f"2024-06-03 {second // 3600:02}:{second // 60 % 60:02}:{second % 60:02}"


def heights(values: list[float | None], segment: int = 0) -> pl.DataFrame:
    frame = pl.DataFrame({"value": values}, schema={"value": pl.Float64})
    return frame.with_columns(segment=pl.lit(segment, pl.UInt32))


def test_full_paths_of_the_hook() -> None:
    # up 4 m, down 4 m, up 2 m: 10 m of way on a path of 5 m is one full path up and down
    assert full_paths(heights([0.0, 4.0, None, 0.0, 2.0]), 5.0) == pytest.approx(1.0)
    with pytest.raises(EventlensError, match="hook path"):
        full_paths(heights([0.0]), 0.0)


def test_the_way_in_a_hole_is_not_known() -> None:
    assert full_paths(pl.concat([heights([0.0, 4.0]), heights([0.0, 4.0], segment=1)]), 5.0) == pytest.approx(0.8)
