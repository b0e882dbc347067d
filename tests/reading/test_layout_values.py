"""Guards values: on and off in every spelling, decimal marks, units, mapping by value, quality, two instants."""

from __future__ import annotations

from pathlib import Path

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from reading_logs import RUN, balanced, history, on_seconds, profile, read_text, starts, toml, write

from eventlens.errors import ReadingError
from eventlens.reading import Log, read
from eventlens.reading.numerals import find_decimal, maybe_thousands, to_number
from eventlens.reading.profile import Source
from eventlens.reading.values import numbers, states

SPEED = "hoist.speed_m_per_min"
LAYOUTS = ("changes", "samples")


def log_of(folder: Path, cells: list[str], signals: dict[str, object], layout: str = "changes", **log: object) -> Log:
    """A log with one name X whose values are the cells, a second apart."""
    stamps = [f"2024-05-13 06:{at // 60:02}:{at % 60:02}" for at in range(len(cells))]
    if layout == "changes":
        text = "time;signal;value\n" + "".join(f"{t};X;{c}\n" for t, c in zip(stamps, cells, strict=True))
    else:
        text = "time;X\n" + "".join(f"{t};{c}\n" for t, c in zip(stamps, cells, strict=True))
    return read_text(folder, text, signals, layout=layout, delimiter=";", **log)  # type: ignore[arg-type]


def values(log: Log, signal: str = RUN) -> list[float | None]:
    return [value for _, _, value in history(log, signal)]


def edges(want: list[float | None], layout: str) -> list[float | None]:
    """What a layout makes events of: each record, or each change."""
    return [v for at, v in enumerate(want) if layout == "changes" or at == 0 or v != want[at - 1]]


# T31 -----------------------------------------------------------------------------------------------------------------
PAIRS = {
    "English": ("On", "OFF"),
    "English truth": ("TRUE", "False"),
    "English contact": ("closed", "open"),
    "German": ("Ein", "Aus"),
    "German truth": ("WAHR", "FALSCH"),
    "German contact": ("geschlossen", "offen"),
    "French": ("Marche", "Arrêt"),
    "French truth": ("vrai", "FAUX"),
    "Spanish": ("Encendido", "Apagado"),
    "Spanish truth": ("Verdadero", "Falso"),
    "Italian": ("Acceso", "Spento"),
    "Italian truth": ("VERO", "falso"),
    "Portuguese": ("Ligado", "Desligado"),
    "Portuguese truth": ("Sim", "Não"),
    "Polish": ("Włączony", "Wyłączony"),
    "Polish truth": ("Prawda", "Fałsz"),
    "Polish short": ("zał.", "wył."),
    "letters t f": ("T", "F"),
    "letters y n": ("y", "n"),
    "letters j n": ("J", "N"),
    "letters o n": ("O", "N"),
    "letters v f": ("V", "F"),
    "letters e a": ("E", "A"),
    "switch": ("I", "O"),
    "numbers": ("-1", "0"),
    "numbers with decimals": ("1,0", "0,0"),
}


@pytest.mark.parametrize("language", sorted(PAIRS))
@pytest.mark.parametrize("layout", LAYOUTS)
def test_t31_spellings_of_on_and_off(language: str, layout: str, tmp_path: Path) -> None:
    on, off = PAIRS[language]
    log = log_of(tmp_path, [off, on, off, f" {on} ", off], {"X": Source(signal=RUN)}, layout)
    assert values(log) == [0, 1, 0, 1, 0]
    assert log.rejected.is_empty()


def test_t31_mixed_spellings_in_one_column(tmp_path: Path) -> None:
    cells = ["0", "Ein", "Aus", "TRUE", "0", "-1", "FALSCH"]
    log = log_of(tmp_path, cells, {"X": Source(signal=RUN)})
    assert (starts(log), on_seconds(log)) == (3, 3)


@pytest.mark.parametrize("cells", [["I", "I", "1"], ["o", "0", "1"], ["A", "0", "1"], ["T", "N", "1"]])
def test_letters_that_mean_two_things_are_not_guessed(cells: list[str], tmp_path: Path) -> None:
    log = log_of(tmp_path, cells, {"X": Source(signal=RUN)})
    assert values(log)[0] is None
    assert log.rejected.height >= 1


@pytest.mark.parametrize("layout", LAYOUTS)
def test_unknown_words_are_counted(layout: str, tmp_path: Path) -> None:
    cells = ["1", "läuft?", "0", "läuft?", "eher nicht", "1"]
    log = log_of(tmp_path, cells, {"X": Source(signal=RUN)}, layout)
    assert values(log) == edges([1, None, 0, None, None, 1], layout)
    assert "3 " in " ".join(log.notes)
    assert "('läuft?' 2 x, 'eher nicht' 1 x)" in " ".join(log.notes)
    assert log.rejected["row"].to_list() == ([3, 5, 6] if layout == "changes" else [])


@pytest.mark.parametrize("layout", LAYOUTS)
def test_own_words_for_on_and_off(layout: str, tmp_path: Path) -> None:
    cells = ["steht", "Läuft", "Wartung", "2", "läuft"]
    both = log_of(tmp_path, cells, {"X": Source(signal=RUN, on=["läuft", "2"], off="steht")}, layout)
    assert values(both) == edges([0, 1, None, 1, 1], layout)
    assert "'Wartung' 1 x" in " ".join(both.notes)
    only_off = log_of(tmp_path, cells, {"X": Source(signal=RUN, off="STEHT")}, layout)
    assert values(only_off) == edges([0, 1, 1, 1, 1], layout)
    turned = log_of(tmp_path, cells, {"X": Source(signal=RUN, on="läuft", invert=True)}, layout)
    assert values(turned) == edges([1, 0, 1, 1, 0], layout)


def test_open_and_closed_are_not_guessed_for_a_brake(tmp_path: Path) -> None:
    brake = "hoist.brake.released"
    log = log_of(tmp_path, ["open", "closed", "1"], {"X": Source(signal=brake)})
    assert values(log, brake) == [None, None, 1]
    told = log_of(tmp_path, ["open", "closed"], {"X": Source(signal=brake, on="open", off="closed")})
    assert values(told, brake) == [1, 0]


# T24 -----------------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("cells", "want", "said"),
    [
        (["1.250,5", "0,0"], [1250.5, 0], None),
        (["1,250.5", "0.0"], [1250.5, 0], None),
        (["20,5", "3"], [20.5, 3], None),
        (["20.5", "3"], [20.5, 3], None),
        (["1.250.000", "1.250"], [1250000, 1250], None),
        (["1,250,000", "1,250"], [1250000, 1250], None),
        (["1 250,5", "12"], [1250.5, 12], None),
        (["1\u202f250,5", "12\u00a0000"], [1250.5, 12000], None),
        (["1'250.5", "12'000'000"], [1250.5, 12e6], None),
        (["−2,5", "+3,5"], [-2.5, 3.5], None),
        (["1.5e3", "2"], [1500, 2], None),
        (["1.250", "3.500"], [1.25, 3.5], "Numbers like 1.250 are read with a decimal point"),
        (["1,250", "3,500"], [1.25, 3.5], "Numbers like 1,250 are read with a decimal comma"),
        (["0,250", "3,500"], [0.25, 3.5], None),
        (["12,5", "12.5"], [12.5, 12.5], "written with decimal comma and with decimal point"),
    ],
)
@pytest.mark.parametrize("layout", LAYOUTS)
def test_t24_decimal_marks_and_thousands(
    cells: list[str], want: list[float], said: str | None, layout: str, tmp_path: Path
) -> None:
    log = log_of(tmp_path, cells, {"X": Source(signal=SPEED)}, layout)
    assert values(log, SPEED) == edges(list(want), layout)
    notes = " ".join(log.notes).replace(" in 'X'", "")
    assert said is None or said in notes
    assert said is not None or "Numbers" not in notes


def test_t24_the_profile_decides(tmp_path: Path) -> None:
    assert values(log_of(tmp_path, ["1.250"], {"X": Source(signal=SPEED)}, decimal=","), SPEED) == [1250]
    assert values(log_of(tmp_path, ["1,250"], {"X": Source(signal=SPEED)}, decimal="."), SPEED) == [1250]


@given(st.lists(st.decimals(-99999, 99999, places=2), min_size=1, max_size=20), st.sampled_from((".", ",")))
def test_numbers_with_thousands_come_back(amounts: list[object], mark: str) -> None:
    texts = [f"{amount:,.2f}" for amount in amounts]
    if mark == ",":
        texts = [text.translate(str.maketrans(",.", ".,")) for text in texts]
    column = pl.Series("v", texts)
    assert find_decimal(column) == mark
    assert maybe_thousands(column) is None
    assert to_number(column, mark).to_list() == [float(str(amount)) for amount in amounts]  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("signal", "cells", "want"),
    [
        ("load.kg", ["12,5 kg", "1.2 t", "500", "800g", "2 t"], [12.5, 1200, 500, 0.8, 2000]),
        ("load.percent", ["12,5 %", "110%"], [12.5, 110]),
        ("hoist.motor.current_a", ["4.2 A", "850 mA", "0.1 kA"], [4.2, 0.85, 100]),
        ("hoist.motor.temperature_c", ["20,5 °C", "-3,0°C"], [20.5, -3]),
        (SPEED, ["8 m/min", "0.1 m/s", "50 mm/s"], [8, 6, 3]),
        ("hoist.height_m", ["1,5 m", "900 mm", "25 cm"], [1.5, 0.9, 0.25]),
    ],
)
@pytest.mark.parametrize("layout", LAYOUTS)
def test_units_inside_the_cell(signal: str, cells: list[str], want: list[float], layout: str, tmp_path: Path) -> None:
    log = log_of(tmp_path, cells, {"X": Source(signal=signal)}, layout)
    assert values(log, signal) == pytest.approx(want)


def test_a_unit_that_does_not_fit_is_not_understood(tmp_path: Path) -> None:
    log = log_of(tmp_path, ["5 kg", "5 m", "5 kN"], {"X": Source(signal="load.kg")})
    assert values(log, "load.kg") == [5, None, None]
    assert "'5 kN' 1 x, '5 m' 1 x" in " ".join(log.notes)
    # a stated factor is for numbers without a unit or with one that is not known
    log = log_of(tmp_path, ["5 kg", "5", "5 kN"], {"X": Source(signal="load.kg", factor=100)})
    assert values(log, "load.kg") == [5, 500, 500]


# T32 -----------------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("layout", LAYOUTS)
def test_t32_one_name_tells_several_signals(layout: str, tmp_path: Path) -> None:
    path = toml(
        tmp_path,
        '[signals]\nX = [{signal = "hoist.raise.contactor", on = ["1", "2"]}, '
        '{signal = "hoist.fast.contactor", on = ["2"]}]\n',
    )
    rows = ((0, 0), (5, 1), (10, 2), (20, 0), (21, "?"))
    head = "time;signal;value\n" if layout == "changes" else "time;X\n"
    name = ";X" if layout == "changes" else ""
    log = read(write(tmp_path, head + "".join(f"2024-05-13 06:00:{t:02}{name};{v}\n" for t, v in rows)), path)
    balanced(log)
    # troubles of logs: 1 start, 15 s on; the change of speed is none
    assert (starts(log), on_seconds(log)) == (1, 15)
    assert (starts(log, "hoist.fast.contactor"), on_seconds(log, "hoist.fast.contactor")) == (1, 10)
    assert log.names["signal"].to_list() == ["hoist.raise.contactor", "hoist.fast.contactor"]
    assert log.names["repeated"].to_list() == [0, 0]


@pytest.mark.parametrize("layout", LAYOUTS)
def test_a_signed_speed_tells_both_directions(layout: str, tmp_path: Path) -> None:
    cells = ["0,0", "4,5", "-4,5", "0,2", "-12", "?"]
    sources = (Source(signal=RUN, above=0.5), Source(signal="hoist.lower.contactor", below=-0.5))
    more = (*sources, Source(signal="hoist.fast.contactor", above=-20, below=-10), Source(signal=SPEED))
    log = log_of(tmp_path, cells, {"X": more}, layout)
    assert values(log) == edges([0, 1, 0, 0, 0, None], layout)
    assert values(log, "hoist.lower.contactor") == edges([0, 0, 1, 0, 1, None], layout)
    assert values(log, "hoist.fast.contactor") == edges([0, 0, 0, 0, 1, None], layout)
    assert values(log, SPEED) == [0, 4.5, -4.5, 0.2, -12, None]


def test_enumeration_texts(tmp_path: Path) -> None:
    up = Source(signal=RUN, on=["Heben langsam", "Heben schnell"])
    fast = Source(signal="hoist.fast.contactor", on=["Heben schnell", "Senken schnell"])
    down = Source(signal="hoist.lower.contactor", on=["Senken langsam", "Senken schnell"])
    cells = ["Halt", "Heben langsam", "heben schnell", "Halt", "Senken schnell", "Halt"]
    log = log_of(tmp_path, cells, {"X": (up, down, fast)})
    assert (starts(log), on_seconds(log)) == (1, 2)
    assert (starts(log, "hoist.lower.contactor"), starts(log, "hoist.fast.contactor")) == (1, 2)


# T33 to T35 ----------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("layout", LAYOUTS)
def test_t33_rows_are_no_edges(layout: str, tmp_path: Path) -> None:
    log = log_of(tmp_path, ["0", "1", "1", "1", "0", "0"], {"X": Source(signal=RUN)}, layout)
    assert (starts(log), on_seconds(log)) == (1, 3)
    assert log.names["edges"].to_list() == [2]
    if layout == "changes":
        assert log.names["repeated"].to_list() == [3]
        assert "Records repeat the state before them ('X' 3 x)" in " ".join(log.notes)


def test_missing_offs_are_counted(tmp_path: Path) -> None:
    signals = {"up": Source(signal=RUN, sets=True), "down": Source(signal=RUN, sets=False)}
    text = "time;name\n" + "".join(
        f"2024-05-13 06:00:0{at};{n}\n" for at, n in enumerate(("up", "up", "down", "up", "up", "up"))
    )
    log = read_text(tmp_path, text, signals, name="name", layout="changes")
    assert log.names.select("name", "repeated").rows() == [("down", 0), ("up", 3)]
    assert "'up' 3 x" in " ".join(log.notes)


def test_t34_first_row_on_and_t35_a_value_holds(tmp_path: Path) -> None:
    log = log_of(tmp_path, ["1", "0", "1", "1", "0"], {"X": Source(signal=RUN)})
    assert starts(log, before=None) == 1  # the first row shows a state, no change
    assert on_seconds(log) == 3


# quality -------------------------------------------------------------------------------------------------------------
QUALITIES = {
    "words": ("Good", "Bad"),
    "German": ("gut", "ungültig"),
    "bytes": ("192", "0"),
    "bytes, other good": ("216", "24"),
    "codes": ("0", "2147483648"),
    "uncertain": ("GOOD", "uncertain"),
}


@pytest.mark.parametrize("kind", sorted(QUALITIES))
@pytest.mark.parametrize("layout", LAYOUTS)
def test_a_value_of_bad_quality_is_unknown(kind: str, layout: str, tmp_path: Path) -> None:
    good, bad = QUALITIES[kind]
    rows = [("0", good), ("1", good), ("1", bad), ("rubbish", bad), ("0", good), ("1", bad)]
    names = ("time;X;Q", "") if layout == "samples" else ("time;signal;value;Q", "X;")
    text = names[0] + "\n" + "".join(f"2024-05-13 06:00:0{at};{names[1]}{v};{q}\n" for at, (v, q) in enumerate(rows))
    log = read_text(tmp_path, text, {"X": Source(signal=RUN)}, layout=layout, quality="Q")
    assert values(log) == edges([0, 1, None, None, 0, None], layout)
    assert f"3 values are not of good quality by 'Q' ('{bad.lower()}' 3 x)" in " ".join(log.notes)
    assert log.rejected.is_empty()
    assert log.names["name"].to_list() == ["X"]


def test_a_quality_beside_each_column(tmp_path: Path) -> None:
    text = "time;A;A Q;B;B Q\n2024-05-13 06:00:00;1;good;1;bad\n2024-05-13 06:00:01;1;bad;1;good\n"
    signals = {"A": Source(signal=RUN), "B": Source(signal="rope.slack")}
    log = read_text(tmp_path, text, signals, quality="* Q")
    assert values(log) == [1, None]
    assert values(log, "rope.slack") == [None, 1]


def test_qualities_that_need_the_profile(tmp_path: Path) -> None:
    text = "time;signal;value;Q\n2024-05-13 06:00:00;X;1;0\n2024-05-13 06:00:01;X;0;1\n"
    with pytest.raises(ReadingError, match="qualities in column 'Q' that are known, got '0', '1'; state"):
        read_text(tmp_path, text, {"X": Source(signal=RUN)}, quality="Q")
    log = read_text(tmp_path, text, {"X": Source(signal=RUN)}, quality="Q", good=["1"])
    assert values(log) == [None, 0]


def test_bad_quality_where_an_empty_cell_means_unchanged(tmp_path: Path) -> None:
    rows = ["1;good", ";", ";bad", ";", "0;good"]
    text = "time;X;Q\n" + "".join(f"2024-05-13 06:00:0{at};{row}\n" for at, row in enumerate(rows))
    log = read_text(tmp_path, text, {"X": Source(signal=RUN)}, quality="Q", empty="unchanged", layout="samples")
    assert values(log) == [1, None, 0]
    assert on_seconds(log) == 2


# T40 -----------------------------------------------------------------------------------------------------------------
T40 = """arrived;source_time;signal;value
2024-05-01 10:00:00.300;2024-05-01 10:00:00.100;TRIP;1
2024-05-01 10:00:00.300;2024-05-01 10:00:00.100;RUN;0
2024-05-01 10:00:03.000;2024-05-01 10:00:01.500;FB;1
2024-05-01 10:00:02.000;2024-05-01 10:00:01.000;RUN;1
"""


@pytest.mark.parametrize("stated", [True, False])
def test_t40_the_instant_of_the_source_counts(stated: bool, tmp_path: Path) -> None:
    keys = {"time": "source_time", "arrived": "arrived"} if stated else {}
    log = read_text(tmp_path, T40, **keys)  # type: ignore[arg-type]
    signals = log.events["signal"].to_list()
    assert signals == ["overload.trip", RUN, RUN, "hoist.brake.released"]  # ties keep the order of the file
    on, released = (history(log, signal)[-1][1] for signal in (RUN, "hoist.brake.released"))
    assert released - on == 500_000
    assert not stated or "up to 1.5 s after the instant of their source" in " ".join(log.notes)


def test_t40_columns_in_the_other_order_and_skewed_clocks(tmp_path: Path) -> None:
    rows = [line.split(";") for line in T40.splitlines()]
    text = "".join(";".join((row[2], row[1], row[3], row[0])) + "\n" for row in rows)
    text = (
        text.replace("10:00:02.000", "10:00:00.900").replace("source_time", "event time").replace("arrived", "logged")
    )
    log = read_text(tmp_path, text, arrived="logged")
    assert history(log)[-1][1] % 60_000_000 == 1_000_000
    assert "1 records arrive up to 0.1 s before the instant of their source" in " ".join(log.notes)


def test_arrivals_beyond_the_bound_are_said(tmp_path: Path) -> None:
    log = read_text(tmp_path, T40, arrived="arrived", late_s=0.1)
    assert "state a larger [log] late_s" in " ".join(log.notes)


def test_states_of_plain_numbers_take_no_words() -> None:
    found = states(pl.Series(["0", "1", None, "2"]))
    assert found.number.to_list() == [0, 1, None, 1]
    assert not found.words
    assert numbers(pl.Series(["1.250", "x", "?", ""]), None).bad.to_list() == [False, True, False, False]


def test_flags_and_numbers_of_typed_columns() -> None:
    assert states(pl.Series([True, False, None])).number.to_list() == [1, 0, None]
    assert states(pl.Series([1.0, float("nan"), 0.0])).number.to_list() == [1, None, 0]


def test_a_profile_for_the_test_of_layouts_is_untouched() -> None:
    assert profile().signals["RUN"] == Source(signal=RUN)
