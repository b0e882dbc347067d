"""Guards databases: the file stays as it is, nothing in it is run, mixed cells, order, journals, damage."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest
from reading_logs import balanced, on_seconds, profile

from eventlens.errors import ReadingError
from eventlens.reading import read
from eventlens.reading.formats import read_raw
from eventlens.reading.formats import sqlite as reader
from eventlens.reading.profile import LogKeys, Profile
from eventlens.reading.raw import RawTable

EVENTS = [("2026-03-02 06:00:00", "RUN", 0), ("2026-03-02 06:00:01", "RUN", 1), ("2026-03-02 06:00:03", "RUN", 0)]


@contextmanager
def database(path: Path) -> Iterator[sqlite3.Connection]:
    with closing(sqlite3.connect(path)) as made:
        made.execute("CREATE TABLE events (time TEXT, tag TEXT, state INTEGER)")
        made.executemany("INSERT INTO events VALUES (?, ?, ?)", EVENTS)
        made.commit()
        yield made
        made.commit()


def raw(path: Path, table: str | None = None) -> RawTable:
    found = read_raw(path, Profile(LogKeys(table=table)))
    assert found.rows == found.frame.height + found.rejected.height + found.blank
    return found


@pytest.mark.parametrize("name", ["log.db", "a?b#c%20d.db", "ä ö.sqlite"])
def test_the_file_and_its_folder_stay_as_they_are(name: str, tmp_path: Path) -> None:
    path = tmp_path / name
    with database(path):
        pass
    before = path.read_bytes()
    path.chmod(0o444)
    log = read(path, profile())
    balanced(log)
    assert (on_seconds(log), log.events["row"].to_list()) == (2.0, [1, 2, 3])
    assert path.read_bytes() == before
    assert [found.name for found in tmp_path.iterdir()] == [name]


def test_the_table_that_looks_most_like_a_log(tmp_path: Path) -> None:
    with database(tmp_path / "db") as made:
        made.execute("CREATE TABLE names (id INTEGER PRIMARY KEY, name TEXT)")
        made.executemany("INSERT INTO names (name) VALUES (?)", [(f"K{at}",) for at in range(100)])
        made.execute("CREATE VIEW short AS SELECT time, state FROM events WHERE state = 1")
        made.execute('CREATE TABLE "odd "" name; DROP TABLE x" (time, tag, state)')
    found = raw(tmp_path / "db")
    assert found.frame.height == 3
    assert found.notes[0].startswith("Table 'events' was read, not 'names', 'short'")
    assert raw(tmp_path / "db", "names").frame.height == 100
    assert raw(tmp_path / "db", "short").frame.rows() == [("2026-03-02 06:00:01", "1")]  # texts
    with pytest.raises(ReadingError, match="did you mean 'events'"):
        raw(tmp_path / "db", "event")


def test_a_database_of_views_only(tmp_path: Path) -> None:
    with closing(sqlite3.connect(tmp_path / "db")) as made:
        made.execute("CREATE VIEW v AS SELECT 1 AS a")
    with pytest.raises(ReadingError, match="got views only: 'v'"):
        raw(tmp_path / "db")
    with closing(sqlite3.connect(tmp_path / "none")) as made:
        made.execute("CREATE TABLE t (a)")
        made.execute("DROP TABLE t")
    with pytest.raises(ReadingError, match="wanted a table in the database, got none"):
        raw(tmp_path / "none")


@pytest.mark.parametrize(
    "view",
    [
        "SELECT load_extension('x.so') AS a",
        "SELECT * FROM sqlite_master, pragma_table_info('events')",
        "SELECT a FROM (WITH RECURSIVE c(a) AS (SELECT 1 UNION ALL SELECT a + 1 FROM c) SELECT a FROM c) WHERE a < 0",
        "SELECT zeroblob(2000000000) AS a",
    ],
)
def test_a_view_that_does_more_than_reading(view: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reader, "LONGEST_QUERY_S", 0.3)
    with database(tmp_path / "db") as made:
        made.execute(f"CREATE VIEW bad AS {view}")
    with pytest.raises(ReadingError, match=r"wanted a whole SQLite database|takes longer than 0\.3 s"):
        raw(tmp_path / "db", "bad")
    assert raw(tmp_path / "db").frame.height == 3  # not asked for: not run


def test_triggers_do_not_fire_and_checks_are_not_run(tmp_path: Path) -> None:
    with database(tmp_path / "db") as made:
        made.execute("CREATE TABLE seen (a)")
        made.execute("CREATE TRIGGER t AFTER INSERT ON events BEGIN INSERT INTO seen VALUES (1); END")
    before = (tmp_path / "db").read_bytes()
    raw(tmp_path / "db")
    assert (tmp_path / "db").read_bytes() == before


def test_cells_of_several_kinds(tmp_path: Path) -> None:
    with closing(sqlite3.connect(tmp_path / "db")) as made:
        made.execute("CREATE TABLE t (a, b REAL, c INTEGER, d, e)")
        rows = [(1, 1714543200.123456, 2**62, "x", None), ("on", 0.1, -1, b"\0\xff", None), (1.5, None, 0, None, None)]
        made.executemany("INSERT INTO t VALUES (?, ?, ?, ?, ?)", [*rows, (None,) * 5])
        made.execute("INSERT INTO t (a) VALUES (CAST(x'ff41' AS TEXT))")
        made.commit()
    found = raw(tmp_path / "db")
    assert found.frame["a"].to_list() == ["1", "on", "1.5", "\ufffdA"]
    assert found.frame["b"].to_list() == [1714543200.123456, 0.1, None, None]  # no digit is lost
    assert found.frame["c"].to_list() == [2**62, -1, 0, None]
    assert found.frame["d"].to_list() == ["x", "00ff", None, None]
    assert (found.blank, found.lines.to_list()) == (1, [1, 2, 3, 5])


def test_kinds_that_change_from_batch_to_batch(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reader, "_BATCH", 2)
    with closing(sqlite3.connect(tmp_path / "db")) as made:
        made.execute("CREATE TABLE t (a)")
        made.executemany("INSERT INTO t VALUES (?)", [(1,), (2,), (None,), (None,), (0.5,), (3,), ("x",)])
        made.commit()
    assert raw(tmp_path / "db").frame["a"].to_list() == ["1", "2", "0.5", "3", "x"]


@pytest.mark.parametrize("without", ["", " WITHOUT ROWID"])
def test_rows_come_as_they_were_inserted(without: str, tmp_path: Path) -> None:
    with closing(sqlite3.connect(tmp_path / "db")) as made:
        made.execute(f"CREATE TABLE t (a TEXT PRIMARY KEY, b){without}")
        made.executemany("INSERT INTO t VALUES (?, 1)", [("c",), ("a",), ("b",)])
        made.commit()
    wanted = ["a", "b", "c"] if without else ["c", "a", "b"]  # without a rowid the key is the only order there is
    assert raw(tmp_path / "db").frame["a"].to_list() == wanted


def test_a_journal_beside_the_file_is_said(tmp_path: Path) -> None:
    path = tmp_path / "live.db"
    with closing(sqlite3.connect(path)) as made:
        made.execute("PRAGMA journal_mode=WAL")
        made.execute("CREATE TABLE events (time TEXT, tag TEXT, state INTEGER)")
        made.executemany("INSERT INTO events VALUES (?, ?, ?)", EVENTS)
        made.commit()
        made.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        made.execute("INSERT INTO events VALUES ('2026-03-02 06:00:09', 'RUN', 1)")
        made.commit()
        found = raw(path)
        assert found.frame.height == 3
        assert found.notes[-1].startswith("'live.db-wal' beside the database holds changes that were not read")
    moved = tmp_path / "copy.db"
    moved.write_bytes(path.read_bytes())
    assert "rows may be missing" in raw(moved).notes[-1]


@pytest.mark.parametrize("share", [0.3, 0.6, 0.99])
def test_a_file_that_breaks_off_is_refused(share: float, tmp_path: Path) -> None:
    with database(tmp_path / "db") as made:
        made.executemany("INSERT INTO events VALUES (?, ?, ?)", EVENTS * 500)
    whole = (tmp_path / "db").read_bytes()
    (tmp_path / "cut").write_bytes(whole[: int(len(whole) * share)])
    with pytest.raises(
        ReadingError, match=f"got one that breaks off after [0-9]+ of {len(whole)} bytes; copy it again"
    ):
        raw(tmp_path / "cut")


def test_a_damaged_page_is_refused(tmp_path: Path) -> None:
    with database(tmp_path / "db") as made:
        made.executemany("INSERT INTO events VALUES (?, ?, ?)", EVENTS * 500)
    data = bytearray((tmp_path / "db").read_bytes())
    data[2 * 4096 : 2 * 4096 + 64] = b"\xff" * 64
    (tmp_path / "db").write_bytes(data)
    with pytest.raises(ReadingError, match="wanted a whole SQLite database"):
        raw(tmp_path / "db")
