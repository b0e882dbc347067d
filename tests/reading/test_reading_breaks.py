"""Guards where a record is broken and why: rhythm, restarts, counters, clock steps, seams of ring buffers."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from reading_logs import balanced, history, on_seconds, profile, read_text, starts, write

from eventlens.errors import ReadingError
from eventlens.reading import Log, read

H = "time;signal;value\n"


def stamp(second: float) -> str:
    whole = int(second)
    day, rest = divmod(whole, 86400)
    return f"2024-05-{13 + day:02} {rest // 3600:02}:{rest // 60 % 60:02}:{rest % 60:02}" + f"{second % 1:.3f}"[1:]


def text(*records: tuple[float, str, object]) -> str:
    return H + "".join(f"{stamp(at)};{name};{value}\n" for at, name, value in sorted(records, key=lambda r: r[0]))


def beats(begin: float, end: float, period: float) -> list[tuple[float, str, object]]:
    return [(float(at), "HB", 1) for at in np.arange(begin, end, period)]


def holes(log: Log) -> list[tuple[float, float, str]]:
    """Begin, end [s of the day] and reason of each hole."""
    day = 1715558400.0  # 13 May 2024, 00:00 UTC
    return [
        (a.timestamp() - day, b.timestamp() - day, why)
        for a, b, why in log.holes.select("start", "end", "why").iter_rows()
    ]


# rhythm


def test_a_heartbeat_that_changes_its_period(tmp_path: Path) -> None:
    quick, slow = beats(0, 1000, 10), beats(1000, 4000, 60)
    assert holes(read_text(tmp_path, text(*quick, *slow, (5, "RUN", 0)))) == []
    # a hole in the quick part that the slow period would allow: 100 s, more than three beats of 10 s
    gone = [row for row in quick if not 500 <= row[0] < 590]
    assert holes(read_text(tmp_path, text(*gone, *slow, (5, "RUN", 0)))) == [(490, 590, "silence")]
    # and in the slow part: 240 s, more than three beats of 60 s
    gone = [row for row in slow if not 2000 < row[0] < 2200]
    assert holes(read_text(tmp_path, text(*quick, *gone, (5, "RUN", 0)))) == [(1960, 2200, "silence")]


def test_a_heartbeat_that_is_slow_at_rest(tmp_path: Path) -> None:
    parts = [beats(3000 * n, 3000 * n + 600, 10) + beats(3000 * n + 600, 3000 * n + 3000, 120) for n in range(4)]
    log = read_text(tmp_path, text(*(row for part in parts for row in part), (5, "RUN", 0)))
    assert holes(log) == []
    assert log.rhythm_s in (10, 120)


def test_a_sample_cycle_that_changes(tmp_path: Path) -> None:
    at = [*range(300), *range(300, 900, 5)]
    rows = [f"{stamp(second)};{second // 40 % 2}\n" for second in at]
    assert holes(read_text(tmp_path, "time;RUN\n" + "".join(rows))) == []
    gone = [row for row, second in zip(rows, at, strict=True) if not 100 < second < 110]
    assert holes(read_text(tmp_path, "time;RUN\n" + "".join(gone))) == [(100, 110, "silence")]


def work(count: int) -> list[tuple[float, str, object]]:
    """Runs of half a minute with a current each second; nothing at rest."""
    rows: list[tuple[float, str, object]] = [(0.0, "RUN", 0)]
    for n in range(count):
        begin = 400 * n + 7 * (n % 5) + 20
        rows += [(begin - 0.2, "RUN", 1), *((begin + at, "I", 20 + at) for at in range(30)), (begin + 29.4, "RUN", 0)]
    return rows


def test_a_log_whose_only_rhythm_is_the_work_has_no_holes(tmp_path: Path) -> None:
    log = read_text(tmp_path, text(*work(20)))
    assert log.rhythm_s is None
    assert holes(log) == []
    # a true heartbeat beside it changes that
    log = read_text(tmp_path, text(*work(20), *beats(0, 8000, 10)))
    assert log.rhythm_s == 10
    gone = [row for row in work(20) if not 3900 < row[0] < 5000]
    log = read_text(tmp_path, text(*gone, *beats(0, 3900, 10), *beats(5000, 8000, 10)))
    assert [why for _, _, why in holes(log)] == ["silence"]


def test_samples_that_are_written_only_while_the_machine_runs(tmp_path: Path) -> None:
    rows = []
    for n in range(20):
        begin = 400 * n
        rows += [f"{stamp(begin + at)};{int(0 < at < 29)};{at}\n" for at in range(30)]
    log = read_text(tmp_path, "time;RUN;SPD\n" + "".join(rows))
    assert log.rhythm_s is None
    assert holes(log) == []
    # a logger that is off at night is silent whatever the machine does
    rows = []
    for n in range(4):
        rows += [f"{stamp(20000 * n + at)};{at // 17 % 2};{at}\n" for at in range(600)]
    log = read_text(tmp_path, "time;RUN;SPD\n" + "".join(rows))
    assert [why for _, _, why in holes(log)] == ["silence"] * 3


def test_observed_time_never_includes_holes(tmp_path: Path) -> None:
    log = read_text(tmp_path, text(*beats(0, 1000, 10), *beats(5000, 6000, 10), (5, "RUN", 0)))
    assert log.observed_s == 990 + 990  # counted by hand
    assert log.holes["limit_s"].to_list() == [30]


# restarts


def test_the_record_of_a_restart_without_any_rhythm(tmp_path: Path) -> None:
    rows = [(21600, "RUN", 0), (21602, "RUN", 1), (21610, "HB", 1), (50400, "BOOT", 1), (50400.001, "RUN", 0)]
    log = read_text(tmp_path, text(*rows))
    assert holes(log) == [(21610, 50400, "restart")]
    assert (starts(log), on_seconds(log)) == (1, 8)
    assert log.rhythm_s is None


@pytest.mark.parametrize("name", ["BOOT", "Restart", "Power on", "NEUSTART"])
def test_names_of_restarts(name: str, tmp_path: Path) -> None:
    log = read_text(tmp_path, text((0, "RUN", 0), (2, "RUN", 1), (100, name, ""), (101, "RUN", 0)))
    assert holes(log) == [(2, 100, "restart")]


def test_the_profile_names_the_record_of_a_restart(tmp_path: Path) -> None:
    rows = text((0, "RUN", 0), (2, "RUN", 1), (100, "X7", 1), (101, "RUN", 0), (110, "X7", 0))
    assert holes(read_text(tmp_path, rows)) == []
    assert holes(read_text(tmp_path, rows, boot="X7")) == [(2, 100, "restart")]  # its off is none
    with pytest.raises(ReadingError, match=r"correct \[log\] boot"):
        read_text(tmp_path, rows, boot="X8")


def test_a_restart_in_a_column_of_samples(tmp_path: Path) -> None:
    rows = [f"{stamp(at)};{int(at in (40, 41))};1\n" for at in range(60)]
    assert holes(read_text(tmp_path, "time;BOOT;RUN\n" + "".join(rows))) == [(39, 40, "restart")]


def test_what_stands_before_it_in_the_same_instant_belongs_to_the_restart(tmp_path: Path) -> None:
    rows = [(0, "RUN", 0), (2, "RUN", 1), (100, "RUN", 0), (100, "FB", 0), (100, "BOOT", 1), (100, "TRIP", 0)]
    log = read_text(tmp_path, text(*rows))
    assert holes(log) == [(2, 100, "restart")]
    assert on_seconds(log) == 0


def test_a_silence_that_ends_with_a_restart_is_one_hole(tmp_path: Path) -> None:
    log = read_text(tmp_path, text(*beats(0, 1000, 10), (5, "RUN", 0), (4000, "BOOT", 1), *beats(4001, 5000, 10)))
    assert holes(log) == [(990, 4000, "restart")]


def numbered(numbers: list[int], seconds: list[float]) -> str:
    rows = (f"{n};{stamp(at)};RUN;{k % 2}\n" for k, (n, at) in enumerate(zip(numbers, seconds, strict=True)))
    return "no;" + H + "".join(rows)


@pytest.mark.parametrize(
    ("numbers", "why"),
    [
        ([*range(4711, 4731), *range(1, 21)], ["restart"]),
        ([*range(4711, 4731), *range(20)], ["restart"]),
        ([*range(236, 256), *range(20)], []),  # it overflows at 255
        ([*range(980, 1000), *range(1, 21)], []),  # at 999
        ([*range(4711, 4751)], []),
    ],
)
def test_a_counter_that_begins_again(numbers: list[int], why: list[str], tmp_path: Path) -> None:
    log = read_text(tmp_path, numbered(numbers, [30.0 * at for at in range(40)]))
    assert [reason for _, _, reason in holes(log)] == why


def test_numbers_that_begin_again_with_each_file_are_no_restart(tmp_path: Path) -> None:
    one = write(tmp_path, numbered(list(range(1, 21)), [30.0 * at for at in range(20)]), "1.csv")
    two = write(tmp_path, numbered(list(range(1, 21)), [30.0 * at for at in range(20, 40)]), "2.csv")
    assert holes(read([one, two], profile())) == []


# ring buffers


RING = [f"{stamp(600 + 20 * at)};RUN;{at % 2}" for at in range(6)] + [
    f"{stamp(20 * at)};RUN;{at % 2}" for at in range(9)
]
"""The oldest row stands in line 8; fifteen rows."""


@pytest.mark.parametrize(
    ("seam", "aside", "blank"),
    [
        ([], 0, 0),
        ([""], 0, 1),
        (["", ""], 0, 2),
        ([f"{stamp(0)[:9]}"], 1, 0),  # overwritten by half
        (["4-05-13 00:12:00;RU"], 1, 0),
        ([";;"], 0, 1),
    ],
)
def test_the_seam_of_a_ring_buffer(seam: list[str], aside: int, blank: int, tmp_path: Path) -> None:
    log = read_text(tmp_path, H + "".join(f"{row}\n" for row in [*RING[:6], *seam, *RING[6:]]))
    assert log.clock_steps.is_empty()
    assert [t for _, t, _ in history(log)] == sorted(t for _, t, _ in history(log))
    assert len(history(log)) == 15
    assert (log.rejected.height, log.files[0].blank) == (aside, blank)
    assert any("ring buffer" in note for note in log.notes)


def test_the_seam_of_a_ring_buffer_between_two_files(tmp_path: Path) -> None:
    whole = read_text(tmp_path, H + "".join(f"{row}\n" for row in RING))
    for cut in (6, 4, 9):
        paths = [
            write(tmp_path, H + "".join(f"{row}\n" for row in rows), f"{n}.csv")
            for n, rows in enumerate((RING[:cut], RING[cut:]))
        ]
        log = read(paths[::-1], profile())
        balanced(log)
        assert history(log) == history(whole), cut
        assert log.clock_steps.is_empty(), cut


def test_a_clock_step_between_two_files(tmp_path: Path) -> None:
    rows = [f"{stamp(600 + 20 * at)};RUN;{at % 2}" for at in range(20)]
    rows += [f"{stamp(700 + 20 * at)};RUN;{at % 2}" for at in range(20)]
    whole = read_text(tmp_path, H + "".join(f"{row}\n" for row in rows))
    assert whole.clock_steps["seconds"].to_list() == [-280]  # from 980 s to 700 s, by hand
    paths = [
        write(tmp_path, H + "".join(f"{row}\n" for row in part), f"{n}.csv")
        for n, part in enumerate((rows[:20], rows[20:]))
    ]
    log = read(paths[::-1], profile())
    assert history(log) == history(whole)
    assert log.clock_steps.equals(whole.clock_steps)


# clocks that were set wrong and right again


@pytest.mark.parametrize(
    ("jump_s", "steps"),
    [(259_200, 2), (700, 2), (500, 1)],  # three days; above and below ten minutes
)
def test_a_step_forward_that_a_step_back_takes_away(jump_s: int, steps: int, tmp_path: Path) -> None:
    rows = [f"{stamp(10 * at + (jump_s if 20 <= at < 40 else 0))};RUN;{at % 2}\n" for at in range(60)]
    log = read_text(tmp_path, H + "".join(rows))
    assert log.clock_steps.height == steps
    assert log.clock_steps["why"].to_list()[-1] == "set back"
    assert [value for _, _, value in history(log)] == [at % 2 for at in range(60)]


def test_a_pause_before_a_step_back_of_another_size_is_a_pause(tmp_path: Path) -> None:
    rows = [f"{stamp(10 * at + 5000 * (at >= 20) - 3600 * (at >= 40))};RUN;{at % 2}\n" for at in range(60)]
    assert read_text(tmp_path, H + "".join(rows)).clock_steps["seconds"].to_list() == [-3590]


def test_a_factory_date_within_the_same_year(tmp_path: Path) -> None:
    def shown(at: int) -> str:
        return f"2024-01-01 00:0{at - 20}:05" if 20 <= at < 25 else stamp(60.0 * at)

    log = read_text(tmp_path, H + "".join(f"{shown(at)};RUN;{at % 2}\n" for at in range(40)))
    assert log.clock_steps.height == 2  # lost and set again
    assert log.segments.height == 3
    assert log.observed_s == 19 * 60 + 4 * 60 + 14 * 60  # counted by hand


def test_one_of_several_files_is_a_ring_buffer(tmp_path: Path) -> None:
    """Beside it the clock was set back once: that is a step, the seam is none."""
    weeks = [[f"{stamp(4000 * week + 20 * at)};RUN;{at % 2}" for at in range(100)] for week in range(3)]
    weeks[0][50:] = [f"{stamp(20 * at - 300)};RUN;{at % 2}" for at in range(50, 100)]
    weeks[1] = [*weeks[1][60:], *weeks[1][:60]]
    paths = [
        write(tmp_path, H + "".join(f"{row}\n" for row in week), f"w{number}.csv") for number, week in enumerate(weeks)
    ]
    log = read(paths, profile())
    balanced(log)
    assert log.clock_steps["seconds"].to_list() == [-280]
    assert log.segments["rows"].to_list() == [50, 50, 100, 100]  # a record each 20 s: between the files are holes
    assert any("w1.csv" in note for note in log.notes)


def test_a_hole_that_is_nearly_as_long_as_a_later_step_back_is_a_hole(tmp_path: Path) -> None:
    beat = [10.0 * at + 2570 * (at >= 100) - 2700 * (at >= 400) for at in range(800)]
    log = read_text(tmp_path, H + f"{stamp(0)};RUN;0\n" + "".join(f"{stamp(at)};HB;1\n" for at in beat))
    assert log.clock_steps["seconds"].to_list() == [-2690]
    assert holes(log) == [(990, 3570, "silence")]
