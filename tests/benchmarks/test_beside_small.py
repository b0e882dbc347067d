"""The ways beside the review come to the same numbers from a small log with every one of the faults in it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.benchmarks.beside import duck, frames, log, mining, more, ours
from tests.benchmarks.beside.__main__ import agree, exponent
from tests.benchmarks.beside.numbers import Numbers

Way = Callable[[Path], tuple[Numbers, dict[str, float]]]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("beside")
    log.write(path, 40_000)
    return path


@pytest.fixture(scope="module")
def reviewed(folder: Path) -> Numbers:
    return ours.review(folder / "log.csv")[0]


def test_the_log_holds_every_fault_that_is_counted(reviewed: Numbers) -> None:
    assert all(reviewed.as_dict().values())


def test_the_packed_form_of_the_log_is_the_same(folder: Path, reviewed: Numbers) -> None:
    assert ours.review(folder / "log.parquet")[0] == reviewed


@pytest.mark.parametrize("kind", ["csv", "parquet"])
def test_the_stages_alone_come_to_the_same(folder: Path, reviewed: Numbers, kind: str) -> None:
    assert ours.numbers(folder / f"log.{kind}") == reviewed


@pytest.mark.parametrize("way", [more.page, more.archive])
def test_a_page_and_an_archive_show_the_same(folder: Path, reviewed: Numbers, way: Way) -> None:
    numbers, stages = way(folder / "log.csv")
    assert numbers == reviewed
    assert all(spent >= 0 for spent in stages.values())
    assert len(stages) > 3


@pytest.mark.parametrize("kind", ["csv", "parquet"])
def test_sql_comes_to_the_same(folder: Path, reviewed: Numbers, kind: str) -> None:
    assert duck.numbers(folder / f"log.{kind}") == reviewed


@pytest.mark.parametrize("kind", ["csv", "parquet"])
def test_a_script_comes_to_the_same(folder: Path, reviewed: Numbers, kind: str) -> None:
    pytest.importorskip("pandas")
    assert frames.numbers(folder / f"log.{kind}") == reviewed


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_process_mining_comes_to_the_same(folder: Path, reviewed: Numbers) -> None:
    pytest.importorskip("pm4py")
    assert mining.runs_and_release(folder / "log.csv") == (reviewed.runs, reviewed.release_mean_us)


def test_a_number_that_differs_is_told() -> None:
    assert agree({"runs": 3, "jogging": 1}, {"runs": 4, "jogging": 1}) == ["runs: 4 instead of 3"]
    assert agree({"runs": 3}, {"runs": 3}) == []


def test_ten_times_the_time_for_ten_times_the_events_is_linear() -> None:
    rows = [{"way": "review", "file": "csv", "events": n, "cpu_s": s} for n, s in ((100, 2.0), (1000, 20.0))]
    assert exponent(rows, "csv") == pytest.approx(1.0)
    assert exponent(rows[:1], "csv") is None
