"""One task on a worker: it reads the archive itself, and gives back rows. It never raises: a fault is an answer."""

from __future__ import annotations

import io
import socket
from typing import Final

import polars as pl

from eventlens.archive.lake import Lake
from eventlens.archive.parts import lay_out
from eventlens.archive.tables import TABLES
from eventlens.archive.weekly import room
from eventlens.archive.weeks import program, reviewed
from eventlens.errors import ArchiveError, EventlensError, printable
from eventlens.fleet.executor import Reply
from eventlens.fleet.tasks import Task

MESSAGE: Final = 300
"""Characters of a fault of the program that are shown."""


def review(task: Task) -> Reply:
    """The reviews of a task. Where one of several ends in a fault, all do: they are then tried one by one."""
    try:
        if task.program != program():
            raise ArchiveError(f"eventlens {task.program} on each worker", program(), "install the same on all of them")
        with room() as folder:
            lake = Lake(task.archive)
            dumps = {dump.key: dump for one in task.wanted for dump in one.dumps}
            lay_out(
                lake, list(dumps.values()), folder
            )  # what the place refuses comes first, and is not the log's fault
            rows = reviewed(
                lake, task.machine, task.entries, task.wanted, folder, lambda stage: None, TABLES[task.table]
            )
            return Reply(_packed(pl.concat(rows)))
    except ArchiveError as fault:
        return Reply(fault=f"on {socket.gethostname()}: {fault}", lasting=False)
    except EventlensError as fault:
        return Reply(fault=str(fault))
    except (OSError, MemoryError) as fault:
        return Reply(fault=f"on {socket.gethostname()}: {failed(task, _short(fault), PLACE)}", lasting=False)
    except (KeyboardInterrupt, SystemExit):
        raise
    except BaseException as fault:  # a panic of Polars is no Exception
        return Reply(fault=failed(task, _short(fault), "report it with the dump: this is a fault of eventlens"))


PLACE: Final = "see whether the worker has room on its disk and in its memory"


def failed(task: Task, got: str, remedy: str) -> str:
    """What is said of a task that came to nothing."""
    return str(EventlensError(f"a review of {task}", got, remedy))


def rows_of(reply: Reply) -> pl.DataFrame:
    """The rows of an answer."""
    return pl.read_ipc(io.BytesIO(reply.rows or b""))


def _packed(rows: pl.DataFrame) -> bytes:
    target = io.BytesIO()
    rows.write_ipc(target, compression="zstd")
    return target.getvalue()


def _short(fault: BaseException) -> str:
    said = printable(" ".join(str(fault).split()))[:MESSAGE]
    return f"{type(fault).__name__}: {said}" if said else type(fault).__name__
