"""Guards the page about a repair: what it says is what the comparison found; addresses, cautions, and nobody's dump but
one's own."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import Any
from urllib.parse import quote

import polars as pl
import pytest
from flask import Flask, g

from dashboards.data import Fault, Source, source_of
from dashboards.data._compared import Compared, answer
from dashboards.data.repair import Asked, Subject, places, subject, written
from dashboards.figures import before_after, ratios
from dashboards.figures.theme import palette
from dashboards.guard import Visit
from dashboards.intake import Intake
from dashboards.jobs import Jobs
from dashboards.pages import repair
from dashboards.pages.repair import callbacks, parts
from dashboards.repairs import Rated
from dashboards.shelf import Shelf, ShelfError
from eventlens import schema
from eventlens.archive.tables import ENTRIES
from eventlens.comparison import compare_reviews
from eventlens.wiring import review_log
from tests.comparison.stories import log_of, side
from tests.comparison.test_moved import TWELVE, both
from tests.comparison.test_times import SLOW, releasing
from tests.dashboards.histories import kept
from tests.dashboards.weeks import full
from tests.patterns.helpers import M5

LATER = 100_000.0
CUT = "2026-03-02T07:00"
"""Within the two hours of the log of `full`, which begins at 6:00."""


@pytest.fixture(autouse=True)
def visit() -> Iterator[None]:
    """A request of a visitor, which the guard has let in."""
    with Flask(__name__).test_request_context():
        g.visit = Visit("somebody", entered=True)
        yield


@pytest.fixture(scope="module")
def source(tmp_path_factory: pytest.TempPathFactory) -> Source:
    """Two machines, two weeks; of SLAB-1 a repair is written down between them."""
    return source_of(kept(tmp_path_factory.mktemp("kept")))


@cache
def compared(before: int, after: int, runs: int = 300) -> Compared:
    """So many drop-outs in so many runs on each side."""
    return Compared(compare_reviews(side(300, before), side(runs, after, LATER)))


def text_of(part: Any) -> str:
    return json.dumps(part, default=lambda one: one.to_plotly_json(), ensure_ascii=False)


def rated(verdict: str, name: str = "drop-out (hoist)", **more: Any) -> Rated:
    given = {"outlook": "", "value": 0.5, "low": 0.2, "high": 0.9, "ratio": "0.5 × (0.2 to 0.9)", **more}
    return Rated(name, name, "drop_out/hoist", "repair", verdict, "9 in 100 starts", "4 in 100 starts", **given)


def done(about: Subject, key: dict[str, Any], jobs: Jobs) -> tuple[Any, ...]:
    """What the page shows once it asks no more."""
    for _ in range(600):
        found = callbacks.result(about, key, jobs)
        if found[1]:
            return found
        time.sleep(0.1)
    raise TimeoutError


def test_every_verdict_has_word_sign_and_place() -> None:
    for known in (parts.WORD, parts.MEANING, ratios.SIGN, ratios.SYMBOL):
        assert set(known) == set(schema.VERDICTS)
    assert len(set(ratios.SIGN.values())) == len(set(ratios.SYMBOL.values())) == len(schema.VERDICTS)  # not by colour


def test_the_answer_is_one_sentence_with_what_is_worse_first() -> None:
    # 20 drop-outs in 300 starts, then none in 300, or eight: the verdicts are those of tests/comparison/test_rates.py
    assert compared(20, 0).answer == "Since then drop-out (hoist) has gone, for longer than chance explains."
    assert compared(20, 8).answer == "Since then drop-out (hoist) comes more seldom, but has not gone."
    assert compared(0, 12).answer == "Since then drop-out (hoist) comes oftener than before."
    assert compared(0, 0).answer.startswith("Neither side shows a pattern")
    both_ways = answer([rated("worse", "a"), rated("worse", "b"), rated("gone", "c"), rated("not_shown", "d")])
    assert both_ways == (
        "Since then a and b come oftener than before; c has gone, for longer than chance explains; no change is shown "
        "for d."
    )
    silent = answer([rated("not_shown", "d", outlook="watch 40 more starts before silence means anything")])
    assert silent == "Since then no change is shown for d (not seen since, but not for long enough)."


def test_without_use_since_nothing_is_called_better() -> None:
    empty = review_log(log_of([], begin=LATER, end=LATER + 7200), M5)
    found = Compared(compare_reviews(side(300, 10), empty))
    assert found.answer == "There is no use since: nothing can be said of 1 pattern seen before."
    assert found.rated[0].ratio == "no use since, so nothing can be said"
    assert "watch 188 more starts" in found.rated[0].outlook  # as tests/report/test_comparison.py
    assert ratios.figure(found.rated, palette(None)).data == ()


def test_rates_stand_with_use_ratio_limits_and_time_to_watch() -> None:
    row = compared(20, 8).rated[0]
    assert (row.before, row.after) == ("20 in 300 starts", "8 in 300 starts")
    assert row.ratio.startswith("0.4 × (")
    assert row.low is not None
    assert row.high is not None
    assert row.low < 0.4 < row.high < 1
    # 20 in 300 starts and then 30 without: too few to say anything
    open_ = compared(20, 0, runs=30).rated[0]
    assert open_.verdict == "not_shown"
    assert open_.outlook.startswith("watch ")
    assert "working day" in open_.outlook
    page = text_of(parts.result(subject(source_of(full()), None, None, "somebody"), compared(20, 8)))
    for said in (row.before, row.after, row.ratio, "less", ratios.SIGN["less"]):
        assert said in page


def test_the_chart_draws_each_interval_and_says_where_it_goes_on() -> None:
    gone, less = compared(20, 0).rated, compared(20, 8).rated
    lines = [trace for trace in ratios.figure([*gone, *less], palette("dark")).data if trace.name == "limits"]
    assert [line.y[0] for line in lines] == [1.0, 0.0]  # the first stands at the top
    assert lines[0].x == (ratios.LEAST, gone[0].high)
    assert lines[1].x == (less[0].low, less[0].high)
    ends = [trace.name for trace in ratios.figure(gone, palette(None)).data if "end" in trace.name]
    assert ends == ["open end", "end"]  # nothing after: the ratio may be as small as one likes
    new = compared(0, 12).rated[0]
    assert new.high is None
    signs = {trace.name: trace.marker.symbol for trace in ratios.figure([new], palette(None)).data[1:]}
    assert signs == {"end": "line-ns-open", "open end": "arrow-right", "worse": "triangle-up"}


def test_times_are_spread_on_both_sides_against_their_limit() -> None:
    found = Compared(compare_reviews(releasing(SLOW), releasing(SLOW, LATER)))
    view = next(one for one in found.times if one.title == "hoist: release time")
    assert (view.limit, view.limit_name, view.least) == (0.5, "brake_release_s", False)  # common practice, limits.py
    for share in view.shares:
        assert share.sum() == pytest.approx(100)
    assert view.reading.startswith("No change shown: median ")
    figure = before_after.figure(view, palette(None))
    assert [trace.name for trace in figure.data] == ["before", "after"]
    assert {shape.name for shape in figure.layout.shapes} == {"median before", "median after", "limit"}
    assert "limit: at most 0.5 s" in text_of(figure.to_plotly_json())


def test_runs_beyond_the_limit_are_counted_from_both_sides_of_it() -> None:
    at, over = (releasing([value] * 12, begin) for value, begin in ((0.5, 0.0), (0.52, LATER)))
    view = next(one for one in Compared(compare_reviews(at, over)).times if one.title == "hoist: release time")
    assert view.beyond == (0, 12)  # a time that is just the limit is within it
    assert "12 of 12 runs above the limit of 0.5 s, none of 12 before." in view.reading


def test_whether_the_fault_went_with_the_part() -> None:
    before, after = both(TWELVE, ()), both((), TWELVE, begin=LATER)  # the drop-outs of raise are those of lower now
    found = Compared(compare_reviews(before, after))
    told = found.moved("hoist.raise:hoist.lower")
    wanted = compare_reviews(before, after, moved=["hoist.raise:hoist.lower"]).moved
    assert len(told) == wanted.height
    assert told
    page = text_of(parts.moved(told, "hoist.raise", "hoist.lower"))
    assert all(one.verdict in page for one in told)
    with pytest.raises(Fault, match="two different places"):
        found.moved("hoist.raise:hoist.raise")
    assert "nothing could have moved" in text_of(parts.moved([], "hoist.raise", "hoist.lower"))
    assert set(places(["hoist"])) == {"hoist", "hoist.raise", "hoist.lower", "hoist.fast", "hoist.brake"}


def test_work_is_listed_the_latest_first_and_what_has_no_log_cannot_be_chosen() -> None:
    entry = {"machine": "SAW-3", "id": "1", "name": None, "who": "test", "added": datetime(2026, 5, 1, tzinfo=UTC)}
    when = [datetime(2026, 4, day, 5, tzinfo=UTC) for day in (1, 20, 20, 25)]
    told = zip(("repair", "repair", "exchanged", "note"), when, ("old", "brake", "relay", "two crews"), strict=True)
    rows = pl.DataFrame(
        [{**entry, "kind": kind, "at": at, "text": text} for kind, at, text in told], schema=ENTRIES.schema
    )
    works = written(rows, [when[1]], "Europe/Lisbon")
    assert [(work.key, work.text, work.usable) for work in works] == [
        ("2026-04-20T06:00", "part exchanged: relay; repair: brake", True),
        ("2026-04-01T06:00", "repair: old", False),
    ]


def test_the_latest_repair_is_compared_and_another_time_can_be_asked_for(source: Source) -> None:
    about = subject(source, "SLAB-1", None, "somebody")
    assert [work.text for work in about.works] == ["repair: relay of raise"]
    key = about.works[0].key
    assert about.chosen(Asked()) == Asked(repair=key)
    assert about.chosen(Asked(at="2026-04-04")) == Asked(at="2026-04-04")
    assert about.chosen(Asked(repair="2026-01-01")) == Asked(repair="2026-01-01")
    page, asks_no_more, shown, hidden, options, *_ = done(about, {"machine": "SLAB-1", "dump": None}, Jobs())
    assert (asks_no_more, shown, hidden) == (True, True, False)
    assert {one["value"] for one in options} == set(places(["hoist"]))
    said = text_of(page)
    assert "3 in 20 starts" in said  # the second week drops out three times
    assert "lock out and tag out, prove dead" in said
    assert "/weeks?machine=SLAB-1&pattern=drop_out%2Fhoist" in said


@pytest.mark.parametrize(
    ("key", "said"),
    [
        ({"repair": "2026-01-01"}, "wanted one repair of SLAB-1 with log on both sides, got '2026-01-01'"),
        ({"at": "yesterday"}, "wanted an instant as 2026-04-15 10:00, got 'yesterday'"),
        ({"at": "2031-01-01"}, "wanted an instant within the log"),
        ({"at": "2026-04-04", "until": "2026-04-03"}, "wanted an end of the work not before its beginning"),
    ],
)
def test_what_cannot_be_compared_is_one_sentence(source: Source, key: dict[str, str], said: str) -> None:
    page, asks_no_more, *_ = done(subject(source, "SLAB-1", None, "somebody"), key, Jobs())
    assert asks_no_more
    assert said[1:] in text_of(page)
    assert "Traceback" not in text_of(page)


def test_a_machine_without_a_written_repair_says_how_to_write_one(source: Source) -> None:
    built = repair.build(source, {"machine": "DOCK-5"})
    page = text_of(built.body)
    assert "eventlens archive add ARCHIVE --machine DOCK-5 --repair '2026-04-20T06:00 brake adjusted'" in page
    assert "When the work began" in page
    about = subject(source, "DOCK-5", None, "somebody")
    assert about.chosen(Asked()) is None


def test_one_log_asks_for_a_time_and_cuts_there() -> None:
    about = subject(source_of(full()), None, None, "somebody")
    page = text_of(repair.build(source_of(full()), {}).body)
    assert "When was the work done?" in page
    assert "eventlens archive" not in page
    assert about.span[0] <= CUT.replace("T", " ") <= about.span[1], about.span
    found = done(about, {"at": CUT}, Jobs())
    assert found[2] is True, text_of(found[0])


def test_an_archive_of_several_machines_lets_one_be_chosen(source: Source) -> None:
    page = text_of(repair.build(source, {}).body)
    assert "/repair?machine=DOCK-5" in page
    with pytest.raises(Fault, match="did you mean 'SLAB-1'"):
        repair.build(source, {"machine": "SLAB-2"})


def test_nobody_compares_the_dump_of_somebody_else(tmp_path: Path) -> None:
    source = source_of(None)
    source.intake = Intake(Shelf(tmp_path / "dumps"))
    with pytest.raises(ShelfError):
        subject(source, None, "A" * 24, "somebody")


def test_names_from_a_log_are_text() -> None:
    hostile = "<b onclick=x>&"
    figure = ratios.figure([rated("worse", hostile)], palette(None))
    assert hostile not in text_of(figure.to_plotly_json())


def test_other_work_within_a_typed_time_is_warned_of(source: Source) -> None:
    about = subject(source, "SLAB-1", None, "somebody")
    jobs = Jobs()
    typed = text_of(done(about, {"machine": "SLAB-1", "at": "2026-04-01T12:00"}, jobs)[0])
    assert "Other work within the compared time" in typed
    assert "2026-04-03 10:00, repair: relay of raise" in typed
    assert f"/repair?machine=SLAB-1&repair={quote(about.works[0].key)}" in typed
    # the work itself, written down or typed to the minute, is no other work
    for key in ({"repair": about.works[0].key}, {"at": "2026-04-03T10:00"}):
        assert "Other work" not in text_of(done(about, {"machine": "SLAB-1", **key}, jobs)[0])
    # nor is what lies between its beginning and its end
    around = {"at": "2026-04-03T08:00", "until": "2026-04-03T12:00"}
    assert "Other work" not in text_of(done(about, around, jobs)[0])


def test_a_running_comparison_can_be_stopped_and_begun_again() -> None:
    gate, begun = threading.Event(), threading.Event()

    def slow(asked: Asked, tell: Callable[[str], None]) -> Any:
        begun.set()
        gate.wait(30)
        tell("after the repair")
        return compare_reviews(side(300, 20), side(300, 0, LATER))

    about = replace(subject(source_of(full()), None, None, "somebody"), compare=slow)
    jobs, key = Jobs(), {"at": CUT}
    page, ends, *_, stop, again = callbacks.result(about, key, jobs)
    buttons = [stop, again]
    assert buttons == [False, True]  # hidden is the one that begins it again
    assert not ends
    assert begun.wait(30)
    callbacks.stop(about, key, jobs)
    gate.set()
    page = text_of(done(about, key, jobs)[0])
    assert "The comparison was stopped." in page
    assert done(about, key, jobs)[-2:] == (True, False)
    assert callbacks.again(about, key, jobs)[1] is False
    assert "Since then drop-out (hoist) has gone" in text_of(done(about, key, jobs)[0])
