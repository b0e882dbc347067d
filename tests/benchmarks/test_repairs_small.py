"""The score of comparisons in a small form: one machine over two short weeks, each thing done to it once."""

from __future__ import annotations

import pytest

from tests.benchmarks.repairs import CHANGES, machine, summary


@pytest.mark.parametrize(
    ("done", "exchanged"),
    [
        ("nothing", "stayed_with_place"),
        ("half", "stayed_with_place"),
        ("repair", "cannot_tell"),
        ("moved", "moved_with_part"),
    ],
)
def test_what_was_done_is_what_is_said(done: str, exchanged: str) -> None:
    told = machine((done, 3), days=4)
    changes = [row for row in told[2] if row[1] in CHANGES]
    assert told[3] == [exchanged]
    if done in ("nothing", "half"):
        assert changes == []
    if done == "repair":
        assert ("drop_out", "gone") in changes
    assert f"{done}: 1 machines" in "\n".join(summary([told]))
