"""The summary of the ranking of causes for README.md, from the cases that its benchmark wrote."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

import polars as pl

from eventlens.causes.ranking import OTHER
from eventlens.simulation.causes import HEALTHY, UNKNOWN
from tests.benchmarks.cause_scores import GROUPS
from tests.benchmarks.cause_walks import STRATEGIES
from tests.benchmarks.grounding import Grounds

RESULTS: Final = Path(__file__).parent / "benchmarks" / "results"
FILES: Final = {"full signals": RESULTS / "causes.csv", "commands and brake only": RESULTS / "causes_few.csv"}
GROUNDS: Final = (RESULTS / "grounding.csv", RESULTS / "grounding_few.csv")
"""What became of named causes without the runs that they cite, and without others, for the same signals."""
ENOUGH: Final = 50
"""A tenth of stated probability with fewer statements is not judged."""

Row = dict[str, Any]


def causes() -> str:
    """A column for each set of signals, a row for each score; then what was stated against what was so."""
    files = zip(FILES.values(), GROUNDS, strict=True)
    columns = [_column(pl.read_csv(file).to_dicts()) | _grounds(pl.read_csv(grounds)) for file, grounds in files]
    lines = [f"| | {' | '.join(FILES)} |", f"|---{'|---' * len(FILES)}|"]
    lines += [f"| {name} | {' | '.join(column[name] for column in columns)} |" for name in columns[0]]
    return "\n".join(lines) + "\n"


def _column(rows: Sequence[Row]) -> dict[str, str]:
    known = [row for row in rows if row["cause"] not in (*UNKNOWN, HEALTHY)]
    spoken = [row for row in known if row["first"]]
    unknown = [row for row in rows if row["cause"] in UNKNOWN and row["first"]]
    found = {
        "logs with a complaint that the fault may have brought about": f"{len(spoken)} of {len(known)}",
        "of these: right cause first": _share(row["place"] == 1 for row in spoken),
        "right cause among the first three": _share((row["place"] or 99) <= 3 for row in spoken),
        "a cause of the right group first": _share(_grouped(row) for row in spoken),
        "Brier score (0 best, 2 worst)": f"{sum(row['brier'] for row in spoken) / max(len(spoken), 1):.2f}",
        f"stated / was so, in each tenth with {ENOUGH} statements": _reliability([*spoken, *unknown]),
        "faults in no list: `other` leads": f"{sum(row['first'] == OTHER for row in unknown)} of {len(unknown)}",
    }
    for name in STRATEGIES:
        part = [row for row in known if row[f"{name} checks"] is not None]
        checks, minutes = (sum(row[f"{name} {key}"] for row in part) / len(part) for key in ("checks", "minutes"))
        found[f"checks / minutes until settled, {_SAID[name]}"] = (
            f"{checks:.2f} / {minutes:.0f} (settled {_share(row[f'{name} settled'] for row in part)})"
        )
    return found


def _grounds(cases: pl.DataFrame) -> dict[str, str]:
    named = [Grounds(**row) for row in cases.to_dicts()]
    return {
        "named causes that fall without the runs they cite": f"{_share(g.grounded for g in named)} of {len(named)}",
        "... and that stay without as many others": _share(g.steady for g in named),
    }


_SAID: Final = {
    "proposed": "as proposed",
    "likeliest": "first check of the likeliest cause",
    "by prior": "in a fixed order",
}


def _share(of: Any) -> str:
    hits = [bool(one) for one in of]
    return f"{sum(hits) / len(hits):.0%}" if hits else "-"


def _grouped(row: Row) -> bool:
    return row["place"] == 1 or any(row["cause"] in group and row["first"] in group for group in GROUPS)


def _reliability(rows: Sequence[Row]) -> str:
    said: dict[int, list[tuple[float, bool]]] = {}
    for row in rows:
        truth = OTHER if row["cause"] in UNKNOWN else row["cause"]
        for name, p in (one.split("=") for one in str(row["stated"]).split()):
            said.setdefault(min(int(float(p) * 10), 9), []).append((float(p), name == truth))
    judged = [part for _, part in sorted(said.items()) if len(part) >= ENOUGH]
    means = ((sum(p for p, _ in part) / len(part), sum(so for _, so in part) / len(part)) for part in judged)
    return ", ".join(f"{stated:.2f} / {so:.2f}" for stated, so in means)
