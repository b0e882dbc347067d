"""Guards step, rhythm, holes, duplicates: each limit from both sides."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import polars as pl
import pytest
from reading_logs import read_text

from eventlens.reading.quality import count_duplicates, find_step_us
from eventlens.reading.rhythm import heartbeat_rhythm, longest_silence_us, sample_rhythm

H = "time;signal;value\n"


def flat(rows: int) -> pl.Series:
    return pl.repeat(0, rows, dtype=pl.UInt32, eager=True)


def step(gaps: list[int], resolution: int = 1000) -> int:
    time = pl.Series(np.cumsum([0, *gaps]), dtype=pl.Int64)
    return find_step_us(time, flat(len(time)), resolution)


@pytest.mark.parametrize(
    ("gaps", "want"),
    [
        ([10_000, 20_000, 70_000] * 30, 10_000),
        ([10_000, 20_000, 70_000] * 30 + [10_001], 1_000),  # 90 of 91 gaps are below 99.5 %
        ([10_000] * 398 + [13_000] * 2, 10_000),  # 99.5 % exactly
        ([10_000] * 397 + [13_000] * 3, 1_000),
        ([30_000, 60_000] * 30, 30_000),  # the common divisor, though it is no usual step
        ([120_000_000] * 60, 60_000_000),  # no step above 60 s
        ([0, 0, 0], 1_000),
        ([], 1_000),
        ([10_000_000], 1_000_000),  # a whole second among milliseconds: by chance 1 in 1,000; no more than a second
        ([999_000], 1_000),
        ([500_000], 1_000),  # by chance 1 in 500
        ([100_000] * 49, 1_000),  # 49 equal gaps are fewer than 50, and one value may be chance
        ([100_000] * 50, 100_000),
        ([100_000, 300_000], 100_000),  # by chance 1 in 10,000
        ([10_000, 30_000], 1_000),  # by chance 1 in 100
    ],
)
def test_log_step(gaps: list[int], want: int) -> None:
    assert step(gaps) == want


def test_log_step_of_a_long_log_is_found_on_a_bounded_number_of_gaps() -> None:
    gaps = np.random.default_rng(7).integers(1, 400, 250_000) * 5_000
    assert step(gaps.tolist()) == 5_000


@pytest.mark.parametrize(
    ("gaps", "want"),
    [
        ([100] * 9 + [500], 100),
        ([100] * 8 + [500] * 2, None),
        ([100] * 9 + [120], 100),
        ([100, 80, 120, 100, 100], 100),
        ([100, 79, 121, 100, 100], None),
    ],
)
def test_sample_cycle(gaps: list[int], want: int | None) -> None:
    time = pl.Series(np.cumsum([0, *gaps]), dtype=pl.Int64)
    found = sample_rhythm(time, flat(len(time)))
    assert (found and found.period_us) == want


def beats(*names: tuple[int, list[int]]) -> int | None:
    rows = sorted((at, code) for code, times in names for at in times)
    time, code = pl.Series([at for at, _ in rows]), pl.Series("code", [code for _, code in rows], dtype=pl.UInt32)
    found = heartbeat_rhythm(time, flat(len(rows)), code, None)
    return found and found.period_us


def test_a_heartbeat_is_regular_and_never_pauses_while_others_speak() -> None:
    alive = [10 * at for at in range(12)]
    assert beats((0, alive), (1, [3, 4, 57])) == 10
    assert beats((0, alive[:9])) is None  # fewer than ten records
    assert beats((0, alive + [at + 5000 for at in alive]), (1, [57])) == 10  # a hole: nobody spoke
    assert beats((0, alive + [at + 5000 for at in alive]), (1, [57, 2500])) is None  # beats only now and then
    assert beats((0, alive), (1, [2 * at for at in range(60)])) == 2  # the quickest


@pytest.mark.parametrize(("rhythm", "grid", "want"), [(10, 1, 30), (10, 10, 30), (10, 11, 32)])
def test_longest_silence(rhythm: int, grid: int, want: int) -> None:
    assert longest_silence_us(np.array([rhythm]), grid).tolist() == [want]


def log_with_silence(seconds: int, keys: dict[str, object], folder: Path) -> int:
    stamps = [*range(20), 19 + seconds, 20 + seconds]
    lines = [f"2024-05-13 06:{at // 60:02}:{at % 60:02};HB;1\n" for at in stamps]
    return read_text(folder, H + "2024-05-13 06:00:00;RUN;0\n" + "".join(lines), **keys).holes.height


@pytest.mark.parametrize(
    ("seconds", "keys", "holes"),
    [
        (3, {}, 0),  # three beats
        (4, {}, 1),
        (4, {"longest_silence_s": 4}, 0),
        (5, {"longest_silence_s": 4}, 1),
        (3, {"heartbeat": "HB"}, 0),
        (4, {"heartbeat": "HB"}, 1),
    ],
)
def test_holes(seconds: int, keys: dict[str, object], holes: int, tmp_path: Path) -> None:
    assert log_with_silence(seconds, keys, tmp_path) == holes


def test_without_a_rhythm_silence_proves_nothing(tmp_path: Path) -> None:
    log = read_text(tmp_path, H + "2024-05-13 06:00:00;RUN;1\n2024-05-13 06:00:03;RUN;0\n2024-05-13 14:00:00;RUN;1\n")
    assert log.rhythm_s is None
    assert log.holes.is_empty()
    assert log.segments.height == 1


def test_a_stated_silence_without_a_rhythm(tmp_path: Path) -> None:
    rows = H + "2024-05-13 06:00:00;RUN;1\n2024-05-13 06:00:03;RUN;1\n2024-05-13 14:00:00;RUN;0\n"
    log = read_text(tmp_path, rows, longest_silence_s=60)
    assert log.rhythm_s == 60
    assert log.holes["why"].to_list() == ["silence"]
    assert log.events["segment"].to_list() == [0, 0, 1]


def test_duplicates_are_rows_of_one_instant_that_are_equal() -> None:
    time = pl.Series([1, 1, 1, 2, 2, 3])
    cells = pl.DataFrame({"name": ["a", "b", "a", "a", "b", "a"], "value": [1, 1, 1, 1, 1, 1]})
    assert count_duplicates(time, cells) == 1
    assert count_duplicates(pl.Series([1, 2, 3, 4, 5, 6]), cells) == 0
    assert count_duplicates(pl.Series([1] * 6), cells) == 4
