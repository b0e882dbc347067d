"""Reviews for the tests of the reports: a few runs, counted by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import polars as pl

from eventlens import schema
from eventlens.machine import Machine
from eventlens.reading.log import Log
from eventlens.result import Review
from eventlens.wiring import review_log
from tests.logs import HOIST, make_log, merged, off, run

Records = Sequence[tuple[float, str, float | None]]


def records() -> Records:
    """Two ordinary runs of the hoist, and one from 50 to 51 s that drops out while the button is held to 55 s."""
    dropped = run(50, 51, command=(49.95, 55.0), brake=(50.1, 50.9))
    return merged(off(*HOIST), run(10, 15), run(30, 35, "lower"), dropped)


def plain_log(**options: Any) -> Log:
    """The log of these; one hour unless told otherwise."""
    return make_log(records(), **{"end": 3600.0, **options})


def reviewed(log: Log | None = None, **plate: Any) -> Review:
    """Its review for a machine with this plate."""
    return review_log(log or plain_log(), Machine.model_validate({"machine": {"id": "SAW-3", **plate}}))


def with_rejected(log: Log, *rows: tuple[int, str]) -> Log:
    """The log with rows set aside (row, reason)."""
    table = pl.DataFrame(
        [{"row": row, "reason": reason, "text": "?"} for row, reason in rows], schema=schema.REJECTED.schema
    )
    return replace(log, rejected=table)
