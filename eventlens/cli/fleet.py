"""`eventlens fleet`: every machine and period of an archive, on this computer or on a cluster."""

from __future__ import annotations

import logging
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from typing import TYPE_CHECKING, Annotated, Final

import typer

from eventlens.cli import options
from eventlens.cli.console import give, progress, say, show, target_of, width
from eventlens.cli.review import FOUND

if TYPE_CHECKING:
    from eventlens.fleet.cluster import Cluster
    from eventlens.fleet.pool import Pool

FAULTY: Final = 1
"""Exit status where a machine has an error."""
EVERY_S: Final = 60.0
"""Without a terminal a line of progress is written so often [s]."""
GIGABYTE: Final = 2**30

Place = Annotated[
    str, typer.Argument(metavar="ARCHIVE", help="A folder, or an address of an object store as s3://bucket/folder.")
]
Period = Annotated[
    str,
    typer.Option(
        metavar="WHAT",
        help="week (trends and the pages find these), month, all, or FROM..TO as 2026-04-01..2026-05-01.",
    ),
]
Only = Annotated[list[str] | None, typer.Option(metavar="ID", help="Only this machine; again for each.")]
Workers = Annotated[
    int | None, typer.Option(min=1, metavar="N", help="Processes here; else as many as cores. Each takes about 0.4 GB.")
]
OnCluster = Annotated[
    str | None, typer.Option(metavar="ADDRESS", help="Of a Dask scheduler, as tcp://10.0.0.5:8786, instead.")
]
TimeLimit = Annotated[
    float, typer.Option(min=1, metavar="SECONDS", help="For one period; one that takes longer is its machine's error.")
]
MemoryLimit = Annotated[
    float | None,
    typer.Option(min=0.1, metavar="GB", help="Of a process here (Linux); for a cluster say it to its workers."),
]
Retry = Annotated[bool, typer.Option("--retry", help="Also try again what ended as an error.")]
Json = Annotated[
    str | None, typer.Option(metavar="FILE", help="Write the result as JSON; - is stdout, without the report.")
]


def fleet(
    archive: Place,
    period: Period = "week",
    machine: Only = None,
    workers: Workers = None,
    cluster: OnCluster = None,
    time_limit: TimeLimit = 600.0,
    memory_limit: MemoryLimit = None,
    retry: Retry = False,
    json: Json = None,
    fail_on: options.FailOn = None,
    quiet: options.Quiet = False,
) -> None:
    """Review every machine of an archive.

    What is there already and rests on nothing that has changed is kept: begun
    again, it goes on where it was. The reviews of weeks are those that trends
    and the pages read.

    A log that cannot be reviewed, that kills its worker twice or runs beyond a
    limit is that machine's error: one sentence, kept with the reviews until the
    log, the version of eventlens, or --retry changes that. A worker that dies
    costs its task, which is tried again.

    Status: 3 if --fail-on has found something, else 1 if a machine has an
    error (the others are done all the same), else 0.

    With --cluster the tasks go to a Dask cluster that is there already. Its
    scheduler and workers need the same Python and eventlens as here (pip install
    'eventlens[cluster]'). Each worker needs the archive under the same address (a folder that all
    of them share, or an object store with its keys in their environment), about
    0.5 GB of memory, room for the dumps of a machine among the temporary files,
    and one thread. It needs no rights to write: this program alone writes.

    \b
      DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES=1 dask scheduler
      POLARS_MAX_THREADS=1 dask worker tcp://10.0.0.5:8786 --nworkers 8 \\
        --nthreads 1 --memory-limit 2GB

    The first keeps a log that kills workers from killing more than two before
    it is tried alone. Whoever reaches the scheduler can run programs on the
    workers: keep it within your own network, or give Dask its certificates and
    use tls://.

    \b
    Example:
      eventlens fleet history --json fleet.json --fail-on out_of_service
      eventlens fleet s3://bucket/hoists --cluster tcp://10.0.0.5:8786
      eventlens fleet history --period month --machine SAW-3
    """
    from eventlens.fleet.run import review_all
    from eventlens.fleet.tasks import spans_of
    from eventlens.report import fleet as report

    target_of(json, ())
    spans_of(period)
    with _telling(quiet=quiet) as tell:
        tell("waiting for workers")
        with closing(_executor(workers, cluster, time_limit, memory_limit)) as executor:
            found = review_all(archive, executor, period=period, machines=machine, retry=retry, progress=tell)
    data = found.to_json() if json else ""
    give(data, lambda: show(report.styled(found, width=width())), json, quiet=quiet)
    serious = 0 if fail_on is None else found.at_least(fail_on.value)["machine"].n_unique()
    if serious:
        if not quiet:
            say(f"eventlens: {serious} machine{'s' if serious > 1 else ''} with a finding of {fail_on} or worse")
        raise typer.Exit(FOUND)
    if not found.errors.is_empty():
        if not quiet:
            say(f"eventlens: {found.errors.height} error{'s' if found.errors.height > 1 else ''}")
        raise typer.Exit(FAULTY)


def _executor(
    workers: int | None, cluster: str | None, time_limit: float, memory_limit: float | None
) -> Pool | Cluster:
    """What the options ask for; EventlensError where they do not go together."""
    from eventlens.errors import EventlensError
    from eventlens.fleet.pool import Pool

    if cluster is None:
        memory = None if memory_limit is None else int(memory_limit * GIGABYTE)
        return Pool(workers, limit_s=time_limit, memory=memory)
    for flag, given in (("--workers", workers), ("--memory-limit", memory_limit)):
        if given is not None:
            raise EventlensError(f"no {flag} with --cluster", "both", "say it where its workers are begun")
    from eventlens.fleet.cluster import Cluster

    for name in ("distributed", "distributed.client"):  # what it has to say is said in one sentence
        logging.getLogger(name).setLevel(logging.CRITICAL)
    return Cluster(cluster, limit_s=time_limit)


@contextmanager
def _telling(*, quiet: bool) -> Iterator[Callable[[str], None]]:
    """Progress on a terminal as ever; without one, as in a nightly job, a line now and then."""
    if quiet or sys.stderr.isatty():
        with progress(quiet=quiet) as tell:
            yield tell
        return
    last = time.monotonic()

    def line(stage: str) -> None:
        nonlocal last
        if time.monotonic() - last >= EVERY_S:
            last = time.monotonic()
            say(f"eventlens: {stage}")

    yield line
