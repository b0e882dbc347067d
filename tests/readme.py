"""Writes the generated parts of README.md anew: what stands between a pair of marks comes from the program.

python -m tests.readme
"""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

import polars as pl

from eventlens import review
from eventlens.report import catalogue, life
from eventlens.report.lines import Page
from eventlens.report.words import Clock

ROOT: Final = Path(__file__).parent.parent
README: Final = ROOT / "README.md"
ACCURACY: Final = ROOT / "tests" / "benchmarks" / "results" / "accuracy.csv"
"""The whole table of the accuracy benchmark, a row for each pattern, step and damage."""


def accuracy() -> str:
    """The summary of the accuracy table: clean logs by step, damaged logs by damage."""
    cells = pl.read_csv(ACCURACY)
    clean = _summed(cells.filter(pl.col("damage") == "clean"), "step_s")
    first = cells.filter(pl.col("damage") != "clean")["step_s"].min()
    damaged = _summed(cells.filter((pl.col("damage") != "clean") & (pl.col("step_s") == first)), "damage")
    head = (
        "| {} | happened | found | called certain | of these right | worst pattern | decidable, found | worst pattern |"
    )
    rule = "|---|---|---|---|---|---|---|---|"
    lines = [head.format("clean log, step"), rule, *(_line(f"{row['step_s']:g} s", row) for row in clean)]
    lines += ["", head.format(f"damaged log, step {first:g} s"), rule]
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
SHOWN: Final = ("load spectrum", "group needed", "safe period", "used up", "motor heat", "raise contactor", "brake")
"""What the README shows of the life of the sample machine."""


def of_sample() -> str:
    """Some lines of the life of the sample machine, as the review prints them."""
    reviewed = review([SAMPLE / "2026-W16.csv"], SAMPLE / "profile.toml", SAMPLE / "machine.toml")
    page = Page(80)
    for label, text in life.facts(reviewed.life["hoist"], Clock.of(reviewed.log)):
        if label in SHOWN:
            page.pair(label, text)
    return f"```\n{page.text()}```\n"


PARTS: Final[dict[str, Callable[[], str]]] = {
    "catalogue": catalogue.markdown,
    "life": of_sample,
    "accuracy": accuracy,
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
