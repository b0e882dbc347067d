"""Writes the generated parts of README.md anew: what stands between a pair of marks comes from the program.

python -m tests.readme
"""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import cache
from itertools import takewhile
from pathlib import Path
from typing import Any, Final

import polars as pl

from eventlens import review
from eventlens.report import catalogue, life, text, words
from eventlens.report.lines import Page
from eventlens.report.words import Clock
from eventlens.result import Review
from tests.readme_causes import causes

ROOT: Final = Path(__file__).parent.parent
README: Final = ROOT / "README.md"
ACCURACY: Final = ROOT / "tests" / "benchmarks" / "results" / "accuracy.csv"
"""The whole table of the accuracy benchmark, a row for each pattern, step and damage."""
DAMAGED_STEP_S: Final = 0.01
"""Step of the damaged logs that README shows [s]: every damage is made at it."""
DELAY: Final = ACCURACY.with_name("delay.csv")
"""How soon an occurrence is certain, a row for each pattern."""
FOLLOW: Final = ACCURACY.with_name("follow.csv")
"""What following costs, a row for each figure."""
SPEED: Final = ACCURACY.with_name("speed.csv")
"""How long the review and other ways to the same numbers take, a row for each size, file and way."""
PAGES: Final = ACCURACY.with_name("pages.csv")
"""How quickly the page of a review answers in a browser, a row for each size and kind of answer."""
RULES: Final = ACCURACY.with_name("rules.csv")
"""What N and T of each rule "N times in T" cost, a row for each choice."""


def accuracy() -> str:
    """The summary of the accuracy table: clean logs by step, damaged logs by damage."""
    cells = pl.read_csv(ACCURACY)
    clean = _summed(cells.filter(pl.col("damage") == "clean"), "step_s")
    damaged = _summed(cells.filter((pl.col("damage") != "clean") & (pl.col("step_s") == DAMAGED_STEP_S)), "damage")
    head = (
        "| {} | happened | found | called certain | of these right | worst pattern | decidable, found | worst pattern |"
    )
    rule = "|---|---|---|---|---|---|---|---|"
    lines = [head.format("clean log, step"), rule, *(_line(f"{row['step_s']:g} s", row) for row in clean)]
    lines += ["", head.format(f"damaged log, step {DAMAGED_STEP_S:g} s"), rule]
    return "\n".join([*lines, *(_line(row["damage"], row) for row in damaged)]) + "\n"


def _summed(cells: pl.DataFrame, by: str) -> list[dict[str, Any]]:
    """One row for each value of a column: sums over the patterns, and the pattern that does worst."""

    def lowest(share: str) -> pl.Expr:
        ranked = pl.col("pattern").sort_by(pl.col(share).fill_null(2.0), maintain_order=True).first()
        return pl.struct(ranked, pl.col(share).min().alias("share"))

    return (
        cells.group_by(by, maintain_order=True)
        .agg(
            pl.col("truths", "found", "certain", "certain_matched", "decided", "decided_matched").sum(),
            worst_certain=lowest("certain_precision"),
            worst_decided=lowest("decided_recall"),
        )
        .sort(by)
        .to_dicts()
    )


def _line(name: str, row: dict[str, Any]) -> str:
    def share(part: str, of: str) -> str:
        whole = int(str(row[of]))
        return f"{int(str(row[part])) / whole:.4f}" if whole else "-"

    def worst(key: str) -> str:
        found = row[key]
        assert isinstance(found, dict)
        return f"{found['pattern']} {found['share']:.3f}" if found["share"] is not None and found["share"] < 1 else "-"

    return (
        f"| {name} | {row['truths']} | {row['found']} | {row['certain']} | {share('certain_matched', 'certain')} | "
        f"{worst('worst_certain')} | {share('decided_matched', 'decided')} | {worst('worst_decided')} |"
    )


SAMPLE: Final = ROOT / "sample_logs" / "SAW-3"
SEEN: Final = ("runs", "busiest hour", "cyclic duration", "runs ended")
"""What the README's first look shows of the hoist."""
SEEN_FINDING: Final = "speed_change_missing"
SEEN_COMPLAINT: Final = "Why does the hoist change speed wrongly?"
SHOWN: Final = (
    "starts an hour",
    "load spectrum",
    "group needed",
    "safe period",
    "used up",
    "motor heat",
    "raise contactor",
    "brake",
)
"""What the README shows of the life of the sample machine."""


@cache
def reviewed_sample() -> Review:
    return review([SAMPLE / "2026-W16.csv"], SAMPLE / "profile.toml", SAMPLE / "machine.toml")


def first_look() -> str:
    """Parts of the review of the sample machine as it prints them: the hoist, one finding, one cause, one check."""
    reviewed = reviewed_sample()
    lines = text.render(reviewed).splitlines()
    number = reviewed.findings["pattern"].to_list().index(SEEN_FINDING) + 1
    finding = _under(lines, f"{number:>3}. ")
    severity = words.SEVERITY[reviewed.findings["severity"][number - 1]].capitalize()
    check = _under(lines, "Next check")
    caution = next(place for place, line in enumerate(check) if line.startswith("  ! "))
    parts = [
        lines[:2],
        ["Hoist", *(line for label in SEEN for line in _under(_under(lines, "Hoist"), f"  {label} "))],
        [severity, *finding],
        ["Likely causes", *_under(lines, f"  {SEEN_COMPLAINT}")],
        [*check[:caution], *_under(check[caution:], "  ! "), "  ..."],
    ]
    return "```\n" + "\n\n".join("\n".join(part) for part in parts) + "\n```\n"


def _under(lines: list[str], head: str) -> list[str]:
    """The line that begins with `head` and all after it that stand further in. ValueError where there is none."""
    places = [place for place, line in enumerate(lines) if line.startswith(head)]
    if not places:
        raise ValueError(f"wanted a line '{head.strip()}...' in the review of the sample, got none; choose another")
    first, edge = places[0], len(head) - len(head.lstrip())
    rest = takewhile(lambda line: line.startswith(" " * (edge + 1)), lines[first + 1 :])
    return [lines[first], *rest]


def of_sample() -> str:
    """Some lines of the life of the sample machine, as the review prints them."""
    reviewed = reviewed_sample()
    page = Page(80)
    for label, fact in life.facts(reviewed.life["hoist"], Clock.of(reviewed.log)):
        if label in SHOWN:
            page.pair(label, fact)
    return f"```\n{page.text()}```\n"


def follow() -> str:
    """Rate, delays, memory and second thoughts of following, from the figures of its benchmark."""
    figure = dict(pl.read_csv(FOLLOW).iter_rows())
    again = {name.removeprefix("second thoughts: "): value for name, value in figure.items() if "thoughts" in name}
    told, looks, days = again.pop("found"), again.pop("looks"), again.pop("days")

    def both(name: str) -> str:
        return f"{figure[f'live: {name} median [s]']:.1f} / {figure[f'live: {name} p99 [s]']:.1f} s"

    said = {name.replace(" ", ": ", 1): value for name, value in again.items()}
    thoughts = "; ".join(f"{value:.0f} {name}" for name, value in said.items()) or "none"
    rows = {
        f"log of {figure['days']:.0f} days that is there at the beginning": (
            f"{figure['caught up: lines per s of the core']:,.0f} lines a second of one core"
        ),
        "cost of a look (median / p99)": f"{both('look, of the core')} of one core",
        f"from the line that settles a finding until it is told (median / p99 of {figure['live: findings']:.0f})": both(
            "program"
        ),
        "of the log after its end until that line (median / p99)": both("needed"),
        f"memory, {figure['lines']:,.0f} lines of {figure['days']:.0f} days": f"{figure['memory [MB]']:.0f} MB",
        f"told again, of {told:.0f} findings in {days:.0f} days and {looks:.0f} looks": thoughts,
    }
    return "\n".join(["| measured | |", "|---|---|", *(f"| {name} | {value} |" for name, value in rows.items())]) + "\n"


def delay() -> str:
    """How soon occurrences are certain: patterns by their median delay, with the longest and what never was."""
    table = pl.read_csv(DELAY)
    lines = ["| certain after (median) | patterns (longest delay, where longer) |", "|---|---|"]
    for (median,), part in (
        table.filter(pl.col("median_s").is_not_null())
        .sort("median_s", "pattern")
        .group_by("median_s", maintain_order=True)
    ):
        lines.append(f"| {_wait(median)} | {', '.join(_waited(row) for row in part.to_dicts())} |")
    if (never := table.filter(pl.col("median_s").is_null())).height:
        lines.append(f"| not within an hour | {', '.join(f'`{name}`' for name in never['pattern'])} |")
    return "\n".join(lines) + "\n"


def _wait(seconds: Any) -> str:
    return "at its end" if seconds == 0 else f"{seconds:g} s" if seconds < 120 else f"{seconds / 60:g} min"


def _waited(row: dict[str, Any]) -> str:
    longer = [_wait(row["longest_s"])] if row["longest_s"] > row["median_s"] else []
    never = [f"{row['never']} of {row['number']} not within an hour"] if row["never"] else []
    return f"`{row['pattern']}`" + (f" ({', '.join(longer + never)})" if longer or never else "")


def rules() -> str:
    """What each choice of N and T costs: a row for each N, a column for each T that makes a difference, by rule."""
    lines = []
    table = pl.read_csv(RULES)
    for key, part in table.group_by("pattern", "number", "time", "faulty", "neighbour", maintain_order=True):
        pattern, number, time, faulty, alike = key
        columns = _columns(part)
        heads = [f"T = {times[0]:g}" + (f" to {times[-1]:g}" if len(times) > 1 else "") for times, _ in columns]
        head = f"`{pattern}`: N `{number}`, T `{time}`; in order / {alike} / {faulty}"
        lines += [f"| {head} | {' | '.join(heads)} |", "|---" * (len(columns) + 1) + "|"]
        for place, n in enumerate(part["n"].unique(maintain_order=True)):
            lines.append(f"| N = {n:g} | {' | '.join(costs[place] for _, costs in columns)} |")
        lines.append("")
    return "\n".join(lines[:-1]) + "\n"


def _columns(part: pl.DataFrame) -> list[tuple[list[float], list[str]]]:
    """(choices of T, costs by N) of one rule; neighbouring choices that cost the same are one, bold if one is."""
    columns: list[tuple[list[float], list[str]]] = []
    for (t,), cells in part.group_by("t", maintain_order=True):
        costs = [_cost(cell) for cell in cells.to_dicts()]
        same = bool(columns) and [c.strip("*") for c in columns[-1][1]] == [c.strip("*") for c in costs]
        if same:
            times, before = columns.pop()
            columns.append(([*times, t], [max(pair, key=len) for pair in zip(before, costs, strict=True)]))
        else:
            columns.append(([t], costs))
    return columns


def _cost(cell: dict[str, Any]) -> str:
    """Alarms a day in order, of the neighbour and with the fault, share of days missed, delay; the default in bold."""
    counts = [f"{cell[name]:.1f}" for name in ("false_per_day", "neighbour_per_day", "faulty_per_day")]
    wait = "-" if cell["delay_h"] is None else f"{cell['delay_h']:.1f} h"
    text = " / ".join([*counts, f"{100 * cell['missed']:.0f} %", wait])
    return f"**{text}**" if cell["default"] else text


_WAYS: Final = {
    "floor": "polars: read, parse, sort",
    "review": "whole review",
    "only": "review, these numbers alone",
    "duckdb": "DuckDB",
    "pandas": "pandas",
    "pm4py": "pm4py (runs and release times alone)",
}


def speed() -> str:
    """Wall seconds, and peak memory of the largest log, of each way on delimited logs of growing size.

    Memory of the program's own, where it was told apart from pages of files.
    """
    table = pl.read_csv(SPEED, schema_overrides={"own_mb": pl.Int64}).filter(pl.col("file") == "csv")
    table = table.with_columns(peak_mb=pl.coalesce("own_mb", "peak_mb"))
    sizes = table["events"].unique().sort().to_list()
    largest = sizes[-1]
    shown = {
        (way, events): (wall, peak) for way, events, wall, peak in table[["way", "events", "wall_s", "peak_mb"]].rows()
    }
    head = ["delimited log of", *(f"{events:,} events" for events in sizes), f"memory at {largest:,}"]
    rows = []
    for way, name in _WAYS.items():
        walls = [f"{shown[way, events][0]:.2f} s" if (way, events) in shown else "-" for events in sizes]
        rows.append([name, *walls, f"{shown[way, largest][1] / 1000:.1f} GB" if (way, largest) in shown else "-"])
    return _markdown([head, ["---"] * len(head), *rows])


def pages() -> str:
    """How quickly the page of a review answers: median, 98th percentile, share within 200 ms, bytes."""
    head = ["week of", "what the reader does", "median", "98 % within", "within 0.2 s (first view 2 s)", "at most"]
    rows = [
        [
            f"{row['events']:,} events",
            f"{row['kind']} ({row['times']} times)",
            *(f"{row[name] / 1000:.2f} s" for name in ("median_ms", "p98_ms")),
            f"{100 * row['within_aim']:.0f} %",
            f"{row['most_kb']:.0f} KB",
        ]
        for row in pl.read_csv(PAGES).iter_rows(named=True)
    ]
    return _markdown([head, ["---"] * len(head), *rows])


def _markdown(rows: list[list[str]]) -> str:
    return "".join(f"| {' | '.join(row)} |\n" for row in rows)


PARTS: Final[dict[str, Callable[[], str]]] = {
    "first look": first_look,
    "catalogue": catalogue.markdown,
    "life": of_sample,
    "accuracy": accuracy,
    "delay": delay,
    "follow": follow,
    "causes": causes,
    "rules": rules,
    "speed": speed,
    "pages": pages,
}
"""Name of a mark -> the text between its pair."""


def renewed(text: str) -> str:
    """The text with every generated part as the program writes it today. ValueError where marks are missing."""
    for name, write in PARTS.items():
        part = re.compile(rf"(<!-- {name} -->\n).*?(<!-- end of {name} -->)", flags=re.DOTALL)
        if not part.search(text):
            raise ValueError(f"wanted the marks of '{name}' in README.md, got none; put them back")
        text = part.sub(lambda found: f"{found[1]}{write()}{found[2]}", text)  # noqa: B023 -- used at once
    return text


if __name__ == "__main__":
    README.write_text(renewed(README.read_text("utf-8")), "utf-8")
