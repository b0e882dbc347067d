"""Guards the text of the catalogue: every pattern, each with all that a reader needs to judge it."""

from __future__ import annotations

import pytest

from eventlens import patterns
from eventlens.errors import EventlensError
from eventlens.report import catalogue
from eventlens.report.words import SEVERITY

NAMES = sorted(patterns.catalogue())


def test_overview_has_one_line_for_each_pattern() -> None:
    lines = catalogue.overview().splitlines()
    assert [line.split()[0] for line in lines] == NAMES
    for line, name in zip(lines, NAMES, strict=True):
        assert patterns.catalogue()[name].title in line
        assert line.endswith(patterns.catalogue()[name].meaning.partition(": ")[2])


def test_overview_can_be_wrapped() -> None:
    assert max(map(len, catalogue.overview(width=80).splitlines())) <= 80


@pytest.mark.parametrize("name", NAMES)
def test_entry_is_complete(name: str) -> None:
    pattern = patterns.catalogue()[name]
    page = catalogue.entry(name)
    words = " ".join(page.split())
    assert max(map(len, page.splitlines())) <= 80
    assert words.startswith(f"{name}: {pattern.title}")
    assert " ".join(pattern.text.split()) in words
    assert f"{SEVERITY[pattern.severity]}: {pattern.why_severity}" in words
    assert f"usually {pattern.usually}" in words
    for way in pattern.needs:
        for signal in way:
            named = signal.replace("{motion}", "MOTION").replace("*", "DIRECTION").replace("+", "DIRECTION (both)")
            assert named in words
    for limit in pattern.limits:
        assert f"{limit.name} = {limit.default:g} {limit.unit} source: {limit.source} trade: {limit.trade}" in words


def test_settings_and_record_that_a_pattern_needs_are_named() -> None:
    assert "[machine] group" in catalogue.entry("starts_per_hour_high")
    assert "60.0 min" in catalogue.entry("starts_per_hour_high")
    assert "heartbeat" in catalogue.entry("log_hole")
    assert "larger than jog_longest_s" in catalogue.entry("jogging")
    assert "none of its own" in catalogue.entry("log_hole")


def test_unknown_name_hints_at_the_nearest() -> None:
    with pytest.raises(EventlensError, match=r"wanted the name of a pattern, got 'joging'; did you mean 'jogging'\?"):
        catalogue.entry("joging")
