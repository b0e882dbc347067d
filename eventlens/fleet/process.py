"""A process of the pool: one thread, one task at a time, gone as soon as nobody asks any more.

It must be loaded before Polars is: that reads how many threads it may use when it is loaded.
"""

from __future__ import annotations

import os
import signal
from multiprocessing.connection import Connection
from typing import Final

READY: Final = "ready"
"""Its first word: all that it needs is loaded."""
ENVIRONMENT: Final = {"POLARS_MAX_THREADS": "1", "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
"""As many processes as cores, each with one thread: several would only wait for each other."""


def serve(pipe: Connection) -> None:
    """Takes the function that does the work, then a task at a time, and answers each."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the program that asked decides what an interrupt means
    os.environ.update(ENVIRONMENT)
    try:
        work = pipe.recv()
        pipe.send(READY)
        while True:
            pipe.send(work(pipe.recv()))
    except (EOFError, ConnectionError):  # whoever asked is gone
        return
