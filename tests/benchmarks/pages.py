"""How quickly the review page answers on large weeks: from the reader's input until the lanes are drawn.

    python -m tests.benchmarks.pages [--events 500000 10000000] [--rounds 3] [--write FILE]

Reviews a log of an invented working life, serves its page on this computer and opens it in Chromium. First view is the
time from the address to drawn lanes; then every button of the lanes, findings and occurrences are used in turn, and for
each the time from the click until the lanes have been drawn anew is taken in the browser, with the bytes that came.
Aim: 98 in a hundred under 200 ms, under 150 KB each, first view under 2 s.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, Final

import polars as pl
from playwright.sync_api import Page

import dashboards
import eventlens
from dashboards.pages.week import ids
from tests.benchmarks.speed import write
from tests.dashboards.browser import browsing, served

AIM_MS: Final = 200
AIM_KB: Final = 150
STEPS: Final = (
    *(ids.ZOOM_IN,) * 6,
    *(ids.LATER,) * 3,
    *(ids.EARLIER,) * 2,
    *(ids.ZOOM_IN,) * 4,
    *(ids.ZOOM_OUT,) * 5,
    ids.WHOLE,
)
OCCURRENCES: Final = 5
"""Steps through the occurrences of each finding."""

MEASURE: Final = """([pressed, lanes]) => new Promise(done => {
    const drawn = document.querySelector(`#${lanes} .js-plotly-plot`);
    performance.clearResourceTimings();
    const begun = performance.now();
    let last = null, quiet = null;
    const end = () => {
        drawn.removeListener("plotly_afterplot", plotted);
        const answers = performance.getEntriesByType("resource").filter(one => one.name.includes("_dash-update"));
        done({ms: last - begun, bytes: answers.reduce((sum, one) => sum + one.encodedBodySize, 0)});
    };
    const plotted = () => requestAnimationFrame(() => {
        last = performance.now();
        clearTimeout(quiet);
        quiet = setTimeout(end, 400);
    });
    drawn.on("plotly_afterplot", plotted);
    setTimeout(() => { if (last === null) { drawn.removeListener("plotly_afterplot", plotted); done(null); } }, 15000);
    document.querySelector(pressed).click();
})"""
"""Clicks, and resolves once the lanes were drawn and stay as they are; null where they are not drawn anew."""


def main(arguments: Sequence[str] | None = None) -> None:
    """Prints a row for each kind of interaction and each size."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--events", type=float, nargs="+", default=[5e5, 1e7])
    asked.add_argument("--rounds", type=int, default=3)
    asked.add_argument("--write", type=Path)
    given = asked.parse_args(arguments)
    rows = pl.DataFrame([row for events in given.events for row in measured(int(events), given.rounds)])
    table = summary(rows)
    with pl.Config(tbl_rows=-1, tbl_cols=-1, tbl_hide_dataframe_shape=True):
        print(table)
    if given.write:
        table.write_csv(given.write)


def measured(events: int, rounds: int) -> Iterator[dict[str, Any]]:
    """(events, kind, ms, kb) of every interaction."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write(folder, events)
        review = eventlens.review(folder / "log.csv", folder / "profile.toml", folder / "machine.toml")
    with served(dashboards.create_app(review)) as address:
        for _ in range(rounds):
            with browsing() as (opened, _, _):
                for kind, took in interactions(opened, f"{address}/"):
                    yield {"events": events, "kind": kind, "ms": took["ms"], "kb": took["bytes"] / 1000}


def interactions(opened: Page, address: str) -> Iterator[tuple[str, dict[str, float]]]:
    """Each interaction of one visit with its time and bytes."""
    yield "first view", _first(opened, address)
    for button in STEPS:
        yield from _one("zoom and move", opened, f"#{button}")
    findings = opened.locator(f"#{ids.FINDINGS} .ag-center-cols-container .ag-row").count()
    for at in range(findings):
        yield from _one("choose a finding", opened, f"#{ids.FINDINGS} .ag-row[row-index='{at}'] [col-id='pattern']")
        for _ in range(OCCURRENCES):
            if opened.locator(f"#{ids.NEXT}").is_visible():
                yield from _one("next occurrence", opened, f"#{ids.NEXT}")


def _first(opened: Page, address: str) -> dict[str, float]:
    opened.goto(address, wait_until="commit")
    opened.wait_for_selector(f"#{ids.LANES} .main-svg", timeout=120_000)
    took = opened.evaluate("performance.now()")
    opened.wait_for_timeout(2000)
    bytes_ = opened.evaluate(
        "performance.getEntriesByType('resource').filter(one => one.name.includes('_dash-update'))"
        ".reduce((sum, one) => sum + one.encodedBodySize, 0)"
    )
    return {"ms": took, "bytes": bytes_}


def _one(kind: str, opened: Page, pressed: str) -> Iterator[tuple[str, dict[str, float]]]:
    took = opened.evaluate(MEASURE, [pressed, ids.LANES])
    if took is not None:  # a button at the end of its way moves nothing
        yield kind, took


def summary(rows: pl.DataFrame) -> pl.DataFrame:
    """Of each kind: how many, median, 98th percentile and largest time [ms], share within the aim, largest answer."""
    return (
        rows.group_by("events", "kind", maintain_order=True)
        .agg(
            pl.len().alias("times"),
            pl.col("ms").median().round(0).alias("median_ms"),
            pl.col("ms").quantile(0.98, "higher").round(0).alias("p98_ms"),
            pl.col("ms").max().round(0).alias("most_ms"),
            (pl.col("ms") <= AIM_MS).mean().round(3).alias("within_aim"),
            pl.col("kb").max().round(1).alias("most_kb"),
            (pl.col("kb") <= AIM_KB).mean().round(3).alias("kb_within_aim"),
        )
        .sort("events", maintain_order=True)
    )


if __name__ == "__main__":
    main()
