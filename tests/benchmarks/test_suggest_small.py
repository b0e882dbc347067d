"""Guards the share of proposals that are right, on a few simulated machines, and the benchmark's own counting."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import polars as pl

from eventlens.reading.suggest import Proposal
from tests.benchmarks.suggest import LANGUAGES, Dump, labelled, names_in, score, unlabelled


def total(scores: dict[str, Counter[str]]) -> Counter[str]:
    return sum(scores.values(), Counter())


def test_names_that_say_nothing(tmp_path: Path) -> None:
    """The aim: 95 % of what can be told is right, under 1 % of all is wrong. Few seeds: three signals of slack."""
    found = total(unlabelled(range(3), "held out", 0.01, tmp_path))
    assert found["decidable"] > 60
    assert found["decidable right"] >= 0.95 * found["decidable"] - 3
    assert found["wrong"] + found["strangers taken"] <= 1


def test_names_of_the_trade(tmp_path: Path) -> None:
    found = labelled(range(1), 0.01, tmp_path)
    assert set(found) == {*LANGUAGES, "tags", "columns"}
    assert total(found)["wrong"] == 0
    assert all(found[language]["right"] == found[language]["signals"] for language in LANGUAGES)


def test_every_language_names_every_signal_once() -> None:
    for language in LANGUAGES:
        names = names_in(language)
        assert len(names) == len(set(names.values())) == 36, language


def test_counting() -> None:
    truth = {"a": "overload.trip", "b": "hoist.raise.contactor", "c": None, "d": "stop.emergency", "e": "rope.slack"}
    dump = Dump(pl.DataFrame(), truth, frozenset({"d"}), frozenset({"a", "b"}))
    proposals = [
        Proposal("a", "overload.trip", False, 0.9, ""),
        Proposal("b", None, False, 0.4, "", ("hoist.raise.contactor", "hoist.lower.contactor")),
        Proposal("c", "rope.slack", False, 0.9, ""),
        Proposal("d", "stop.emergency", False, 0.9, ""),  # its contact is inverted: wrong
    ]
    found = score(dump, {name: name for name in truth}, proposals)
    assert (found["right"], found["wrong"], found["open"], found["kind known"]) == (1, 1, 2, 1)
    assert (found["strangers"], found["strangers taken"]) == (1, 1)
    assert (found["decidable"], found["decidable right"], found["decidable open"]) == (2, 1, 1)
