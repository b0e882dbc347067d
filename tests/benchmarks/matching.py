"""One-to-one matching of what was found with what happened."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import polars as pl
from scipy.optimize import linear_sum_assignment

AGREE_S: Final = 0.06
"""Ends agree within this, or within two log steps where these are coarser [s]."""
OVERLAP: Final = 0.5
"""Or the spans' intersection is at least this share of their union."""


@dataclass(frozen=True)
class Matches:
    """One-to-one pairs of truth and found spans, as row numbers of the two frames."""

    pairs: tuple[tuple[int, int], ...]
    missed: tuple[int, ...]
    """Rows of the truth without a partner."""
    spurious: tuple[int, ...]
    """Found rows without a partner."""
    start_errors_s: tuple[float, ...]
    """Found start minus true start of each pair [s]."""
    end_errors_s: tuple[float, ...]


def match(truth: pl.DataFrame, found: pl.DataFrame, step_s: float) -> Matches:
    """As many one-to-one pairs as possible, among equally many those with the smallest errors of their ends.

    Both frames have pattern, motion, start and end; their order does not matter and they are not changed.
    """
    pairs: list[tuple[int, int]] = []
    keys = ("pattern", "motion")
    places = [
        frame.with_row_index("place").select("place", pl.col(keys).cast(pl.String)).partition_by(keys, as_dict=True)
        for frame in (truth, found)
    ]
    spans = [_microseconds(frame) for frame in (truth, found)]
    for key in places[0].keys() & places[1].keys():
        rows, columns = (part[key]["place"].to_numpy() for part in places)
        pairs += _pair_up(spans[0][rows], spans[1][columns], step_s, rows, columns)
    pairs.sort()
    here, there = {a for a, _ in pairs}, {b for _, b in pairs}
    return Matches(
        tuple(pairs),
        tuple(row for row in range(truth.height) if row not in here),
        tuple(row for row in range(found.height) if row not in there),
        tuple(float(spans[1][b, 0] - spans[0][a, 0]) / 1e6 for a, b in pairs),
        tuple(float(spans[1][b, 1] - spans[0][a, 1]) / 1e6 for a, b in pairs),
    )


def _microseconds(frame: pl.DataFrame) -> Any:
    return frame.select(pl.col("start", "end").dt.epoch("us")).to_numpy().reshape(-1, 2)


def _pair_up(truth: Any, found: Any, step_s: float, rows: Any, columns: Any) -> list[tuple[int, int]]:
    """Pairs of one pattern and motion: maximum bipartite matching by assignment with bonus for each allowed pair."""
    errors = np.abs(truth[:, None, :] - found[None, :, :])
    ends_agree = (errors <= round(1e6 * max(2 * step_s, AGREE_S))).all(axis=2)
    inner = np.minimum(truth[:, None, 1], found[None, :, 1]) - np.maximum(truth[:, None, 0], found[None, :, 0])
    outer = np.maximum(truth[:, None, 1], found[None, :, 1]) - np.minimum(truth[:, None, 0], found[None, :, 0])
    allowed = ends_agree | ((outer > 0) & (inner >= OVERLAP * outer))
    penalty = errors.sum(axis=2) / 1e6
    # an allowed pair is worth more than all penalties together, so the number of pairs comes first
    worth = np.where(allowed, 1.0 - 0.5 * penalty / (1.0 + penalty) / (1 + min(allowed.shape)), 0.0)
    chosen = linear_sum_assignment(worth, maximize=True)
    return [(int(rows[a]), int(columns[b])) for a, b in zip(*chosen, strict=True) if allowed[a, b]]
