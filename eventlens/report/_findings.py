"""Section of the report: the findings, the most serious first, each with what proves it."""

from __future__ import annotations

from typing import Any

from eventlens import patterns
from eventlens.contract import rests_on_proposed
from eventlens.report.lines import Page
from eventlens.report.words import SEVERITY, Clock, figure, lines_of
from eventlens.result import Review

KEY = ("pattern", "motion", "signal")
PROPOSED = "rests on proposed signals: nobody has confirmed what the names stand for"


def write(page: Page, review: Review, clock: Clock) -> None:
    """Every finding, numbered, under the heading of its severity."""
    if review.findings.is_empty():
        page.heading("Findings")
        page.say("None among the patterns that could be assessed.", "  ")
    first_rows = {
        tuple(row[name] for name in KEY): row["rows"]
        for row in review.occurrences.unique(KEY, keep="first", maintain_order=True).iter_rows(named=True)
    }
    under = None
    for number, finding in enumerate(review.findings.iter_rows(named=True), 1):
        if finding["severity"] != under:
            under = finding["severity"]
            page.gap()
            page.say(SEVERITY[under].capitalize(), style=under)
        _finding(page, number, finding)
        if rests_on_proposed(review.log, finding["motion"], finding["signal"]):
            page.say(PROPOSED, "     ")
        proof = lines_of(first_rows[tuple(finding[name] for name in KEY)], review.log.files)
        page.say(f"first {clock(finding['first'])} ({proof}), last {clock(finding['last'])}", "     ")


def _finding(page: Page, number: int, finding: dict[str, Any]) -> None:
    page.say(finding["summary"], f"{number:>3}. ")
    about = f"signal {finding['signal']}; " if finding["signal"] else ""
    page.say(about + _how_sure(finding["count"], finding["certain_count"]) + _how_often(finding), "     ")
    if usually := patterns.catalogue()[finding["pattern"]].usually:
        page.say(f"usually: {usually}", "     ")


def _how_sure(count: int, certain: int) -> str:
    if certain == count:
        return f"count {count} (certain)"
    sure = f"{certain} certain, {count - certain} possible" if certain else "possible only"
    return f"count {count} ({sure})"


def _how_often(finding: dict[str, Any]) -> str:
    if finding["rate_per_hour"] is None:
        return ""
    value, low, high = (figure(finding[name]) for name in ("rate_per_hour", "rate_low", "rate_high"))
    return f"; {value} per observed hour (95 % limits {low} to {high})"
