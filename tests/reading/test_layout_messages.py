"""Guards logs of messages: came, gone, acknowledged in several languages; pairs of texts; values inside texts."""

from __future__ import annotations

import tempfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reading_logs import balanced, history, on_seconds, profile, read_text, starts, toml, write

from eventlens.errors import ReadingError
from eventlens.reading import Log, read
from eventlens.reading.entries import Message
from eventlens.reading.profile import LogKeys, Profile, Source

TRIP = "overload.trip"
WORDS = {
    "letters": ("C", "G", "A"),
    "German letters": ("K", "G", "Q"),
    "signs": ("+", "-", "ack"),
    "numbers": ("1", "0", "Q"),
    "English": ("coming", "going", "acknowledged"),
    "German": ("Kommt", "Geht", "Quittiert"),
    "French": ("Apparition", "Disparition", "Acquitté"),
    "Spanish": ("Entrada", "Salida", "Reconocido"),
    "Italian": ("Attivo", "Rientrato", "Riconosciuto"),
    "Polish": ("Przyszedł", "Odszedł", "Potwierdzony"),
    "alarm words": ("ALM", "RTN", "ACK"),
    "combined letters": ("C", "CG", "CA"),
}


def messages(entries: dict[str, Message] | None = None, **log: object) -> Profile:
    return Profile(
        LogKeys.model_validate(log), {}, {}, {"17": Message(signal=TRIP)} if entries is None else entries, None
    )


def read_rows(folder: Path, rows: list[str], profile: Profile, header: str = "time;no;state") -> Log:
    text = header + "\n" + "".join(f"2024-05-01 {row}\n" for row in rows)
    log = read(write(folder, text), profile)
    balanced(log)
    return log


T39 = ["06:00:00;17;{0}", "06:00:20;17;{2}", "06:01:00;17;{1}", "06:02:00;17;{0}", "06:02:05;17;{1}", "06:02:30;17;{2}"]


@pytest.mark.parametrize("language", sorted(WORDS))
@pytest.mark.parametrize("stated", [True, False])
def test_t39_came_gone_acknowledged(language: str, stated: bool, tmp_path: Path) -> None:
    rows = [row.format(*WORDS[language]) for row in T39]
    if language == "combined letters":
        rows[5] = "06:02:30;17;CGA"
    log = read_rows(tmp_path, rows, messages(layout="messages" if stated else None))
    assert log.layout == "messages"
    # troubles of logs: 2 occurrences, active 60 + 5 = 65 s; an acknowledgement is not the end
    assert starts(log, TRIP) == 2
    assert on_seconds(log, TRIP) == 65
    assert log.rejected.is_empty()


def test_t39_other_order_of_columns_and_more_of_them(tmp_path: Path) -> None:
    rows = [f"{state};17;area 4;2024-05-01 {stamp}" for stamp, _, state in (row.split(";") for row in T39)]
    text = "Status;Nr;Ort;Zeit\n" + "".join(row.format("kommt", "geht", "quittiert") + "\n" for row in rows)
    log = read(write(tmp_path, text), messages(name="Nr"))
    balanced(log)
    assert (starts(log, TRIP), on_seconds(log, TRIP)) == (2, 65)


def test_gone_first_and_came_last_are_said(tmp_path: Path) -> None:
    log = read_rows(tmp_path, ["06:00:00;17;G", "06:00:30;17;C", "06:00:40;4;C"], messages())
    assert starts(log, TRIP, before=None) == 1
    said = " ".join(log.notes)
    assert "came before the log began (gone is their first row): '17'" in said
    assert "are still there at the end of the log: '17'" in said
    assert log.names.filter(log.names["signal"].is_null())["name"].to_list() == ["4"]


def test_an_unknown_state_is_set_aside_and_counted(tmp_path: Path) -> None:
    log = read_rows(tmp_path, ["06:00:00;17;C", "06:00:10;17;perhaps", "06:00:20;17;C", "06:00:30;17;G"], messages())
    assert [value for _, _, value in history(log, TRIP)] == [1, None, 1, 0]
    assert log.rejected["row"].to_list() == [3]
    assert "'perhaps' 1 x" in " ".join(log.notes)


def test_own_words_of_the_profile(tmp_path: Path) -> None:
    keys = {"came": ["rot"], "gone": ["grün", "G"], "acknowledged": "gelb"}
    log = read_rows(tmp_path, ["06:00:00;17;rot", "06:00:10;17;gelb", "06:00:20;17;GRÜN"], messages(**keys))
    assert [value for _, _, value in history(log, TRIP)] == [1, 0]
    # where C is not among the stated words it is not known any more
    log = read_rows(tmp_path, ["06:00:00;17;rot", "06:00:10;17;C", "06:00:20;17;G"], messages(**keys))
    assert log.rejected.height == 1


PAIRS = {
    "Slack rope": Message(signal="rope.slack", sets=True),
    "Rope tight": Message(signal="rope.slack", sets=False, match="prefix"),
    "^Load ([0-9.,]+ ?k?g|[0-9.,]+ t)$": Message(signal="load.kg", match="pattern"),
    "^E(?:12|13)\\b": Message(signal=TRIP, sets=True, match="pattern"),
    "E14 reset": Message(signal=TRIP, sets=False),
}


def test_pairs_beginnings_patterns_and_values_inside(tmp_path: Path) -> None:
    rows = [
        "06:00:00;Slack rope",
        "06:00:01;Load 12,5 kg",
        "06:00:02;Rope tight after 3 s",
        "06:00:03;Load 1,2 t",
        "06:00:04;E13 overload 120 %",
        "06:00:05;E14 reset",
        "06:00:06;E14 reset by 2",
        "06:00:07;slack rope",
    ]
    log = read_rows(tmp_path, rows, messages(PAIRS, layout="messages", decimal=","), "time;text")
    assert [value for _, _, value in history(log, "rope.slack")] == [1, 0]
    assert [value for _, _, value in history(log, "load.kg")] == [12.5, 1200]
    assert [value for _, _, value in history(log, TRIP)] == [1, 0]
    unmapped = log.names.filter(log.names["signal"].is_null())["name"].to_list()
    assert unmapped == ["E14 reset by 2", "slack rope"]  # exact means exact


def test_a_pair_of_which_one_never_comes_is_said(tmp_path: Path) -> None:
    log = read_rows(tmp_path, ["06:00:00;Slack rope", "06:00:09;x"], messages(PAIRS), "time;text")
    assert "No message of this log sets rope.slack off" in " ".join(log.notes)


def test_the_coming_of_a_text_sets_where_states_are_written(tmp_path: Path) -> None:
    entries = {"up": Message(signal=TRIP, sets=True), "down": Message(signal=TRIP, sets=False)}
    rows = ["06:00:00;up;C", "06:00:05;up;G", "06:00:10;down;C", "06:00:11;down;A", "06:00:12;down;G"]
    log = read_rows(tmp_path, rows, messages(entries))
    assert [value for _, _, value in history(log, TRIP)] == [1, 0]
    assert on_seconds(log, TRIP) == 10


def test_a_message_without_an_end_needs_more(tmp_path: Path) -> None:
    with pytest.raises(ReadingError, match=r"no column of came and gone; name it in .* value"):
        read_rows(tmp_path, ["06:00:00;17", "06:00:10;18"], messages(layout="messages"), "time;text")


def test_a_profile_file_of_messages(tmp_path: Path) -> None:
    path = toml(tmp_path, '[messages]\n"17" = "overload.trip"\n[signals]\n"18" = "rope.slack"\n')
    text = "time;no;state\n" + "".join(
        f"2024-05-01 06:00:0{at};{row}\n" for at, row in enumerate(("17;C", "18;C", "17;G"))
    )
    log = read(write(tmp_path, text), path)
    assert log.events["signal"].to_list() == [TRIP, "rope.slack", TRIP]


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(0, 3), st.sampled_from(("17", "18", "x")), st.integers(0, 2)), min_size=1, max_size=30
    ),
    st.sampled_from(sorted(set(WORDS) - {"combined letters"})),
)
def test_messages_and_changes_tell_the_same(rows: list[tuple[int, str, int]], language: str) -> None:
    entries = {"17": Message(signal=TRIP), "18": Message(signal="rope.slack")}
    stamps, at = [], 0
    for gap, _, _ in rows:
        at += gap
        stamps.append(f"2024-05-01 06:{at // 60:02}:{at % 60:02}")
    first = "time;no;state\n2024-05-01 05:59:59;17;" + WORDS[language][1] + "\n"
    text = first + "".join(f"{t};{no};{WORDS[language][w]}\n" for t, (_, no, w) in zip(stamps, rows, strict=True))
    # the oracle: acknowledgements left out, came 1, gone 0
    plain = "time;name;value\n2024-05-01 05:59:59;17;0\n" + "".join(
        f"{t};{no};{1 - w}\n" for t, (_, no, w) in zip(stamps, rows, strict=True) if w < 2
    )
    with tempfile.TemporaryDirectory() as folder:
        log = read(write(Path(folder), text), messages(entries, layout="messages"))
        want = read_text(Path(folder), plain, {"17": Source(signal=TRIP), "18": Source(signal="rope.slack")})
    balanced(log)
    assert log.events.drop("row").equals(want.events.drop("row"))


def test_on_and_off_alone_stay_changes(tmp_path: Path) -> None:
    text = "time;signal;value\n2024-05-01 06:00:00;RUN;active\n2024-05-01 06:00:01;RUN;inactive\n"
    assert read(write(tmp_path, text), profile()).layout == "changes"
