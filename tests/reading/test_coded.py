"""Columns of few different texts: coded where a sample says so, the same log either way, each text read once.

Expected values are written by hand or worked out in plain Python beside each test.
"""

from __future__ import annotations

from pathlib import Path

import polars as pl
import pytest

from eventlens.reading import coded, counters, read, values
from eventlens.reading.files import read_raws
from eventlens.reading.formats import delimited, read_raw
from eventlens.reading.log import Log
from eventlens.reading.profile import Profile
from tests.reading.reading_logs import write

CELLS = ["K12", None, "K11", "K12", "", "K11"]
SIGNALS = '[signals]\nK11 = "hoist.raise.contactor"\nK12 = "hoist.lower.contactor"\n'
CHANGES = '[log]\nlayout = "changes"\ntime = "Time"\nname = "Tag"\nvalue = "State"\ntimezone = "UTC"\n' + SIGNALS
SAMPLES = '[log]\nlayout = "samples"\ntime = "Time"\ntimezone = "UTC"\n' + SIGNALS


def stamp(second: int) -> str:
    return f"2026-03-02 06:{second // 60:02}:{second % 60:02}.000"


def changes(states: list[str]) -> str:
    """A row a second, of two names in turn."""
    rows = [f"{stamp(at)};K{11 + at % 2};{state}" for at, state in enumerate(states)]
    return "\n".join(["Time;Tag;State", *rows, ""])


def samples(states: list[str]) -> str:
    rows = [f"{stamp(at)};{state};{states[-at - 1]};{at % 16}" for at, state in enumerate(states)]
    return "\n".join(["Time;K11;K12;Beat", *rows, ""])


def listed(cells: list[str | None]) -> pl.Series:
    return pl.Series("x", cells, dtype=pl.String).cast(coded.while_parsing())


@pytest.mark.parametrize("column", [pl.Series("x", CELLS), listed(CELLS), coded.coded(listed(CELLS))])
def test_places_are_those_of_the_texts_in_the_order_in_which_they_come(column: pl.Series) -> None:
    texts, at = coded.places(column)
    assert texts.to_list() == ["K12", "K11", ""]
    assert at.to_list() == [0, None, 1, 0, 2, 1]
    assert at.dtype == pl.UInt32


def test_a_text_that_no_row_holds_any_more_has_no_place() -> None:
    column = coded.coded(listed(["never", "K11", "K12"])).slice(1)
    assert coded.places(column)[0].to_list() == ["K11", "K12"]
    assert coded.places(coded.coded(listed([None, None])))[1].to_list() == [None, None]


def test_more_texts_than_two_bytes_tell_apart_stay_text() -> None:
    cells = pl.Series([str(number) for number in range(coded.MOST + 1)])
    assert coded.coded(cells.cast(pl.Categorical)).dtype == pl.String
    assert coded.is_coded(coded.coded(cells.head(coded.MOST).cast(pl.Categorical)))


@pytest.mark.parametrize(("repeats", "few"), [(4, True), (3, False)])
def test_texts_that_come_four_times_on_average_are_few(repeats: int, few: bool) -> None:
    assert coded.repeat(["K11", "K12"] * repeats) is few


def test_names_and_states_of_a_text_are_coded_and_its_stamps_are_not(tmp_path: Path) -> None:
    frame = read_raw(write(tmp_path, changes(["0", "1"] * 50)), Profile()).frame
    assert [isinstance(dtype, pl.Enum) for dtype in frame.dtypes] == [False, True, True]
    assert frame["State"].to_list() == ["0", "1"] * 50
    assert frame["State"].estimated_size() <= 2 * frame.height


def test_texts_that_grow_many_behind_the_sample_are_read_as_text(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The parser refuses the list; nobody is told, and no cell is lost."""
    monkeypatch.setattr(delimited, "SAMPLE", 1)
    monkeypatch.setattr(delimited, "repeat", lambda cells: True)
    states = [str(number) for number in range(coded.MOST + 2)]
    rows = [f"2026-03-02 06:00:00;K11;{state}" for state in states]
    frame = read_raw(write(tmp_path, "\n".join(["Time;Tag;State", *rows, ""])), Profile()).frame
    assert frame["State"].dtype == pl.String
    assert frame["State"].to_list() == states


STATES = {
    "numbers": ["0", "1", "1", "0", "1"] * 12,
    "words": ["on", "OFF", "off", " on", ""] * 12,
    "a word that nobody knows": ["on", "off"] * 20 + ["perhaps", "on"] * 5,
    "decimal commas": ["0,0", "1,0", "1,0"] * 16,
    "letters": ["i", "o", "o"] * 16,
}


@pytest.mark.parametrize("states", STATES.values(), ids=STATES)
@pytest.mark.parametrize(("text", "profile"), [(changes, CHANGES), (samples, SAMPLES)])
def test_a_log_is_the_same_coded_or_not(
    states: list[str], text: object, profile: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert callable(text)
    path, stated = write(tmp_path, text(states)), write(tmp_path, profile, "profile.toml")
    seen: list[Log] = [read(path, stated)]
    monkeypatch.setattr(delimited, "repeat", lambda cells: False)
    seen.append(read(path, stated))
    one, other = seen
    assert one.events.height > 10
    for table in ("events", "segments", "names", "rejected", "holes"):
        assert getattr(one, table).equals(getattr(other, table)), table
    assert (one.notes, one.duplicates, one.step_s) == (other.notes, other.duplicates, other.step_s)


def test_the_list_of_a_parser_goes_with_its_columns() -> None:
    kind = coded.while_parsing()
    column = pl.Series(["a text of its own"]).cast(kind)
    assert "a text of its own" in kind.categories
    del column
    assert "a text of its own" not in kind.categories


def test_files_of_one_dump_share_one_list(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The second file knows its texts in another order, and one more."""
    lines = changes(["0", "1"] * 40 + ["1", "0", "off", "off"] * 20).splitlines()
    first = write(tmp_path, "\n".join([*lines[:81], ""]), "a.csv")
    second = write(tmp_path, "\n".join([lines[0], *lines[81:], ""]), "b.csv")
    stated = write(tmp_path, CHANGES, "profile.toml")
    one, other = (raw.frame["State"] for raw in read_raws([first, second], Profile()))
    assert coded.is_coded(one)
    assert one.dtype == other.dtype
    assert one.cast(pl.String).to_list() + other.cast(pl.String).to_list() == [line.split(";")[2] for line in lines[1:]]
    kept = read([first, second], stated)
    monkeypatch.setattr(delimited, "repeat", lambda cells: False)
    assert kept.events.equals(read([first, second], stated).events)
    monkeypatch.setattr(coded, "MOST", 2)
    assert coded.of_either([one.dtype, other.dtype]) is None


def test_each_text_of_a_coded_column_is_read_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    read_cells: list[int] = []
    plain = values._plain
    monkeypatch.setattr(values, "_plain", lambda value, decimal: read_cells.append(len(value)) or plain(value, decimal))
    log = read(write(tmp_path, changes(["0", "1"] * 500)), write(tmp_path, CHANGES, "profile.toml"))
    assert log.events.height == 1000
    assert sum(read_cells) == 2


def test_a_coded_counter_counts() -> None:
    column = coded.coded(listed([str(at % 16) for at in range(64)]))
    assert counters.count_of(column).to_list() == [at % 16 for at in range(64)]
    assert counters.counter_columns(column.to_frame("Beat"), ["Beat"]) == ("Beat",)
