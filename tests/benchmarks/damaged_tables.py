"""How well badly formed delimited files are read without any setting, beside three general readers in the same run.

    python -m tests.benchmarks.damaged_tables FOLDER [--readers eventlens csv pandas duckdb] [--weights FILE]

FOLDER holds `csv/NAME` (the damaged file) and `clean/NAME` (its answer; without one, `clean/source.csv`). For each file
ten marks of at most 1: read at all; then precision, recall and F1 of the names, of the rows and of all cells, each
compared as a multiset without blanks around a cell. WEIGHTS is JSON: file name -> how often its damage was found in
the wild. Some answers are not what is wanted here; `CONTESTED` names them with the reason.
"""

from __future__ import annotations

import argparse
import csv
import io
import json
import time
from collections import Counter
from collections.abc import Callable, Hashable, Iterable, Sequence
from pathlib import Path

import eventlens.reading

Rows = list[list[str]]

CONTESTED = {
    "file_multitable_same.csv": "the answer drops the rows below names that stand again; here they are rows of the log",
}


def by_eventlens(path: Path) -> Rows:
    """The raw table: its first record names the columns."""
    frame = eventlens.reading.read_table(path)
    return [list(frame.columns), *([cell or "" for cell in row] for row in frame.iter_rows())]


def by_csv(path: Path) -> Rows:
    """The standard library with its own guess of the dialect."""
    text = path.read_text("utf-8", errors="replace")
    return list(csv.reader(io.StringIO(text, newline=""), csv.Sniffer().sniff(text[:20000])))


def by_pandas(path: Path) -> Rows:
    """pandas with its own guess of the delimiter."""
    import pandas

    frame = pandas.read_csv(path, sep=None, engine="python", dtype=str, on_bad_lines="skip", keep_default_na=False)
    return [list(frame.columns), *frame.to_numpy().tolist()]


def by_duckdb(path: Path) -> Rows:
    """DuckDB with its own guess of the dialect, as lenient as it can be."""
    import duckdb

    options = "strict_mode=false, ignore_errors=true, null_padding=true, all_varchar=true, parallel=false"
    found = duckdb.connect().execute(f"select * from read_csv(?, {options})", [str(path)])
    names = [column[0] for column in found.description or ()]
    return [names, *([cell or "" for cell in row] for row in found.fetchall())]


READERS: dict[str, Callable[[Path], Rows]] = {
    "eventlens": by_eventlens,
    "csv": by_csv,
    "pandas": by_pandas,
    "duckdb": by_duckdb,
}


def marks(wanted: Rows, got: Rows) -> float:
    """The marks of one file, 0 to 10."""
    wanted, got = _stripped(wanted), _stripped(got)
    if not wanted:
        return 10.0
    cells = [[cell for row in rows for cell in row] for rows in (wanted, got)]
    pairs: list[tuple[Iterable[Hashable], Iterable[Hashable]]] = [
        (wanted[0], got[0] if got else []),
        ([tuple(row) for row in wanted[1:]], [tuple(row) for row in got[1:]]),
        (cells[0], cells[1]),
    ]
    return 1.0 + sum(sum(_agreement(Counter(one), Counter(other))) for one, other in pairs)


def _stripped(rows: Sequence[Sequence[str]]) -> Rows:
    return [[str(cell).strip() for cell in row] for row in rows]


def _agreement(wanted: Counter[Hashable], got: Counter[Hashable]) -> tuple[float, float, float]:
    """Precision, recall and F1."""
    if not wanted:
        return 1.0, 1.0, 1.0
    both = (wanted & got).total()
    if not both:
        return 0.0, 0.0, 0.0
    precision, recall = both / got.total(), both / wanted.total()
    return precision, recall, 2 * precision * recall / (precision + recall)


def answer(folder: Path, name: str) -> Rows:
    """The clean table of a damaged file."""
    path = folder / "clean" / name
    if not path.exists():
        path = folder / "clean" / "source.csv"
    with path.open(encoding="utf-8-sig", newline="") as file:
        return list(csv.reader(file))


def scores(folder: Path, reader: Callable[[Path], Rows]) -> dict[str, float]:
    """Marks of each damaged file; a file that is not read has 0."""
    found: dict[str, float] = {}
    for path in sorted((folder / "csv").iterdir()):
        try:
            found[path.name] = marks(answer(folder, path.name), reader(path))
        except Exception:  # the general readers raise errors of many kinds
            found[path.name] = 0.0
    return found


def main() -> None:
    """Prints a line for each reader."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--readers", nargs="+", choices=READERS, default=list(READERS))
    parser.add_argument("--weights", type=Path)
    chosen = parser.parse_args()
    weights: dict[str, float] = json.loads(chosen.weights.read_text()) if chosen.weights else {}
    print(f"{'':10}  mean  weighted  without contested: mean  weighted  not read  ms a file")
    for name in chosen.readers:
        begin = time.perf_counter()
        found = scores(chosen.folder, READERS[name])
        took = 1000 * (time.perf_counter() - begin) / max(len(found), 1)
        fair = {file: value for file, value in found.items() if file not in CONTESTED}
        columns = (*_means(found, weights), *_means(fair, weights))
        zeros = sum(value == 0 for value in found.values())
        shown = "{:6.3f}  {:8.3f}  {:23.3f}  {:8.3f}".format(*columns)
        print(f"{name:10}{shown}  {zeros:8}  {took:9.1f}")


def _means(found: dict[str, float], weights: dict[str, float]) -> tuple[float, float]:
    total = sum(weights.get(file, 1.0) for file in found)
    weighted = sum(value * weights.get(file, 1.0) for file, value in found.items())
    return sum(found.values()) / max(len(found), 1), weighted / max(total, 1e-9)


if __name__ == "__main__":
    main()
