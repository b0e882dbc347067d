"""Guards `eventlens patterns`: every pattern is in the catalogue, and a mistyped name is met with the nearest."""

from __future__ import annotations

import pytest

from eventlens import patterns
from tests.cli.runner import ran

Capture = pytest.CaptureFixture[str]


def test_every_pattern_is_one_line_of_the_catalogue(capsys: Capture) -> None:
    done = ran(capsys, "patterns")
    assert (done.status, done.err) == (0, "")
    assert [line.split()[0] for line in done.out.splitlines()] == sorted(patterns.catalogue())


@pytest.mark.parametrize("name", sorted(patterns.catalogue()))
def test_each_pattern_is_explained(name: str, capsys: Capture) -> None:
    done = ran(capsys, "patterns", name)
    assert done.status == 0
    assert done.out.startswith(f"{name}: {patterns.catalogue()[name].title}\n")


def test_a_name_that_is_not_known(capsys: Capture) -> None:
    done = ran(capsys, "patterns", "joging")
    assert done == (1, "", "eventlens: wanted the name of a pattern, got 'joging'; did you mean 'jogging'?\n")
