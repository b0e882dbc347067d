"""Guards logs of finished runs: start, end, duration in their spellings; overlaps, open and impossible runs."""

from __future__ import annotations

import random
import tempfile
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reading_logs import RUN, balanced, history, on_seconds, profile, read_text, starts, write

from eventlens.errors import ReadingError
from eventlens.reading import Log, read
from eventlens.reading.profile import Source

BEGIN = datetime(2024, 5, 1, 6)
M = {"M1": Source(signal=RUN), "M2": Source(signal="hoist.lower.contactor"), "Max": Source(signal="load.kg")}


def text_of(at: float) -> str:
    return (BEGIN + timedelta(seconds=at)).isoformat(sep=" ", timespec="milliseconds")


def seconds(log: Log, signal: str = RUN) -> list[tuple[float, float | None]]:
    zero = (BEGIN - datetime(1970, 1, 1)) / timedelta(microseconds=1)
    return [((time - zero) / 1e6, value) for _, time, value in history(log, signal)]


DURATIONS = {
    "Length [s]": ("12", "5,5"),
    "Dauer [ms]": ("12000", "5500"),
    "duration_min": ("0,2", "0,0916666666667"),
    "Dauer": ("0:00:12", "0:00:05,5"),
    "Durée": ("00:12", "00:05.500"),
    "runtime": ("T#12s", "T#5s500ms"),
    "Laufzeit": ("PT12S", "PT5.5S"),
    "Duración": ("0 h 0 min 12 s", "5.5 s"),
    "elapsed": ("12000 ms", "TIME#5s_500ms"),
}


@pytest.mark.parametrize("column", sorted(DURATIONS))
@pytest.mark.parametrize("side", ["Start", "End"])
def test_durations_in_every_spelling(column: str, side: str, tmp_path: Path) -> None:
    first, second = DURATIONS[column]
    stamps = (0.0, 60.0) if side == "Start" else (12.0, 65.5)
    rows = [f"M1;{text_of(stamps[0])};{first}", f"M1;{text_of(stamps[1])};{second}"]
    log = read_text(tmp_path, f"Motor;{side};{column}\n" + "\n".join(rows) + "\n", M)
    assert log.layout == "runs"
    # the first off is the change that the row itself proves
    assert seconds(log) == [(0, 0), (0, 1), (12, 0), (60, 1), (65.5, 0)]
    assert starts(log, before=None) == 2
    assert on_seconds(log) == 17.5
    assert log.end.timestamp() - log.start.timestamp() == 65.5


def test_a_duration_without_unit_is_not_guessed(tmp_path: Path) -> None:
    text = f"Motor;Start;Duration\nM1;{text_of(0)};12\n"
    with pytest.raises(ReadingError, match="the unit of the durations in column 'Duration', got '12'; state"):
        read_text(tmp_path, text, M)
    log = read_text(tmp_path, text, M, duration_unit="min")
    assert on_seconds(log) == 720


@pytest.mark.parametrize("header", ["Motor;Start;End", "Antrieb;Beginn;Ende", "Nom;Début;Fin", "Motor;von;bis"])
@pytest.mark.parametrize("order", [(0, 1, 2), (2, 0, 1), (1, 2, 0)])
def test_start_and_end_in_other_languages_and_orders(header: str, order: tuple[int, ...], tmp_path: Path) -> None:
    rows = [header.split(";"), ["M1", text_of(0), text_of(4)], ["M2", text_of(2), text_of(3)]]
    text = "".join(";".join(row[at] for at in order) + "\n" for row in rows)
    log = read_text(tmp_path, text, M, name=header.split(";")[0])
    assert seconds(log) == [(0, 0), (0, 1), (4, 0)]
    assert seconds(log, "hoist.lower.contactor") == [(2, 0), (2, 1), (3, 0)]


def test_rows_in_the_order_of_their_ends_are_no_clock_step(tmp_path: Path) -> None:
    rows = [f"M2;{text_of(300)};{text_of(360)}", f"M1;{text_of(0)};{text_of(600)}", f"M2;{text_of(700)};{text_of(701)}"]
    log = read_text(tmp_path, "Motor;Start;End\n" + "\n".join(rows) + "\n", M)
    assert log.clock_steps.is_empty()
    assert log.segments.height == 1
    assert on_seconds(log) == 600
    assert on_seconds(log, "hoist.lower.contactor") == 61


def test_overlapping_and_repeated_runs_are_said(tmp_path: Path) -> None:
    spans = [(0, 10), (8, 12), (20, 30), (20, 30), (30, 31), (40, 50), (42, 45)]
    rows = "".join(f"M1;{text_of(a)};{text_of(b)}\n" for a, b in spans)
    log = read_text(tmp_path, "Motor;Start;End\n" + rows, M)
    # by hand: 0-12, 20-30, 30-31 (touching is another run), 40-50
    assert seconds(log)[1:] == [(0, 1), (12, 0), (20, 1), (30, 0), (30, 1), (31, 0), (40, 1), (50, 0)]
    assert log.names["repeated"].to_list() == [3]
    assert "3 runs of 'M1' overlap or repeat another one (line 3, 5, 8)" in " ".join(log.notes)


def test_open_impossible_and_unreadable_runs(tmp_path: Path) -> None:
    rows = [
        f"M1;{text_of(0)};{text_of(5)}",
        f"M1;{text_of(10)};",
        f"M1;{text_of(20)};{text_of(25)}",
        f"M1;{text_of(30)};{text_of(28)}",
        f"M1;{text_of(40)};later",
        f"M2;{text_of(50)};",
        f"M1;{text_of(60)};{text_of(61)}",
    ]
    log = read_text(tmp_path, "Motor;Start;End\n" + "\n".join(rows) + "\n", M)
    unknown = [(10, 1), (10, None), (20, 0), (20, 1), (25, 0), (30, 1), (30, None), (40, 0), (40, 1), (40, None)]
    assert seconds(log) == [(0, 0), (0, 1), (5, 0), *unknown, (60, 0), (60, 1), (61, 0)]
    assert seconds(log, "hoist.lower.contactor") == [(50, 0), (50, 1)]  # still running at the end of the log
    assert log.rejected["row"].to_list() == [5, 6]
    assert "2 runs have no end: 1 taken as still running at the end of the log, 1 of unknown" in " ".join(log.notes)


def test_one_date_for_start_and_end_past_midnight(tmp_path: Path) -> None:
    text = "Motor;Date;Start;End\nM1;01.05.2024;23:59:50;0:00:10\nM1;13.05.2024;8:00:00;8:00:05\n"
    log = read_text(tmp_path, text, M)
    assert on_seconds(log) == 25
    assert log.start.isoformat() == "2024-05-01T23:59:50+00:00"


def test_a_run_over_the_end_of_summer_time(tmp_path: Path) -> None:
    text = "Motor;Start;End\nM1;2024-10-26 22:00:00;2024-10-27 05:00:00\nM1;2024-10-27 06:00:00;2024-10-27 06:00:01\n"
    log = read_text(tmp_path, text, M, timezone="Europe/Berlin")
    assert on_seconds(log) == 8 * 3600 + 1  # the clocks go back one hour in that night


def test_counters_beside_a_run_hold_at_its_end(tmp_path: Path) -> None:
    rows = f"M1;{text_of(0)};{text_of(5)};1,2 t;3\nM1;{text_of(10)};{text_of(12)};;4\n"
    log = read_text(tmp_path, "Motor;Start;End;Max;Starts\n" + rows, M)
    assert seconds(log, "load.kg") == [(5, 1200)]
    assert log.names["name"].to_list() == ["M1", "Max", "Starts"]


def test_without_names_every_row_is_a_run(tmp_path: Path) -> None:
    rows = f"{text_of(0)};{text_of(5)}\n{text_of(10)};{text_of(12)}\n"
    log = read_text(tmp_path, "Start;End\n" + rows, {"run": Source(signal=RUN)})
    assert on_seconds(log) == 7


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.integers(1, 400), st.integers(1, 400)), min_size=1, max_size=20), st.integers(0, 3))
def test_runs_and_changes_tell_the_same(spans: list[tuple[int, int]], seed: int) -> None:
    at, runs, changes = 0.0, [], []
    for pause, length in spans:
        begin = at + pause / 10
        at = begin + length / 10
        runs.append(f"M1;{text_of(begin)};{text_of(at)}\n")
        changes += [f"{text_of(begin)};M1;1\n", f"{text_of(at)};M1;0\n"]
    random.Random(seed).shuffle(runs) if seed == 3 and len(runs) == 2 else None
    with tempfile.TemporaryDirectory() as folder:
        log = read_text(Path(folder), "Motor;Start;End\n" + "".join(runs), M)
        first = f"{text_of(spans[0][0] / 10)};M1;0\n"
        want = read_text(Path(folder), "time;name;value\n" + first + "".join(changes), M)
    assert log.events.drop("row").equals(want.events.drop("row"))
    assert log.segments.select("start", "end").equals(want.segments.select("start", "end"))


def test_the_layout_that_is_stated_must_be_there(tmp_path: Path) -> None:
    with pytest.raises(ReadingError, match="two of start, end and duration"):
        read(write(tmp_path, f"Motor;Time;x\nM1;{text_of(0)};3\n"), profile(M, layout="runs"))
    balanced(
        read(
            write(tmp_path, f"Motor;Time;x\nM1;{text_of(0)};3\n"),
            profile(M, time="Time", duration="x", duration_unit="s"),
        )
    )
