"""Guards the merging of dumps that overlap: shared rows count once, real repeats stay, no cut changes the review."""

from __future__ import annotations

import json
from pathlib import Path
from tempfile import TemporaryDirectory

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reading_logs import balanced, history, profile, write

import eventlens
from eventlens.machine import Machine
from eventlens.reading import Log, read
from eventlens.simulation import Faults, Scenario, simulate

H = "time;signal;value\n"
MACHINE = Machine.model_validate({"machine": {"id": "DOCK-5", "group": "M3"}})


def stamp(second: int) -> str:
    return f"2024-05-13 {6 + second // 3600:02}:{second // 60 % 60:02}:{second % 60:02}"


ROWS = [f"{stamp(10 * at)};RUN;{at % 2}" for at in range(20)]
"""A change every ten seconds; counted by hand: 20 rows, 10 starts."""


def parts(folder: Path, *pieces: list[str], head: str = H) -> Log:
    """The log in pieces, given last first."""
    paths = [
        write(folder, head + "".join(f"{row}\n" for row in piece), f"p{at}.csv") for at, piece in enumerate(pieces)
    ]
    log = read(paths[::-1], profile())
    balanced(log)
    return log


@pytest.mark.parametrize(
    ("spans", "repeated"),
    [
        (((0, 12), (8, 20)), [0, 4]),
        (((0, 12), (11, 20)), [0, 1]),  # one row
        (((0, 12), (12, 20)), [0, 0]),  # none
        (((0, 10), (4, 14), (8, 20)), [0, 6, 6]),  # three at once: 8 and 9 are in all of them
        (((0, 20), (5, 12)), [0, 7]),  # one inside the other: it stands last
        (((0, 20), (0, 20)), [0, 20]),  # the same export twice
        (((0, 8), (0, 20)), [0, 8]),
        (((0, 20), (12, 20)), [0, 8]),
    ],
)
def test_rows_in_two_files_count_once(spans: tuple[tuple[int, int], ...], repeated: list[int], tmp_path: Path) -> None:
    whole = parts(tmp_path, ROWS)
    log = parts(tmp_path, *(ROWS[a:b] for a, b in spans))
    assert history(log) == history(whole)
    assert log.events["row"].to_list() == whole.events["row"].to_list()
    assert [file.repeated for file in log.files] == repeated
    assert log.overlap == sum(repeated)
    assert (log.clock_steps.height, log.duplicates, log.reordered) == (0, 0, 0)


def test_the_files_names_and_order_of_arguments_say_nothing(tmp_path: Path) -> None:
    whole = parts(tmp_path, ROWS)
    for names in (("c", "a", "b"), ("a", "c", "b")):
        spans = ((0, 9), (6, 15), (11, 20))
        paths = [
            write(tmp_path, H + "".join(f"{row}\n" for row in ROWS[a:b]), f"{name}.csv")
            for name, (a, b) in zip(names, spans, strict=True)
        ]
        assert history(read(paths, profile())) == history(whole)


def test_rows_that_a_file_holds_twice_stay_twice(tmp_path: Path) -> None:
    rows = [*ROWS[:10], ROWS[9], ROWS[9], *ROWS[10:]]
    whole = parts(tmp_path, rows)
    assert whole.duplicates == 2  # counted by hand
    log = parts(tmp_path, rows[:14], rows[7:])
    assert log.duplicates == 2
    assert log.overlap == 7
    assert log.events.height == 22


def test_the_border_within_one_instant(tmp_path: Path) -> None:
    rows = [f"{stamp(5)};{name};{value}" for name, value in (("FB", 0), ("RUN", 1), ("FB", 1))]
    rows = [f"{stamp(0)};RUN;0", *rows, f"{stamp(9)};RUN;0"]
    whole = parts(tmp_path, rows)
    for a, b in ((2, 1), (3, 1), (4, 2), (2, 2)):
        log = parts(tmp_path, rows[:a], rows[b:])
        assert log.events.equals(whole.events), (a, b)


def test_rows_set_aside_and_blank_lines_within_the_overlap(tmp_path: Path) -> None:
    rows = [*ROWS[:9], "garbage", f"{stamp(95)};RUN;maybe", "", "29.31.2024;RUN;1", *ROWS[10:]]
    whole = parts(tmp_path, rows)
    log = parts(tmp_path, rows[:14], rows[6:])
    assert log.rejected.equals(whole.rejected)
    assert log.rejected.height == 3  # counted by hand
    assert log.events.equals(whole.events)
    assert [file.blank for file in log.files] == [1, 1]


def test_a_last_row_that_was_cut_off_is_whole_in_the_next_export(tmp_path: Path) -> None:
    rows = [f"{stamp(at)};SPD;{1400 + at}" for at in range(8)]
    whole = parts(tmp_path, rows)
    for cut in (f"{stamp(5)};SPD;14", f"{stamp(5)};S", "2024-05-13 06:0"):
        log = parts(tmp_path, [*rows[:5], cut], rows[2:])
        assert log.events.equals(whole.events), cut
        assert log.rejected.is_empty()
    other = parts(tmp_path, [*rows[:5], f"{stamp(5)};SPD;9"], rows[2:])  # no beginning of 1405: it stays
    assert other.events.height == 9


def test_a_row_that_came_late_for_the_first_export(tmp_path: Path) -> None:
    late = f"{stamp(115)};FB;1"
    log = parts(tmp_path, ROWS[:14], [*ROWS[2:12], late, *ROWS[12:]])
    whole = parts(tmp_path, [*ROWS[:12], late, *ROWS[12:]])
    assert history(log) == history(whole)
    assert history(log, "hoist.brake.released") == history(whole, "hoist.brake.released")
    assert log.clock_steps.is_empty()
    assert log.overlap == 12


def test_a_clock_set_back_between_two_files_is_no_overlap(tmp_path: Path) -> None:
    log = parts(tmp_path, ROWS[:12], [f"{stamp(10 * at + 3)};RUN;{at % 2}" for at in range(8, 20)])
    assert log.clock_steps["seconds"].to_list() == [-27.0]  # from 110 s to 83 s
    assert log.overlap == 0


def test_an_overlap_across_a_clock_step(tmp_path: Path) -> None:
    rows = [*ROWS[5:15], *(f"{stamp(10 * at + 3)};RUN;{at % 2}" for at in range(30))]
    whole = parts(tmp_path, rows)
    assert whole.clock_steps.height == 1
    log = parts(tmp_path, rows[:13], rows[7:])
    assert log.events.equals(whole.events)
    assert log.clock_steps.equals(whole.clock_steps)


def test_newest_first_exports_that_overlap(tmp_path: Path) -> None:
    rows = ROWS[::-1]
    whole = parts(tmp_path, rows)
    log = parts(tmp_path, rows[:12], rows[8:])
    assert log.events.equals(whole.events)
    assert log.overlap == 4


def test_ring_buffers_dumped_twice(tmp_path: Path) -> None:
    first, second = [*ROWS[9:12], *ROWS[2:9]], [*ROWS[15:18], *ROWS[8:15]]  # ten slots each
    log = parts(tmp_path, first, second)
    assert history(log) == history(parts(tmp_path, ROWS[2:18]))
    assert log.overlap == 4  # rows 8 to 11
    assert log.clock_steps.is_empty()


def test_exports_in_different_containers(tmp_path: Path) -> None:
    whole = parts(tmp_path, ROWS)
    one = write(tmp_path, H + "".join(f"{row}\n" for row in ROWS[:12]), "a.csv")
    cells = [row.split(";") for row in ROWS[7:]]
    table = pl.DataFrame(cells, schema=["time", "signal", "value"], orient="row")
    table = table.with_columns(pl.col("time").str.to_datetime(), pl.col("value").cast(pl.Int64))
    table.write_parquet(tmp_path / "b.parquet")
    log = read([tmp_path / "b.parquet", one], profile())
    assert history(log) == history(whole)
    assert log.overlap == 5


def test_numbers_of_rows_that_begin_again_in_each_export(tmp_path: Path) -> None:
    pieces = [[f"{n};{row}" for n, row in enumerate(rows, 1)] for rows in (ROWS[:12], ROWS[6:])]
    log = parts(tmp_path, *pieces, head="no;" + H)
    assert history(log) == history(parts(tmp_path, ROWS))
    assert log.overlap == 6


def test_samples_that_overlap(tmp_path: Path) -> None:
    rows = [f"{stamp(at)};{at // 5 % 2};{at // 7 % 2}" for at in range(60)]
    head = "time;RUN;FB\n"
    log, whole = parts(tmp_path, rows[:40], rows[25:], head=head), parts(tmp_path, rows, head=head)
    assert log.events.equals(whole.events)
    assert log.overlap == 15
    assert log.holes.is_empty()


def test_a_file_for_each_name(tmp_path: Path) -> None:
    runs, confirmed = ROWS, [f"{stamp(10 * at + 1)};FB;{at % 2}" for at in range(20)]
    log = parts(tmp_path, runs, confirmed)
    assert log.clock_steps.is_empty()
    assert log.events["time"].is_sorted()
    assert log.events.height == 40
    assert any("merged by time" in note for note in log.notes)


@pytest.fixture(scope="module")
def lines() -> list[str]:
    """A simulated morning with faults whose clock is set back once; seeded."""
    faults = Faults(loose_relay={"hoist.raise": 0.05}, timer_missing=0.1, holes_per_day=10.0)
    events = simulate(Scenario(faults=faults), seed=6, step_s=0.01).events.head(3000)
    back = pl.when(pl.int_range(pl.len()) >= 2000).then(pl.col("time") - pl.duration(minutes=7)).otherwise("time")
    rows = events.select(back, "signal", "value").rows()
    return [f"{time.isoformat()},{signal},{value:g}" for time, signal, value in rows]


def reviewed(pieces: list[list[str]], order: list[int] | None = None) -> str:
    with TemporaryDirectory() as folder:
        paths = []
        for number, piece in enumerate(pieces):
            paths.append(Path(folder) / f"part{number}.csv")
            paths[-1].write_text("\n".join(["time,signal,value", *piece]) + "\n")
        review = eventlens.review([paths[at] for at in order or range(len(paths))], machine=MACHINE)
    done = json.loads(review.to_json())
    del done["source"]
    return json.dumps(done)


@pytest.fixture(scope="module")
def whole(lines: list[str]) -> str:
    done = reviewed([lines])
    assert len(json.loads(done)["log"]["clock_steps"]) == 1
    return done


CUTS = st.dictionaries(st.integers(1, 2999), st.integers(0, 700), min_size=1, max_size=4)
"""Where the log is cut, and how many rows before the cut the next export repeats."""


@settings(max_examples=25, deadline=None)
@given(cuts=CUTS, order=st.permutations(range(5)))
def test_pieces_that_overlap_by_any_amount_give_the_same_review(
    lines: list[str], whole: str, cuts: dict[int, int], order: list[int]
) -> None:
    ends = [*sorted(cuts), len(lines)]
    begins = [0, *(max(cut - cuts[cut], 0) for cut in ends[:-1])]
    pieces = [lines[a:b] for a, b in zip(begins, ends, strict=True)]
    assert reviewed(pieces, [at for at in order if at < len(pieces)]) == whole


def test_rows_of_one_instant_are_no_proof_where_a_file_holds_one_of_them_twice(tmp_path: Path) -> None:
    rows = [f"{stamp(0)};RUN;{value}" for value in (0, 1, 0, 0)]
    whole = parts(tmp_path, rows)
    for cut in (1, 2):  # 3 would cut between two equal rows
        assert parts(tmp_path, rows[:cut], rows[cut:]).events.height == whole.events.height
