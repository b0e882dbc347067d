"""How quickly the review page answers on large weeks: from the reader's input until the lanes are drawn.

    python -m tests.benchmarks.pages [--events 500000 10000000] [--rounds 3] [--write FILE]

Reviews an invented week of that many events (`busy_week`), serves its page on this computer and opens it in Chromium.
First view is the time from the address to drawn lanes; then buttons of the lanes, findings and occurrences are used in
turn, and for each the time from the click until the lanes have been drawn anew is taken in the browser. Beside it
stands what is worked for it: CPU time of the server's answers, how many there were and their compressed bytes, and CPU
time of the page's main thread (the library's bookkeeping and drawing together). Wall times mean something on a machine
that does nothing else; CPU times mean something on any.
Aim: 98 in a hundred under 200 ms, under 150 KB each, first view under 2 s.
"""

from __future__ import annotations

import argparse
import tempfile
import threading
import time
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any, Final

import polars as pl
from playwright.sync_api import CDPSession, Page

import dashboards
import eventlens
from dashboards.pages.week import ids
from tests.benchmarks.busy_week import write
from tests.dashboards.browser import browsing, served

AIM_MS: Final = 200
FIRST_MS: Final = 2000
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
        done({ms: last - begun, kb: answers.reduce((sum, one) => sum + one.encodedBodySize, 0) / 1000});
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

FIRST: Final = """lanes => {
    const look = () => {
        const drawn = document.querySelector(`#${lanes} .js-plotly-plot`);
        const there = drawn && drawn.querySelector(".cartesianlayer image, .cartesianlayer .point path");
        if (there) requestAnimationFrame(() => { window.firstView = performance.now(); });
        else requestAnimationFrame(look);
    };
    look();
}"""
"""Notes when the lanes are there: states, not an empty chart."""


class Timed:
    """A WSGI application that notes what each of its answers takes."""

    def __init__(self, application: Any) -> None:
        self.application = application
        self._lock = threading.Lock()
        self._taken: list[float] = []

    def __call__(self, environ: Any, start: Any) -> Iterable[bytes]:
        """The answer of the application; its CPU time is noted where it answers a question of the page."""
        begun = time.thread_time()
        answer = list(self.application(environ, start))
        if environ["PATH_INFO"].startswith("/_dash-update"):
            with self._lock:
                self._taken.append(1000 * (time.thread_time() - begun))
        return answer

    def taken(self) -> dict[str, float]:
        """Number and CPU time [ms] of the answers since this was last asked."""
        with self._lock:
            taken, self._taken = self._taken, []
        return {"answers": len(taken), "server_cpu_ms": sum(taken)}


class Visit:
    """A page that is looked at, with what was worked for it."""

    def __init__(self, opened: Page, timed: Timed) -> None:
        self.opened, self._timed = opened, timed
        self._session: CDPSession = opened.context.new_cdp_session(opened)
        self._session.send("Performance.enable", {"timeDomain": "threadTicks"})

    def _busy_ms(self) -> float:
        metrics = self._session.send("Performance.getMetrics")["metrics"]
        return 1000 * next(one["value"] for one in metrics if one["name"] == "TaskDuration")

    def first(self, address: str) -> dict[str, float]:
        """Opens the page: time until its lanes are there [ms], bytes of the answers [KB], what was worked."""
        self._timed.taken()
        self.opened.add_init_script(f"({FIRST})('{ids.LANES}')")
        self.opened.goto(address, wait_until="commit")
        self.opened.wait_for_function("window.firstView", timeout=120_000)
        self.opened.wait_for_timeout(2000)
        kb = self.opened.evaluate(
            "performance.getEntriesByType('resource').filter(one => one.name.includes('_dash-update'))"
            ".reduce((sum, one) => sum + one.encodedBodySize, 0) / 1000"
        )
        ms = self.opened.evaluate("window.firstView")
        return {"ms": ms, "kb": kb, **self._timed.taken(), "browser_cpu_ms": self._busy_ms()}

    def press(self, pressed: str) -> dict[str, float] | None:
        """Clicks, and waits for the lanes; None where these stay: a button at the end of its way moves nothing."""
        self._timed.taken()
        before = self._busy_ms()
        took: dict[str, float] | None = self.opened.evaluate(MEASURE, [pressed, ids.LANES])
        return took and {**took, **self._timed.taken(), "browser_cpu_ms": self._busy_ms() - before}


def main(arguments: Sequence[str] | None = None) -> None:
    """Prints a row for each kind of interaction and each size."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--events", type=float, nargs="+", default=[5e5, 1e7])
    asked.add_argument("--rounds", type=int, default=3)
    asked.add_argument("--write", type=Path)
    given = asked.parse_args(arguments)
    rows = pl.DataFrame([row for events in given.events for row in measured(int(events), given.rounds)])
    table = summary(rows)
    with pl.Config(tbl_rows=-1, tbl_cols=-1, tbl_hide_dataframe_shape=True, tbl_width_chars=200):
        print(table)
    if given.write:
        table.write_csv(given.write)


def measured(events: int, rounds: int) -> Iterator[dict[str, Any]]:
    """(events, kind, ms, kb, answers, server_cpu_ms, browser_cpu_ms) of every interaction."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write(folder, events)
        review = eventlens.review(folder / "log.csv", folder / "profile.toml", folder / "machine.toml")
    app = dashboards.create_app(review)
    timed = Timed(app.server.wsgi_app)
    app.server.wsgi_app = timed  # type: ignore[method-assign]
    with served(app) as address:
        for _ in range(rounds):
            with browsing() as (opened, _, _):
                for kind, took in interactions(Visit(opened, timed), f"{address}/"):
                    yield {"events": events, "kind": kind, **took}


def interactions(visit: Visit, address: str) -> Iterator[tuple[str, dict[str, float]]]:
    """Each interaction of one visit with what it took."""
    yield "first view", visit.first(address)
    for button in STEPS:
        yield from _one("zoom and move", visit, f"#{button}")
    findings = visit.opened.locator(f"#{ids.FINDINGS} .ag-center-cols-container .ag-row").count()
    for at in range(findings):
        yield from _one("choose a finding", visit, f"#{ids.FINDINGS} .ag-row[row-index='{at}'] [col-id='pattern']")
        for _ in range(OCCURRENCES):
            if visit.opened.locator(f"#{ids.NEXT}").is_visible():
                yield from _one("next occurrence", visit, f"#{ids.NEXT}")


def _one(kind: str, visit: Visit, pressed: str) -> Iterator[tuple[str, dict[str, float]]]:
    took = visit.press(pressed)
    if took is not None:
        yield kind, took


def summary(rows: pl.DataFrame) -> pl.DataFrame:
    """Of each kind: how many, times [ms], share within the aim, largest answers [KB], and what was worked for one."""
    aim = pl.when(pl.col("kind") == "first view").then(FIRST_MS).otherwise(AIM_MS)
    return (
        rows.with_columns(aim=aim)
        .group_by("events", "kind", maintain_order=True)
        .agg(
            pl.len().alias("times"),
            pl.col("ms").median().round(0).alias("median_ms"),
            pl.col("ms").quantile(0.98, "higher").round(0).alias("p98_ms"),
            pl.col("ms").max().round(0).alias("most_ms"),
            (pl.col("ms") <= pl.col("aim")).mean().round(3).alias("within_aim"),
            pl.col("kb").max().round(1).alias("most_kb"),
            (pl.col("kb") <= AIM_KB).mean().round(3).alias("kb_within_aim"),
            pl.col("answers").median().alias("answers"),
            pl.col("server_cpu_ms").median().round(1).alias("server_cpu_ms"),
            pl.col("browser_cpu_ms").median().round(0).alias("browser_cpu_ms"),
        )
        .sort("events", maintain_order=True)
    )


if __name__ == "__main__":
    main()
