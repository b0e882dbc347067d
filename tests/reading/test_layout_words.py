"""Guards packed words: every spelling, width, order of bytes and words; the oracle takes bits with Python integers."""

from __future__ import annotations

import tempfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reading_logs import RUN, balanced, history, read_text, toml, write

from eventlens.errors import ReadingError
from eventlens.reading import inspect, read
from eventlens.reading.profile import Source, Word
from eventlens.signals import STATES

BITS = {bit: Source(signal=signal) for bit, signal in zip((0, 1, 5, 14, 15), STATES, strict=False)}
SPELLINGS = {
    "0x": lambda w, n: f"0x{w:x}",
    "0X padded": lambda w, n: f"0X{w:0{n // 4}X}",
    "16#": lambda w, n: f"16#{w:04X}",
    "W#16#": lambda w, n: f"W#16#{w:X}",
    "DW#16#": lambda w, n: f"DW#16#{w:08x}",
    "$": lambda w, n: f"${w:x}",
    "&H": lambda w, n: f"&H{w:X}",
    "h": lambda w, n: f"{w:04x}h",
    "2#": lambda w, n: f"2#{w:b}",
    "2# parted": lambda w, n: "2#" + f"{w:016b}"[:8] + "_" + f"{w:016b}"[8:],
    "0b": lambda w, n: f"0b{w:016b}",
    "8#": lambda w, n: f"8#{w:o}",
    "plain binary": lambda w, n: f"{w:0{n}b}",
    "decimal": lambda w, n: str(w),
    "negative": lambda w, n: str(w - (1 << n) if w >> (n - 1) else w),
    "number": lambda w, n: f"{w}.0",
}
STATED = {
    "hex": ("hex", lambda w: f"{w:04x}"),
    "blanks in it": ("hex", lambda w: f"{w >> 8:02x} {w & 255:02x}"),
    "binary": ("binary", lambda w: f"{w:b}"),
    "octal": ("octal", lambda w: f"{w:o}"),
    "signed": ("signed", lambda w: str(w)),
}


def states_of(words: list[int], bit: int) -> list[float]:
    """The states of a bit without repeats."""
    states = [float(word >> bit & 1) for word in words]
    return [state for at, state in enumerate(states) if at == 0 or state != states[at - 1]]


def table(cells: list[str], layout: str = "samples") -> str:
    stamps = [f"2024-05-13 06:{at // 60:02}:{at % 60:02}" for at in range(len(cells))]
    if layout == "samples":
        return "time;MW20\n" + "".join(f"{stamp};{cell}\n" for stamp, cell in zip(stamps, cells, strict=True))
    return "time;name;value\n" + "".join(f"{stamp};MW20;{cell}\n" for stamp, cell in zip(stamps, cells, strict=True))


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.integers(0, 0xFFFF), min_size=2, max_size=12),
    st.sampled_from(sorted(SPELLINGS)),
    st.sampled_from(("samples", "changes")),
)
def test_bits_of_random_words_in_every_spelling(words: list[int], spelling: str, layout: str) -> None:
    with tempfile.TemporaryDirectory() as folder:
        cells = [SPELLINGS[spelling](word, 16) for word in words]
        log = read_text(Path(folder), table(cells, layout), {}, {"MW20": Word(BITS, width=16)}, layout=None)
    assert log.layout == ("words" if layout == "samples" else "changes")
    for bit, source in BITS.items():
        assert [value for _, _, value in history(log, source.signal)] == states_of(words, bit), (bit, log.notes)
    ever = {bit for bit in range(16) if any(word >> bit & 1 for word in words)} - set(BITS)
    unmapped = log.names.filter(log.names["signal"].is_null())
    assert set(unmapped["name"]) == {f"MW20.{bit}" for bit in ever}
    for name, edges in unmapped.select("name", "edges").rows():
        assert edges == len(states_of(words, int(name.split(".")[1]))) - 1
    assert log.rejected.is_empty()


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(0, 0xFFFF), min_size=2, max_size=9), st.sampled_from(sorted(STATED)))
def test_bits_where_the_profile_states_the_encoding(words: list[int], spelling: str) -> None:
    encoding, write_word = STATED[spelling]
    with tempfile.TemporaryDirectory() as folder:
        word = Word(BITS, encoding)  # type: ignore[arg-type]
        log = read_text(Path(folder), table([write_word(word) for word in words]), {}, {"MW20": word})
    for bit, source in BITS.items():
        assert [value for _, _, value in history(log, source.signal)] == states_of(words, bit)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.integers(0, (1 << 64) - 1), min_size=1, max_size=6),
    st.sampled_from((16, 32, 64)),
    st.booleans(),
    st.booleans(),
    st.sampled_from(("0x", "decimal", "negative")),
)
def test_order_of_bytes_and_words(words: list[int], width: int, swap: bool, turn: bool, spelling: str) -> None:
    words = [word & ((1 << width) - 1) for word in words]

    def stored(word: int) -> int:
        parts = [word >> shift & 0xFFFF for shift in range(width - 16, -1, -16)]
        parts = parts[::-1] if turn else parts
        parts = [(part & 255) << 8 | part >> 8 for part in parts] if swap else parts
        return sum(part << shift for part, shift in zip(parts, range(width - 16, -1, -16), strict=True))

    bits = {0: Source(signal=RUN), width - 1: Source(signal="rope.slack"), 9: Source(signal="stop.emergency")}
    word = Word(
        bits,
        width=width,
        byte_order="low_first" if swap else "high_first",
        word_order="low_first" if turn else "high_first",
    )
    with tempfile.TemporaryDirectory() as folder:
        cells = [SPELLINGS[spelling](stored(word), width) for word in words]
        log = read_text(Path(folder), table(cells), {}, {"MW20": word}, time="time")
    for bit, source in bits.items():
        assert [value for _, _, value in history(log, source.signal)] == states_of(words, bit)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.integers(-0x8000, 0x7FFF), min_size=1, max_size=8),
    st.sampled_from(("0x", "negative", "decimal")),
)
def test_a_word_that_is_a_number(numbers: list[int], spelling: str) -> None:
    cells = [SPELLINGS[spelling](number & 0xFFFF, 16) for number in numbers]
    fields = {(0, 63): (Source(signal="load.kg", factor=0.5),)}
    word = Word({}, width=16, signed=True, fields=fields)
    with tempfile.TemporaryDirectory() as folder:
        log = read_text(Path(folder), table(cells), {}, {"MW20": word})
    want = [number * 0.5 for number in numbers]
    assert [v for _, _, v in history(log, "load.kg")] == [
        v for at, v in enumerate(want) if at == 0 or v != want[at - 1]
    ]
    assert log.names["name"].to_list() == ["MW20"]


@settings(max_examples=30, deadline=None)
@given(st.lists(st.integers(0, 9999), min_size=1, max_size=8))
def test_packed_decimals(numbers: list[int]) -> None:
    word = Word({}, width=16, bcd=True, fields={(0, 63): (Source(signal="load.kg"),)})
    with tempfile.TemporaryDirectory() as folder:
        log = read_text(Path(folder), table([f"16#{number:04d}" for number in numbers]), {}, {"MW20": word})
    assert [v for _, _, v in history(log, "load.kg")] == [
        float(v) for at, v in enumerate(numbers) if at == 0 or v != numbers[at - 1]
    ]


def test_a_digit_above_nine_is_no_packed_decimal(tmp_path: Path) -> None:
    word = Word({}, width=16, bcd=True, fields={(0, 63): (Source(signal="load.kg"),)})
    log = read_text(tmp_path, table(["16#0012", "16#00A2", "16#0013"]), {}, {"MW20": word})
    assert [value for _, _, value in history(log, "load.kg")] == [12, None, 13]
    assert "digits above 9" in " ".join(log.notes)


def test_neighbouring_bits_as_a_number_and_several_signals(tmp_path: Path) -> None:
    path = toml(
        tmp_path,
        """
[words."MW20"]
0 = "hoist.raise.command"
"4-6" = [{ signal = "hoist.raise.contactor", on = [1, 2] }, { signal = "hoist.fast.contactor", on = 2 }]
"8-15" = "load.percent"
""",
    )
    # by hand: step 0, 1, 2, 5 in bits 4 to 6; load 0, 10, 10, 255 in bits 8 to 15
    cells = ["16#0000", "16#0A11", "16#0A21", "16#FF51"]
    log = read(write(tmp_path, table(cells)), path)
    balanced(log)
    assert [value for _, _, value in history(log)] == [0, 1, 0]
    assert [value for _, _, value in history(log, "hoist.fast.contactor")] == [0, 1, 0]
    assert [value for _, _, value in history(log, "load.percent")] == [0, 10, 255]
    assert log.names["name"].to_list() == ["MW20.0", "MW20.4-6", "MW20.4-6", "MW20.8-15"]


@pytest.mark.parametrize("layout", ["samples", "changes"])
def test_a_word_that_is_not_understood_makes_its_bits_unknown(layout: str, tmp_path: Path) -> None:
    words = {"MW20": Word({0: Source(signal=RUN)}, width=16)}
    for empty in ("unknown", "unchanged"):
        log = read_text(tmp_path, table(["1", "zz", "1", "70000", "0"], layout), {}, words, empty=empty)
        assert [value for _, _, value in history(log)] == [1, None, 1, None, 0]
        assert "'70000' 1 x" in " ".join(log.notes) or layout == "samples"
        assert log.rejected["row"].to_list() == ([3, 5] if layout == "changes" else [])


def test_words_beside_names_in_a_log_of_changes(tmp_path: Path) -> None:
    rows = ["MW20;3", "K1;1", "MW20;1", "B7;5", "MW22;16", "K1;0", "MW20;1", "MW20;33"]
    text = "time;name;value\n" + "".join(f"2024-05-13 06:00:0{at};{row}\n" for at, row in enumerate(rows))
    words = {
        "MW20": Word({0: Source(signal=RUN), 1: Source(signal="rope.slack", invert=True)}),
        "MW22": Word({4: Source(signal="stop.emergency")}),
    }
    log = read_text(tmp_path, text, {"K1": Source(signal="supply.control")}, words)
    found = log.events.select("row", "signal", "value").rows()
    assert found == [
        (2, RUN, 1),
        (2, "rope.slack", 0),
        (3, "supply.control", 1),
        (4, "rope.slack", 1),
        (6, "stop.emergency", 1),
        (7, "supply.control", 0),
    ]
    names = {row["name"]: (row["rows"], row["edges"], row["mapped_by"]) for row in log.names.rows(named=True)}
    assert names == {
        "B7": (1, 0, "unmapped"),
        "K1": (2, 1, "profile"),
        "MW20.0": (4, 0, "profile"),
        "MW20.1": (4, 1, "profile"),
        "MW20.5": (4, 1, "unmapped"),
        "MW22.4": (1, 0, "profile"),
    }


def test_plain_digits_are_decided_by_the_whole_column(tmp_path: Path) -> None:
    word = {"MW20": Word({4: Source(signal=RUN)})}

    def first(cells: list[str]) -> tuple[float | None, str]:
        log = read_text(tmp_path, table(cells), {}, word)
        return history(log)[0][2], " ".join(log.notes)

    assert first(["10", "16"])[0] == 0  # decimal 10 = 0b01010
    assert first(["0010", "0016"])[0] == 1  # filled up: hexadecimal 0x10
    assert "filled up with 0: read as hexadecimal" in first(["0010", "0016"])[1]
    assert first(["0000000000010000", "0000000000000001"])[0] == 1  # 16 digits 0 and 1
    assert "read as binary" in first(["0000000000010000", "0000000000000001"])[1]


def test_a_word_of_the_profile_that_is_nowhere(tmp_path: Path) -> None:
    with pytest.raises(ReadingError, match="MW99"):
        read_text(tmp_path, table(["1", "2"]), {}, {"MW99": Word({0: Source(signal=RUN)})}, layout="words")


@pytest.mark.parametrize("layout", ["samples", "changes"])
def test_inspection_shows_the_bits(layout: str, tmp_path: Path) -> None:
    path = toml(tmp_path, '[words."MW20"]\n0 = "hoist.raise.contactor"\n')
    found = inspect(write(tmp_path, table(["1", "33", "32"], layout)), path)
    bits = {seen.name: (seen.rows, seen.values, seen.signal) for seen in found.names if "." in seen.name}
    assert bits == {"MW20.0": (3, ("1", "0"), RUN), "MW20.5": (3, ("0", "1"), None)}
