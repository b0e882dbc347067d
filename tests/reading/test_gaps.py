"""Gaps between rows, looked at block by block: which of them are picked, and the median around each.

Expected values come from plain Python or from Polars' own rolling median.
"""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from eventlens.reading import quality
from eventlens.reading.quality import _BLOCK, GAPS_LOOKED_AT, find_step_us
from eventlens.reading.rhythm import BLOCK, FEWEST_BEATS, NEIGHBOURS, _local_median


def test_the_step_of_a_long_record_is_that_of_gaps_from_all_over_it() -> None:
    """Of a record three times as long as is looked at, a twentieth shows the finer step: more than 0.5 %."""
    rows = 3 * GAPS_LOOKED_AT
    gaps = np.full(rows, 100_000)
    gaps[-rows // 20 :] = 10_000
    gaps[::7] = 0
    time, segment = pl.Series(np.cumsum(gaps)), pl.repeat(0, rows, dtype=pl.UInt32, eager=True)
    assert find_step_us(time, segment, 1000) == 10_000
    assert find_step_us(time.head(rows // 2), segment.head(rows // 2), 1000) == 100_000


@pytest.mark.parametrize("rows", [1, 2, 500, _BLOCK - 1, _BLOCK, _BLOCK + 2, 5 * _BLOCK])
def test_gaps_are_picked_evenly_whatever_the_blocks(rows: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Against a plain list of them."""
    monkeypatch.setattr(quality, "GAPS_LOOKED_AT", 300)
    stamps = [at * at % 97 + at * 60 for at in range(rows)]
    stretch = [at // 1000 for at in range(rows)]
    pairs = zip(stamps[1:], stamps, stretch[1:], stretch, strict=False)
    gaps = [later - before for later, before, one, other in pairs if later > before and one == other]
    every = len(gaps) // 300 + 1 if len(gaps) > 300 else 1
    found = quality._some_gaps(pl.Series(stamps, dtype=pl.Int64), pl.Series(stretch, dtype=pl.UInt32))
    assert found.tolist() == gaps[::every]


@pytest.mark.parametrize("rows", [FEWEST_BEATS, FEWEST_BEATS + 1, 100, BLOCK + 7, BLOCK + 8, BLOCK + 9, 2 * BLOCK + 30])
def test_the_median_around_each_gap_is_that_of_its_neighbours(rows: int) -> None:
    """Against the rolling median of Polars."""
    gaps = np.random.default_rng(rows).integers(0, 50, rows)
    width = 2 * NEIGHBOURS + 1
    wanted = pl.Series(gaps).cast(pl.Float64).rolling_median(width, min_samples=1, center=True)
    assert _local_median(gaps).tolist() == wanted.to_list()


def test_a_gap_across_stretches_is_none() -> None:
    """Steps of 100 ms in each stretch; a millisecond between them says nothing."""
    time = pl.Series(np.concatenate([np.arange(200) * 100_000, 19_901_000 + np.arange(200) * 100_000]))
    segment = pl.Series(np.repeat([0, 1], 200), dtype=pl.UInt32)
    assert find_step_us(time, segment, 1000) == 100_000
