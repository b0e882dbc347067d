"""`fleet --cluster` where the scheduler dies in the middle: one sentence, and what was done stays."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path

import polars as pl
import pytest

from eventlens.fleet import cluster as module
from tests.cli.runner import ROOT, ran
from tests.fleet import stories

pytest.importorskip("distributed")
SOON_S = 60.0


@contextmanager
def cluster(folder: Path) -> Iterator[str]:
    """Address of a scheduler and its one worker, in processes of their own, as somebody begins them by hand."""
    known = folder / "scheduler.json"
    common = ("--no-dashboard", "--scheduler-file", str(known))
    environment = {**os.environ, "POLARS_MAX_THREADS": "1"}

    def begin(name: str, *more: str) -> subprocess.Popen[bytes]:
        arguments = [sys.executable, "-m", f"distributed.cli.dask_{name}", *common, *more]
        with (folder / f"{name}.log").open("wb") as log:
            return subprocess.Popen(arguments, cwd=ROOT, env=environment, stdout=log, stderr=log)

    processes = [begin("scheduler", "--host", "127.0.0.1", "--port", "0")]
    try:
        until = time.monotonic() + SOON_S
        while not known.exists() and time.monotonic() < until:
            time.sleep(0.05)
        (folder / "scheduler").write_text(str(processes[0].pid))
        processes.append(begin("worker", "--no-nanny", "--nthreads", "1", "--local-directory", str(folder)))
        yield json.loads(known.read_text())["address"]
    finally:
        for process in processes:
            process.kill()
            process.wait(SOON_S)


def test_a_scheduler_that_dies_is_one_sentence_and_what_was_done_stays(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    place = stories.make(tmp_path, (*stories.GOOD, stories.POISON))
    monkeypatch.setattr(module, "Cluster", partial(module.Cluster, work=stories.beheading))
    with cluster(tmp_path) as address:
        done = ran(capsys, "fleet", place, "--cluster", address)
    told = [line for line in done.err.splitlines() if line.strip()]
    assert (done.status, done.out, len(told)) == (1, "", 1), done.err
    assert told[0].startswith(f"eventlens: wanted a cluster with workers at {address}, got ")
    assert told[0].endswith("begin it again and call once more: what was done is kept.")

    kept = stories.rows(place)
    assert set(kept["machine"]) == set(stories.GOOD)
    done = ran(capsys, "fleet", place, "--workers", "1")
    assert done.status == 0, done.err
    assert "1 review made, 4 there already, 0 errors" in done.out
    assert stories.rows(place).filter(pl.col("machine") != stories.POISON).equals(kept)
    assert stories.rows(place).height == 5
