"""A cluster of two workers, one killed in the middle, one log that kills: the rest as one by one, byte for byte."""

from __future__ import annotations

import builtins
import operator
import socket
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import polars as pl
import pytest

from eventlens import Archive, EventlensError
from eventlens.archive import weeks
from eventlens.fleet import cluster as module
from eventlens.fleet.cluster import Cluster
from eventlens.fleet.run import review_all
from eventlens.fleet.tasks import planned
from tests.fleet import stories
from tests.fleet.stories import MIXED, POISON

distributed = pytest.importorskip("distributed")


@pytest.fixture(scope="module")
def local() -> Iterator[Any]:
    """Two worker processes of one thread, each with its nanny, and their scheduler; as one begins them by hand."""
    import dask

    settings = {
        "distributed.scheduler.allowed-failures": 0,  # a task is given back with the first worker that dies of it
        "distributed.nanny.pre-spawn-environ.POLARS_MAX_THREADS": 1,
        "distributed.deploy.lost-worker-timeout": "10 minutes",  # until then a slow computer may begin a new one
    }
    with (
        dask.config.set(settings),
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, processes=True, dashboard_address=":0", memory_limit=0, silence_logs=50
        ) as cluster,
    ):
        yield cluster


def test_a_killed_worker_costs_its_task_and_a_log_that_kills_costs_itself(
    local: Any, place: Path, one_by_one: Path
) -> None:
    with closing(Cluster(local.scheduler_address, work=stories.deadly)) as cluster:
        found = review_all(place, cluster)
    assert (place.parent / "killed once").exists()
    healthy = pl.col("machine") != POISON
    assert stories.rows(place).filter(healthy).equals(stories.rows(one_by_one).filter(healthy))
    assert found.errors.select("machine", "period").rows() == [(MIXED, "2026-W15"), (POISON, "2026-W14")]
    assert "got 1 worker that died of it, or ran out of time or memory; see the log of tcp" in found.errors["why"][1]
    assert planned(place).tasks == ()


def test_a_log_that_takes_for_ever_ends_with_its_worker(local: Any, place: Path) -> None:
    with closing(Cluster(local.scheduler_address, work=stories.endless, limit_s=1.5)) as cluster:
        found = review_all(place, cluster, period="2026-03-30..2026-04-06", machines=[POISON])
    assert found.errors.select("machine", "period").rows() == [(POISON, "2026-03-30..2026-04-06")]
    assert stories.periods(place)["why"].to_list() == found.errors["why"].to_list()


def test_months_on_a_cluster_are_those_of_the_archive(local: Any, place: Path) -> None:
    with closing(Cluster(local.scheduler_address)) as cluster:
        review_all(place, cluster, period="month", machines=["DOCK-5"])
    rows = stories.periods(place)
    assert rows["period"].to_list() == ["2026-03", "2026-04"]
    april = Archive(place).review("DOCK-5", "2026-04-01", "2026-05-01").to_json()
    assert rows["review"][1] == april
    assert stories.rows(place).is_empty()  # trends look for weeks, and find none


class Newer:
    """What is asked for the version here says 99.0, on a worker what it says there."""

    def __call__(self) -> str:
        return "99.0"

    def __reduce__(self) -> tuple[Any, ...]:
        return operator.attrgetter("program"), (weeks,)


def test_workers_of_another_version_are_refused(local: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "program", Newer())
    with pytest.raises(
        EventlensError, match=r"wanted eventlens 99\.0 on each worker, got .* on tcp.*; install the same"
    ):
        Cluster(local.scheduler_address)


def test_a_scheduler_without_workers_is_said() -> None:
    with (
        distributed.LocalCluster(
            n_workers=0, processes=False, dashboard_address=":0", protocol="tcp", silence_logs=50
        ) as empty,
        pytest.raises(EventlensError, match=r"wanted a cluster with workers at tcp://.*, got none within 0\.2 s"),
    ):
        Cluster(empty.scheduler_address, patience_s=0.2)


def test_no_scheduler_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "CONNECT_S", 0.5)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        address = f"tcp://127.0.0.1:{free.getsockname()[1]}"
    with pytest.raises(EventlensError, match=rf"wanted the address of a Dask scheduler .*, got '{address}'"):
        Cluster(address)
    with pytest.raises(EventlensError, match=r"wanted the address of a Dask scheduler .*, got 'history'"):
        Cluster("history")


def test_without_the_extra_it_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    load = builtins.__import__

    def without(name: str, *args: Any, **more: Any) -> Any:
        if name == "distributed":
            raise ImportError(name)
        return load(name, *args, **more)

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(EventlensError, match=r"wanted the package distributed for a cluster, got none; pip install"):
        Cluster("tcp://127.0.0.1:8786")
