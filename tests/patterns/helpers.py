"""Reviews small logs built by hand and gives back what one pattern found."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any

import polars as pl

from eventlens.machine import Machine
from eventlens.reading.log import Log
from eventlens.result import Review
from eventlens.signals import STATES
from eventlens.wiring import review_log
from tests.logs import HOIST, Records, make_log, off

M5 = Machine.model_validate({"machine": {"id": "SAW-3", "group": "M5", "trolley_group": "M5"}})


def logged(records: Records, carries: Iterable[str] = HOIST, **options: Any) -> Log:
    """A log that carries the signals, and those of the records, from its beginning; off unless a record says else."""
    begun = {name for when, name, _ in records if when == 0}
    names = dict.fromkeys([*carries, *(name for _, name, _ in records if name in STATES)])
    return make_log([*off(*(name for name in names if name not in begun)), *records], **({"end": 4000} | options))


def reviewed(records: Records, carries: Iterable[str] = HOIST, machine: Machine = M5, **options: Any) -> Review:
    return review_log(logged(records, carries, **options), machine)


def as_json(review: Review) -> dict[str, Any]:
    """What the JSON text of a review holds."""
    read: dict[str, Any] = json.loads(review.to_json())
    return read


def found(pattern: str, review: Review) -> pl.DataFrame:
    return review.occurrences.filter(pl.col("pattern") == pattern)


def spans(pattern: str, review: Review) -> list[tuple[Any, ...]]:
    """(start, end, certainty) of each occurrence."""
    return found(pattern, review).select("start", "end", "certainty").rows()


def limits(**changed: float) -> Machine:
    """SAW-3 with limits of its own."""
    return Machine.model_validate({"machine": {"id": "SAW-3", "group": "M5"}, "limits": changed})


def why(pattern: str, review: Review) -> list[tuple[Any, ...]]:
    return review.not_assessed.filter(pl.col("pattern") == pattern).select("motion", "why", "needs").rows()
