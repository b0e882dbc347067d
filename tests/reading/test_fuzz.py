"""Guards every reader against random damage: a log or a ReadingError, accounts that balance, no hang.

The long run is `python -m tests.benchmarks.fuzz`; inputs that once made a reader fail lie in tests/data/reading.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from containers import WRITERS
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from eventlens.errors import ReadingError
from eventlens.reading.files import read_raws
from eventlens.reading.formats import _sheet_cells
from eventlens.reading.profile import Profile
from tests.benchmarks.fuzz import SLOWEST_S, check, damaged

DATA = Path(__file__).parent.parent / "data" / "reading"
BROKEN = {  # file named for its fault -> what is said
    "absurd_size.xls": "wanted a whole spreadsheet, got one at which its reader stops",
    "cell_reference_of_400_digits.xlsx": "cells that lie outside the sheet",
    "entities_that_swell.xes": "a document type or entities",
    "events_without_entries.xes": None,
    "histogram_of_a_wrong_size.parquet": "wanted a whole Parquet file",
    "member_without_a_name.zip": None,  # read or refused, but it made the unpacker stumble
    "offset_behind_the_end.parquet": "wanted a whole Parquet file",
    "one_blank.json": None,
    "pages_do_not_add_up.parquet": "wanted a whole Parquet file",
    "schema_with_line_ends.db": r"^[^\n]*wanted a whole SQLite database[^\n]*$",
    "table_name_not_utf8.db": None,
    "unknown_column_type.arrow": "a column of an unknown type, number 22",
    "unknown_zip_version.zip": "wanted a whole zip archive",
}


@pytest.mark.parametrize("reader", WRITERS)
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(seed=st.integers(0, 10**9))
def test_random_damage(reader: str, seed: int, tmp_path: Path) -> None:
    path = tmp_path / "dump"
    path.write_bytes(damaged(reader, seed))
    begin = worked_s()
    assert check(path) in ("read", "refused")
    assert worked_s() - begin < SLOWEST_S


def worked_s() -> float:
    """Processor time of this process and of those that it began: how busy the machine is does not count."""
    return sum(os.times()[:4])


@pytest.mark.parametrize("name", BROKEN)
def test_inputs_that_made_a_reader_fail(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(_sheet_cells, "MOST_SHEET_GB", 2.0)  # enough for any; what is absurd fills all that it gets
    said = BROKEN[name]
    if said is None:
        assert check(DATA / name) in ("read", "refused")
        return
    with pytest.raises(ReadingError, match=said):
        read_raws([DATA / name], Profile())


def test_the_damage_of_a_seed_is_the_same_at_any_time() -> None:
    assert damaged("JSON", 3) == damaged("JSON", 3)
    assert len({damaged("JSON", seed) for seed in range(50)}) > 40
