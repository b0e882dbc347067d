"""Guards the examples of the catalogue: each one shows its pattern, once and for certain, and the notation is exact."""

from __future__ import annotations

import polars as pl
import pytest

from eventlens import patterns
from eventlens.report.examples import log_of, parse, review_example

CATALOGUE = patterns.catalogue()
COMPARISONS = {"unusual_period"}
"""Patterns that compare the machine with itself and are never more than possible."""
TRIES = {"lost_function": 3}
"""Patterns of which one occurrence alone is none: each failing try is one."""


@pytest.mark.parametrize("name", sorted(CATALOGUE))
def test_every_pattern_has_an_example_that_shows_it_once(name: str) -> None:
    found = review_example(name).occurrences.filter(pl.col("pattern") == name)
    assert found.height == TRIES.get(name, 1)
    assert set(found["certainty"]) == {"possible" if name in COMPARISONS else "certain"}


def test_repeats_are_written_out_from_the_inside() -> None:
    example = parse("0.5 s\nhoist.raise.command .((#.)*2?)*2")
    assert example.lanes == {"hoist.raise.command": ".#.#.?#.#.?"}
    assert example.character_s == 0.5


def test_changes_become_records() -> None:
    log = log_of(parse("0.5 s\nhoist.raise.command ..##?\nload.kg*100 00110"))
    assert log.events.select("signal", "value").rows() == [
        ("hoist.raise.command", 0.0),
        ("load.kg", 0.0),
        ("hoist.raise.command", 1.0),
        ("load.kg", 100.0),
        ("hoist.raise.command", None),
        ("load.kg", 0.0),
    ]
    assert (log.events["time"] - log.start).dt.total_milliseconds().to_list() == [0, 0, 1000, 1000, 2000, 2000]


def test_a_hole_parts_the_log_and_a_step_moves_the_clock() -> None:
    log = log_of(parse("1 s\nhoist.raise.command ..#.....\nlog ...??.-."))
    assert log.segments.height == 3
    assert log.holes.height == 1
    assert (log.holes["end"] - log.holes["start"]).dt.total_seconds().to_list() == [3]
    assert log.clock_steps["seconds"].to_list() == [-3600.0]
    assert log.end < log.start


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("1 s\nhoist.raise.comand ..#", "no signal"),
        ("1 s\nhoist.raise.command ..#\nhoist.lower.command ..", "one length"),
        ("1 s\nhoist.raise.command (.#", "repeat"),
    ],
)
def test_a_slip_of_the_pen_is_told(text: str, fault: str) -> None:
    with pytest.raises(ValueError, match=fault):
        parse(text)
