"""Guards the live page without a browser: who follows, silence, what was told and became of it, where it leads."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import polars as pl
import pytest
from dash import no_update

from dashboards import shell
from dashboards.data import Source, StateFolder, source_of
from dashboards.data.live import SHOWN, Live
from dashboards.figures import arrivals
from dashboards.figures.theme import palette
from dashboards.pages._page import read_query
from dashboards.pages.live import callbacks, parts
from dashboards.pages.live.layout import one
from dashboards.pages.week.state import reopened
from eventlens import Archive
from eventlens.errors import EventlensError
from eventlens.live import as_json
from eventlens.live import word as words
from tests.cli.runner import ran, write_log
from tests.dashboards.followed import HOSTILE, NOW, WORD, ago, followed, message, noted
from tests.dashboards.histories import kept
from tests.dashboards.test_shell import links, text_of
from tests.logs import at


def live(place: Path, archive: Archive | None = None) -> Live:
    return Live(place, archive, lambda: NOW)


def said(place: Path) -> tuple[str, str, str]:
    """How it is with the only follower: in words, and whether somebody should look."""
    (one,) = live(place).followers()
    return one.head, one.more, one.level


@pytest.mark.parametrize(
    ("changed", "head", "more", "level"),
    [
        ({}, "Followed", "The last line came 4 s ago.", "calm"),
        ({"came": ago(1)}, "Followed", "The last line came just now.", "calm"),
        ({"came": ago(59)}, "Followed", "The last line came 59 s ago.", "calm"),
        ({"came": ago(720)}, "Followed", "Nothing has come for 12 min.", "calm"),  # silence is said as silence
        ({"came": None}, "Followed", "Nothing has come yet, since 2026-03-02 07:46:40.", "calm"),
        ({"trouble": "not connected to the broker"}, "Followed, but not connected to the broker", "4 s ago", "watch"),
        ({"at": ago(words.SILENT_S)}, "Followed", "4 s ago", "calm"),
        ({"at": ago(words.SILENT_S + 0.1)}, "Nobody follows any more", "fell silent 20 s ago, at 2026-", "watch"),
        ({"at": ago(720), "trouble": "x"}, "Nobody follows any more", "fell silent 12 min ago", "watch"),
        ({"at": ago(720), "ended": True}, "Nobody follows any more", "Somebody ended it 12 min ago", "calm"),
        ({"ended": True, "why": "no room"}, "Nobody follows any more", "by this: no room", "watch"),
    ],
)
def test_whether_anybody_follows_is_told_by_his_last_word(
    changed: dict[str, Any], head: str, more: str, level: str, tmp_path: Path
) -> None:
    followed(tmp_path, **changed)
    assert said(tmp_path)[::2] == (head, level)
    assert more in said(tmp_path)[1]


def test_where_a_file_lies_is_not_told(tmp_path: Path) -> None:
    followed(tmp_path, ended=True, why=f"{WORD.state}: no room beside {WORD.source}")
    page = text_of(one(live(tmp_path), live(tmp_path).view(None, None), None))
    assert "saw-3.csv" in page
    assert "/nowhere" not in page
    assert "/var/log" not in page


def test_what_was_told_stands_with_its_delay_the_latest_first(tmp_path: Path) -> None:
    later = message(2, pattern="overload_trip", signal="overload.trip", direction=None, start=at(300), end=at(302))
    followed(tmp_path, messages=(message(1), later))
    view = live(tmp_path).view("SAW-3", None)
    assert [(one.number, one.title, one.level) for one in view.told] == [
        (2, "Hoist: overload trip", "watch"),
        (1, "Hoist: drop-out", "repair"),
    ]
    first = view.told[1]
    assert first.facts == "certain; raise; 0.9 s; lines 40, 41, 42"
    assert first.delay == "certain 12 s of the log after its end; told 0.5 s after that came"
    assert first.start == "2026-03-02 06:01:40"  # at(100) is 06:01:40 UTC, and so in Lisbon in winter
    assert view.asks == (("repair", 1), ("watch", 1))


def test_what_was_withdrawn_or_changed_is_shown_as_such_in_its_place(tmp_path: Path) -> None:
    messages = (
        message(1),
        message(2, start=at(500), end=at(501)),
        message(3, "changed", "it went on", end=at(110)),
        message(4, "withdrawn", "with what came later it is none", start=at(500), end=at(501)),
    )
    followed(tmp_path, messages=messages)
    view = live(tmp_path).view("SAW-3", None)
    assert [(one.number, one.latest, one.status, one.why) for one in view.told] == [
        (2, 4, "withdrawn", "with what came later it is none"),
        (1, 3, "changed", "it went on"),
    ]
    assert view.asks == (("repair", 1),)
    page = text_of(parts.told(view))
    assert page.count('"type": "S"') == 1
    assert "✕ withdrawn" in page
    assert "↻ changed" in page


def test_a_journal_is_read_on_as_it_grows_and_anew_when_it_is_another(tmp_path: Path) -> None:
    folder = followed(tmp_path, messages=(message(1),))
    known = live(tmp_path)
    assert len(known.view(None, None).told) == 1
    with (folder / words.TOLD).open("a") as file:
        file.write('{"half a li')
    assert len(known.view(None, None).told) == 1
    (folder / words.TOLD).unlink()
    followed(tmp_path, messages=tuple(message(n, start=at(10 * n), end=at(10 * n + 1)) for n in range(1, 4)))
    assert [one.number for one in known.view(None, None).told] == [3, 2, 1]
    (folder / words.TOLD).unlink()
    assert known.view(None, None).told != ()  # what is not there now says nothing new


def test_only_the_latest_findings_are_sent(tmp_path: Path) -> None:
    many = tuple(message(n, start=at(10 * n), end=at(10 * n + 1)) for n in range(1, SHOWN + 6))
    followed(tmp_path, messages=many)
    view = live(tmp_path).view(None, None)
    assert (len(view.told), view.earlier, view.told[0].number) == (SHOWN, 5, SHOWN + 5)


def test_a_hostile_log_is_only_text(tmp_path: Path) -> None:
    followed(
        tmp_path,
        messages=(message(1, signal=HOSTILE),),
        machine=HOSTILE,
        notes=noted(HOSTILE, "line\u202eend\x1b[2J"),
        noted=2,
    )
    view = live(tmp_path).view(HOSTILE, None)
    assert HOSTILE in view.told[0].facts
    assert view.notes[0][1] == "line\\u202eend\\x1b[2J"
    drawn = arrivals.figure(
        replace(view.arrivals, told=view.arrivals.told.with_columns(title=pl.lit(HOSTILE))), palette(None)
    )
    assert "<img" not in drawn.to_json()


def test_minutes_that_nobody_followed_are_not_silence(tmp_path: Path) -> None:
    minute = int(NOW.timestamp()) // 60
    minutes = ((minute - 9, 40), (minute - 8, 0), (minute - 3, 7), (minute, 2))
    folder = followed(tmp_path, minutes=minutes, messages=(message(1),))
    view = live(tmp_path).view(None, None).arrivals
    assert view.frame["lines"].to_list()[-10:] == [40, 0, None, None, None, None, 7, None, None, 2]
    assert view.reading == (
        "In the last 15 min lines came in 3 of 4 minutes that were followed; 11 minutes were not followed (hatched); "
        "1 finding became certain."
    )
    drawn = arrivals.figure(view, palette("dark"))
    names = [trace.name for trace in drawn.data]
    assert names == ["not followed", "lines", "followed", "repair"]
    assert len(drawn.data[0].x) == 11
    assert list(drawn.data[1].y) == [40, 0, 7, 2]
    words.write(replace(WORD, minutes=minutes[:-1]), folder)
    assert live(tmp_path).view(None, None).arrivals.frame["lines"].to_list()[-1] == 0  # he follows: his word is due
    words.write(replace(WORD, minutes=minutes[:-1], at=ago(60)), folder)
    assert live(tmp_path).view(None, None).arrivals.frame["lines"].to_list()[-1] is None
    # what comes at once as somebody begins does not press the others flat
    assert arrivals.usual_most(view.frame) == arrivals.LEAST


def test_nobody_ever_followed(tmp_path: Path) -> None:
    assert live(tmp_path).followers() == []
    page = text_of(parts.everybody([], "history"))
    assert "Nobody follows a machine into this archive yet" in page
    assert "eventlens follow LOG --machine saw-3.toml --archive history" in page
    with pytest.raises(EventlensError, match="somebody who follows"):
        live(tmp_path).view(None, None)


@pytest.mark.parametrize("text", ["", "{", "[]", '{"form": 99}', '{"form": 1, "at": "x"}', '{"form": 1}'])
def test_a_word_that_cannot_be_read_is_left_out(text: str, tmp_path: Path) -> None:
    folder = followed(tmp_path, name="broken")
    followed(tmp_path, name="whole")
    (folder / words.WORD).write_text(text)
    assert [one.key for one in live(tmp_path).followers()] == ["whole"]


def test_the_address_names_machine_and_record(tmp_path: Path) -> None:
    followed(tmp_path, "one", at=ago(5))
    followed(tmp_path, "other", at=ago(3), source="mqtt://broker.example:1883/saw-3")
    followed(tmp_path, "dock", machine="DOCK-5", at=ago(1))
    known = live(tmp_path)
    assert [one.key for one in known.followers()] == ["dock", "other", "one"]
    assert known.view("SAW-3", None).follower.source == "mqtt://broker.example:1883/saw-3"
    assert known.view("SAW-3", "one").follower.source == "saw-3.csv"
    with pytest.raises(EventlensError, match="did you mean 'SAW-3'"):
        known.view("SAW-33", None)
    with pytest.raises(EventlensError, match="wanted a record"):
        known.view("SAW-3", "../one")


def test_an_answer_holds_what_is_new_and_nothing_else(tmp_path: Path) -> None:
    folder = followed(tmp_path, messages=(message(1),))
    known, key = live(tmp_path), {"machine": "SAW-3", "record": "SAW-3-1"}
    before = callbacks.state(known.view(None, None), "light")
    now, heard, found, figure, reading, notes, after, ends, hidden = callbacks.answer(known, key, before, "light")
    assert "4 s ago" in text_of(now)
    assert (heard, found, figure, reading, notes, ends, hidden) == (*[no_update] * 5, False, True)
    assert after == before

    with (folder / words.TOLD).open("a") as file:
        file.write(json.dumps(as_json(message(2, start=at(500), end=at(501)))) + "\n")
    words.write(replace(WORD, ended=True, notes=noted("gone"), noted=1), folder)
    now, heard, found, figure, _, notes, _, ends, hidden = callbacks.answer(known, key, before, "light")
    assert heard.startswith("New finding: Hoist: drop-out, asks for: repair. Nobody follows any more.")
    assert [row.key for row in found[0].children] == [one.key for one in known.view(None, None).told]
    assert figure is not no_update
    assert "gone" in text_of(notes)
    assert (ends, hidden) == (True, False)


def test_what_is_heard_of_several_is_the_most_serious(tmp_path: Path) -> None:
    messages = (
        message(1, pattern="jogging", measured=3.0, start=at(10), end=at(12)),
        message(2),
        message(3, pattern="log_hole", motion=None, start=at(700), end=at(800)),
    )
    followed(tmp_path, messages=messages)
    view = live(tmp_path).view(None, None)
    assert parts.heard(view, 0) == "3 findings are new or changed; first of all Hoist: drop-out: repair."
    assert parts.heard(view, 3) == ""


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Archive:
    """SLAB-1 drops out three times in its second week."""
    return kept(tmp_path_factory.mktemp("kept"))


def test_a_finding_leads_to_the_archive_where_that_has_come_so_far(archive: Archive, tmp_path: Path) -> None:
    occurrences = archive.review("SLAB-1").occurrences.filter(pl.col("pattern") == "drop_out")
    first, last = (occurrences.row(place, named=True) for place in (0, -1))
    gone = {"start": at(1e7), "end": at(1e7 + 1)}
    messages = tuple(message(n, start=one["start"], end=one["end"]) for n, one in enumerate((first, last, gone), 1))
    followed(tmp_path, machine="SLAB-1", zone="UTC", messages=messages)
    told = live(tmp_path, archive).view(None, None).told
    assert [bool(one.href) for one in told] == [False, True, True]  # the latest is nowhere to be seen yet
    query = read_query(told[1].href.partition("?")[2])
    assert (query["machine"], query["finding"]) == ("SLAB-1", "drop_out/hoist/")
    week = source_of(archive).week("SLAB-1", query["week"])
    assert reopened(week, query)["chosen"] == {"key": "drop_out/hoist/", "number": 3}  # the last of three by hand
    assert reopened(week, read_query(told[2].href))["chosen"] == {"key": "drop_out/hoist/", "number": 1}
    assert reopened(week, {**query, "at": "no time"})["chosen"] == {"key": "drop_out/hoist/", "number": 1}


def test_pages_of_an_archive_into_which_somebody_only_begins_to_follow(tmp_path: Path) -> None:
    followed(tmp_path)
    source = source_of(Archive(tmp_path))
    assert shown(source, "/")[0] == "SAW-3: as it runs"
    assert "got none yet; they come as what is followed is finished" in shown(source, "/machines")[1]


def shown(source: Source, path: str, **query: str) -> tuple[str, str]:
    body, _, title, *_ = shell.show(source, path, query, None)
    return title["title"], text_of(body)


def test_a_state_folder_has_its_page_and_the_review_of_what_has_come(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log = write_log(tmp_path / "saw-3.csv")
    machine = tmp_path / "saw-3.toml"
    machine.write_text('[machine]\nid = "SAW-3"\ngroup = "M5"\n')
    state = tmp_path / "saw-3.csv.follow"
    given = ("follow", log, "--machine", machine, "--state", state, "--until-idle", "0", "--quiet")
    assert ran(capsys, *given).status == 0
    source = source_of(StateFolder(state))
    title, page = shown(source, "/")
    assert title == "SAW-3: as it runs"
    assert "Somebody ended it" in page
    (link,) = [one for one in links(shell.show(source, "/", {}, None)[0]) if "finding=" in one]
    title, page = shown(source, "/review", **read_query(link.partition("?")[2]))
    assert title == "SAW-3: review of what was followed"
    assert "drop-out, hoist: 1 of 1" in page
    assert "As it runs" in page
    assert source.week(None, None) is source.week("SAW-3", None)
    for wrong in ({"record": "other"}, {"record": state.name, "after": "2999-01-01"}):
        assert "This cannot be shown" in shown(source, "/review", **wrong)[1]


def test_a_review_of_a_record_is_made_anew_only_where_an_address_asks_for_a_later_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log = write_log(tmp_path / "saw-3.csv")
    state = tmp_path / "state"
    assert ran(capsys, "follow", log, "--state", state, "--until-idle", "0", "--quiet").status == 0
    now = [NOW]
    known = Live(state, None, lambda: now[0])
    first = known.week("state", None)
    now[0] += timedelta(seconds=10)
    assert known.week("state", NOW.isoformat()) is first
    assert known.week("state", now[0].isoformat()) is not first
