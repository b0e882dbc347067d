"""Names that stand again inside a table: the rows below follow their order of columns, in one file and across exports.

The same 20 rows are written in many ways; the wanted history is that of the plain file. Lines are counted by hand.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eventlens.reading import line_accounts, read
from tests.reading.reading_logs import balanced, history, profile, write

NAMES = ("time", "signal", "value")
ROWS = [(f"2024-05-13 06:{at // 6:02}:{at % 6 * 10:02}", "RUN", str(at % 2)) for at in range(20)]
PLAIN = (0, 1, 2)
TURNED = (1, 2, 0)


def table(first: int, end: int, order: tuple[int, ...] = PLAIN, *, named: bool = True) -> str:
    rows = [*([NAMES] if named else []), *ROWS[first:end]]
    return "".join(";".join(row[at] for at in order) + "\n" for row in rows)


def changes(folder: Path, *texts: str) -> list[tuple[int, float | None]]:
    paths = [write(folder, text, f"p{at}.csv") for at, text in enumerate(texts)]
    log = read(paths, profile())
    balanced(log)
    assert log.rejected.is_empty()
    return [(time, value) for _, time, value in history(log)]


@pytest.fixture
def wanted(tmp_path: Path) -> list[tuple[int, float | None]]:
    return changes(tmp_path, table(0, 20))


ONE_FILE = {
    "in the middle": (table(0, 10) + table(10, 20, TURNED), [12]),
    "name and value alone change places": (table(0, 10) + table(10, 20, (0, 2, 1)), [12]),
    "the same order": (table(0, 10) + table(10, 20), [12]),
    "there and back": (table(0, 5) + table(5, 10, TURNED) + table(10, 20), [7, 13]),
    "after one row": (table(0, 1) + table(1, 20, TURNED), [3]),
    "directly below the first": (table(0, 0) + table(0, 20, TURNED), [2]),
    "twice in a row": (table(0, 10) + table(0, 0) + table(10, 20, TURNED), [12, 13]),
    "at the end": (table(0, 20) + table(0, 0, TURNED), [22]),
    "with units below": (table(0, 10) + "signal;value;time\n;[1];[s]\n" + table(10, 20, TURNED, named=False), [12, 13]),
    "with blanks around": (table(0, 10) + "signal ; value; time\n" + table(10, 20, TURNED, named=False), [12]),
    "newest first": (
        table(0, 0, TURNED) + "".join(reversed(table(10, 20, TURNED, named=False).splitlines(keepends=True)))
        + table(0, 0) + "".join(reversed(table(0, 10, named=False).splitlines(keepends=True))),
        [12],
    ),
}  # fmt: skip


@pytest.mark.parametrize("kind", ONE_FILE)
def test_in_one_file(kind: str, wanted: list[tuple[int, float | None]], tmp_path: Path) -> None:
    text, lines = ONE_FILE[kind]
    assert changes(tmp_path, text) == wanted
    log = read(tmp_path / "p0.csv", profile())
    said = [int(note.split("line ")[1].rstrip(".")) for note in log.notes if "stands again" in note]
    assert said == lines
    kinds = line_accounts(tmp_path / "p0.csv", "found")
    assert kinds.filter(kinds["kind"] == "header")["line"].to_list()[1:] == lines
    assert (kinds["kind"] == "row").sum() == log.files[0].rows == 20


SEVERAL = {
    "the later export in another order": (table(0, 10), table(10, 20, TURNED)),
    "and its head is repeated": (table(0, 12), table(8, 20, TURNED)),
    "inside the overlap, in both": (table(0, 6) + table(6, 12, TURNED), table(4, 6) + table(6, 20, TURNED)),
    "inside the overlap, in the first": (table(0, 10) + table(10, 12, TURNED), table(8, 20, TURNED)),
    "before the overlap, in the first": (table(0, 6) + table(6, 12, TURNED), table(8, 20)),
    "inside the overlap, in the second": (table(0, 12), table(8, 10) + table(10, 20, TURNED)),
    "behind the overlap": (table(0, 12), table(8, 14) + table(14, 20, TURNED)),
    "three exports": (
        table(0, 6) + table(6, 12, TURNED), table(8, 12, TURNED) + table(12, 14), table(10, 20),
    ),
    "no names at the head of the second": (table(0, 12), table(8, 10, named=False) + table(10, 20, TURNED)),
}  # fmt: skip


@pytest.mark.parametrize("kind", SEVERAL)
def test_across_exports(kind: str, wanted: list[tuple[int, float | None]], tmp_path: Path) -> None:
    assert changes(tmp_path, *SEVERAL[kind]) == wanted


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(st.integers(1, 19), st.permutations(range(3))), max_size=4, unique_by=lambda cut: cut[0]),
    st.permutations(range(3)),
    st.integers(0, 6),
)
def test_any_orders_and_any_overlap(
    tmp_path_factory: pytest.TempPathFactory, cuts: list[tuple[int, list[int]]], order: list[int], overlap: int
) -> None:
    folder = tmp_path_factory.mktemp("again")
    plain = changes(folder, table(0, 20))
    cuts = sorted(cuts)
    begins = [(0, order), *cuts]
    ends = [*(at for at, _ in cuts), 20]
    parts = [table(a, b, tuple(o)) for (a, o), b in zip(begins, ends, strict=True)]
    assert changes(folder, "".join(parts)) == plain
    later = max(begins[-1][0] - overlap, 0)
    assert changes(folder, "".join(parts[:-1]) or parts[0], table(later, 20, tuple(begins[-1][1]))) == plain


def test_equal_names_and_missing_ones(tmp_path: Path) -> None:
    head, row = "time;RUN;RUN;\n", "2024-05-13 06:00:0{};{};7;\n"
    text = head + row.format(0, 0) + head + row.format(1, 1) + ";RUN;time;RUN\n;0;2024-05-13 06:00:02;7\n"
    log = read(write(tmp_path, text), profile())
    assert [value for _, _, value in history(log)] == [0.0, 1.0, 0.0]


def test_a_row_of_other_words_is_a_row(tmp_path: Path) -> None:
    text = table(0, 5) + "signal;value;when\n" + table(5, 20, named=False)
    log = read(write(tmp_path, text), profile())
    balanced(log)
    assert (log.events.height, log.rejected["row"].to_list()) == (20, [7])
