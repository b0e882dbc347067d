"""Guards the page: it renders for every kind of review, and each callback does what its name says."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from dash import no_update
from dash.exceptions import PreventUpdate
from flask import Flask, g
from plotly.utils import PlotlyJSONEncoder

import dashboards
from dashboards import shell
from dashboards.data import Fault, Week, source_of
from dashboards.figures import lanes
from dashboards.guard import Visit
from dashboards.pages import repair, report
from dashboards.pages._page import SCREEN, THEME, Screen, screen_of
from dashboards.pages.week import callbacks, ids, layout, parts
from dashboards.pages.week.state import Chosen, Done, State, follow, reopened
from dashboards.tables import LifeFacts, Used
from eventlens.machine import Machine
from eventlens.patterns import catalogue
from eventlens.result import Review, Statement
from eventlens.wiring import review_log
from tests.causes.stories import loose_relay, of
from tests.dashboards.weeks import SAW, full, full_week, measured_only, nothing_found, set_back, three_signals
from tests.logs import HOIST, at, make_log, merged, run

KINDS = [full, three_signals, nothing_found, measured_only, set_back]
DROP_OUT = "drop_out/hoist/"
JOGGING = "jogging/hoist/"


def text_of(page: Any) -> str:
    """The page as the browser gets it."""
    return json.dumps(page.to_plotly_json(), cls=PlotlyJSONEncoder)


@pytest.mark.parametrize("kind", KINDS)
def test_the_page_is_served_for_every_kind_of_review(kind: Callable[[], Review]) -> None:
    client = dashboards.create_app(kind()).server.test_client()
    page = client.get("/")
    assert page.status_code == 200
    assert '<html lang="en">' in page.text
    assert "default-src 'self'" in page.headers["Content-Security-Policy"]
    assert client.get("/_dash-layout").status_code == 200
    assert text_of(shell.show(source_of(kind()), "/", {}, None)[0]).startswith('{"props"')
    known = {entry["output"] for entry in client.get("/_dash-dependencies").get_json()}
    assert any(ids.LANES + ".figure" in output for output in known)


@pytest.mark.parametrize("kind", KINDS)
def test_every_id_that_a_callback_uses_is_on_the_page(kind: Callable[[], Review]) -> None:
    client = dashboards.create_app(kind()).server.test_client()
    frame, page = client.get("/_dash-layout").text, text_of(layout(Week(kind())))
    with Flask(__name__).test_request_context():
        g.visit = Visit("somebody", entered=True)
        page += "".join(text_of(other.build(source_of(kind()), {}).body) for other in (repair, report))
    duty = {ids.MOTION, ids.STARTS, ids.CYCLIC}
    for entry in client.get("/_dash-dependencies").get_json():
        used = {side["id"] for side in (*entry["inputs"], *entry["state"])}
        if used & duty and not kind().motions:
            continue  # without a motion there is no choice of one, and nothing that follows from it
        for name in used:
            assert f'"id":"{name}"' in frame or f'"id": "{name}"' in page


def test_there_is_one_heading_of_the_first_order() -> None:
    assert text_of(layout(full_week())).count('"type": "H1"') == 1


def test_cautions_and_what_was_not_assessed_are_on_the_page() -> None:
    page = text_of(layout(Week(three_signals())))
    for caution in three_signals().cautions:
        assert json.dumps(caution)[1:-1] in page
    assert "the log does not carry what it needs" in page


def test_life_is_on_the_page_in_the_words_of_the_report() -> None:
    plate = Machine.model_validate(
        {
            "machine": {"id": "SAW-3", "group": "M5"},
            "life": {"load_spectrum": "L2", "used_before_h": 1700},
            "parts": {"brake_stops": 1e6},
        }
    )
    review = review_log(full().log, plate)
    shown = parts.life(Week(review).life)
    period = review.life["hoist"].period
    assert period is not None
    assert f" {100 * period.share:.1f} % used" in text_of(shown)
    assert "general overhaul" in text_of(shown)
    assert "Brake" in text_of(shown)
    drawn = text_of(shown)
    assert (drawn.count('"over"'), drawn.count('"filled"')) == (1, 1)  # 1700 of 1600 hours; few of a million stops
    assert '"interval"' not in drawn  # two hours of log give no interval
    for phrase in ("idle for over a month: the frequent inspection before use", "Motor heat", "OSHA 29 CFR 1910.179"):
        assert phrase in drawn


def test_causes_and_the_next_check_with_its_cautions_are_on_the_page() -> None:
    week = Week(of(loose_relay()))
    page = text_of(layout(week))
    assert "interface relay" in page
    assert week.causes.next_check is not None
    for text in (week.causes.next_check.what, *week.causes.next_check.cautions):
        assert json.dumps(text)[1:-1] in page


def test_a_machine_in_order_is_sent_no_one() -> None:
    page = text_of(layout(Week(nothing_found())))
    assert "Likely causes" not in page
    assert "Next check" not in page


def test_bars_carry_the_interval_of_a_year_on() -> None:
    used = Used("Brake", 0.5, "2031-01-01", (0.6, 1.4))
    drawn = text_of(parts.life([LifeFacts("hoist", "work", (used,), ())]))
    assert '"left": "60.00%", "width": "40.00%"' in drawn  # cut at the end of the bar
    assert "a year after the log 60.0 to 140.0 %" in drawn


def test_a_year_on_is_the_rate_of_the_log_carried_on() -> None:
    # ten working days with three or four runs each: their sum over fourteen days lies in the middle of the interval
    day = 86_400.0
    runs = [
        run(n * day + 100 * m, n * day + 100 * m + 5)
        for n in (0, 1, 2, 3, 4, 7, 8, 9, 10, 11)
        for m in range(1, 4 + n % 2)
    ]
    plate = Machine.model_validate({"machine": {"id": "SAW-3"}, "parts": {"brake_stops": 10_000}})
    log = make_log(merged(*runs), end=14 * day, carries=HOIST)
    brake = next(used for used in Week(review_log(log, plate)).life[0].used if used.name == "Brake")
    assert brake.year is not None
    low, high = (share - brake.share for share in brake.year)
    mean = 365 * (len(runs) / 14) / 10_000
    assert low < mean < high
    assert low * high == pytest.approx(mean**2, rel=0.05)  # even on either side by its ratio


def test_windings_are_on_the_page() -> None:
    shown = text_of(parts.windings(Week(full()).motions))
    assert "Slow winding" in shown
    assert "a start of a winding is each time it is switched on" in shown
    assert parts.windings(Week(three_signals()).motions) is None


def test_without_findings_the_page_says_so() -> None:
    assert "None of the patterns" in text_of(layout(Week(nothing_found())))


def test_text_from_files_stays_text() -> None:
    machine = Machine.model_validate({"machine": {"id": "<img src=x onerror=alert(1)>", "group": "M5"}})
    app = dashboards.create_app(review_log(make_log(run(10.0, 20.0), carries=HOIST), machine))
    assert "<img" not in app.server.test_client().get("/").text


def state(chosen: Chosen | None = None, window: tuple[float, float] | None = None, **clicks: int) -> State:
    return State(chosen=chosen, window=list(window or full_week().whole), clicks=clicks)


def choose(trigger: str, chosen: Chosen | None = None, *, key: str = JOGGING, **more: Any) -> Chosen | None:
    """The chosen occurrence after the reader used one part of the page."""
    clicks = {trigger: 1} if trigger in ids.BUTTONS else {}
    done = Done(by={trigger}, finding=key, clicks=clicks, **more)
    return follow(full_week(), done, state(chosen))["chosen"]


def test_choosing_a_finding_chooses_its_first_occurrence() -> None:
    assert choose(ids.ASKED) == {"key": JOGGING, "number": 1}
    assert choose(ids.ASKED, {"key": DROP_OUT, "number": 1}) == {"key": JOGGING, "number": 1}


def test_stepping_through_occurrences_stops_at_either_end() -> None:
    first, last = Chosen(key=JOGGING, number=1), Chosen(key=JOGGING, number=2)
    assert choose(ids.NEXT, first) == last
    assert choose(ids.PREVIOUS, last) == first
    assert choose(ids.NEXT, last) == last
    assert choose(ids.PREVIOUS, first) == first


def test_a_number_chooses_its_occurrence_and_is_held_within_the_list() -> None:
    first = Chosen(key=JOGGING, number=1)
    assert choose(ids.NUMBER, first, number=2) == {"key": JOGGING, "number": 2}
    assert choose(ids.NUMBER, first, number=99) == {"key": JOGGING, "number": 2}
    second = Chosen(key=JOGGING, number=2)
    assert choose(ids.NUMBER, second, number=None) == second  # an emptied field changes nothing


def test_a_row_of_another_finding_that_is_still_listed_is_not_taken() -> None:
    first, second = Chosen(key=JOGGING, number=1), Chosen(key=JOGGING, number=2)
    assert choose(ids.PICKED, first, picked={"key": DROP_OUT, "number": 2}) == first
    assert choose(ids.PICKED, first, picked=second) == second


def test_nothing_chosen_changes_nothing() -> None:
    assert choose(ids.NEXT) is None


def test_the_chosen_occurrence_is_shown_with_its_evidence() -> None:
    shown = callbacks.show_chosen(full_week(), Chosen(key=JOGGING, number=2), None)
    assert shown.title == "jogging, hoist: 2 of 2"
    assert "Measured 4 jogs, against a limit of 3 jogs. " in text_of(shown.evidence)
    assert "Proof: source lines" in text_of(shown.evidence)
    jogging = catalogue()["jogging"]
    for said in (jogging.meaning, jogging.why_severity, jogging.usually):  # the catalogue's own words
        assert said in text_of(shown.evidence)
    assert (shown.number, shown.most, len(shown.rows)) == (2, 2, 2)
    assert shown.row == {"ids": [shown.rows[1]["id"]]}
    assert shown.scroll["rowId"] == shown.rows[1]["id"]
    assert (shown.hidden, shown.list_hidden) == (False, False)
    assert shown.finding == {"ids": [JOGGING]}


def test_the_list_is_sent_again_only_for_another_page() -> None:
    records = merged(*[run(t, t + 0.5, command=(t - 0.05, t + 2)) for t in range(10, 2110, 10)])  # 210 drop-outs
    week = Week(review_log(make_log(records, end=4000.0, carries=HOIST), SAW))
    rows_after = {n: callbacks.show_chosen(week, Chosen(key=DROP_OUT, number=n), before).rows for n, before in (
        (2, Chosen(key=DROP_OUT, number=1)),
        (201, Chosen(key=DROP_OUT, number=200)),
    )}  # fmt: skip
    assert rows_after[2] is no_update
    assert [row["number"] for row in rows_after[201]] == list(range(201, 211))


def test_an_address_opens_the_occurrence_and_the_window_that_it_names() -> None:
    week = full_week()
    start = week.whole[0]
    asked = reopened(week, {"finding": JOGGING, "number": "2", "view": f"{start + 1000:.0f}_{start + 9000:.0f}"})
    assert asked == {
        "chosen": {"key": JOGGING, "number": 2},
        "window": [start + 1000, start + 9000],
        "made": [],
        "motion": None,
    }
    # the page is built with both, and going back to the address brings both back
    other = state(Chosen(key=JOGGING, number=1), week.around(JOGGING, 1))
    back = follow(week, Done(by={ids.SEARCHED}, reopened=asked), other)
    assert (back["chosen"], back["window"]) == (asked["chosen"], asked["window"])
    page = text_of(layout(week, reopened=asked, screen=Screen(1372, "light")))
    assert "jogging, hoist: 2 of 2" in page
    assert "8 s of 13 signals" in page


def test_an_address_without_a_window_shows_all_around_its_occurrence_or_the_log() -> None:
    week = full_week()
    for query, window in (({"finding": JOGGING}, week.around(JOGGING, 1)), ({}, week.whole)):
        back = follow(week, Done(by={ids.SEARCHED}, reopened=reopened(week, query)), state(None, (1, 2)))
        assert back["window"] == list(window)


@pytest.mark.parametrize(
    ("query", "chosen"),
    [
        ({}, None),
        ({"finding": "no_such/hoist/"}, None),
        ({"finding": JOGGING}, {"key": JOGGING, "number": 1}),
        ({"finding": JOGGING, "number": "99"}, {"key": JOGGING, "number": 2}),  # there are two
        ({"finding": JOGGING, "number": "0"}, {"key": JOGGING, "number": 1}),
        ({"finding": JOGGING, "number": "<b>"}, {"key": JOGGING, "number": 1}),
        ({"finding": "jogging/"}, {"key": JOGGING, "number": 1}),  # the beginning of a key
    ],
)
def test_an_address_that_is_wrong_opens_what_there_is(query: dict[str, str], chosen: Chosen | None) -> None:
    assert reopened(full_week(), query) == {"chosen": chosen, "window": None, "made": [], "motion": None}


@pytest.mark.parametrize("view", ["", "1", "a_b", "5_5", "9_1", "nan_nan"])
def test_a_window_that_is_none_is_left_out(view: str) -> None:
    assert reopened(full_week(), {"view": view})["window"] is None


def move(trigger: str, window: tuple[float, float], **more: Any) -> list[float]:
    """The window of the lanes after the reader used one part of the page."""
    clicks = {trigger: 1} if trigger in ids.BUTTONS else {}
    done = Done(by={trigger}, dragged=more.get("dragged"), clicks=clicks)
    return follow(full_week(), done, state(more.get("chosen"), window))["window"]


def test_moving_through_the_log() -> None:
    start, end = full_week().whole
    window = (start + 1_000_000, start + 2_000_000)
    assert move(ids.ZOOM_IN, window) == [start + 1_250_000, start + 1_750_000]
    assert move(ids.ZOOM_OUT, window) == [start + 500_000, start + 2_500_000]
    assert move(ids.EARLIER, window) == [start + 500_000, start + 1_500_000]
    assert move(ids.LATER, window) == [start + 1_500_000, start + 2_500_000]
    assert move(ids.WHOLE, window) == [start, end]
    assert move(ids.EARLIER, (start, start + 1000)) == [start, start + 1000]  # there is nothing earlier


def test_clicks_that_came_while_an_answer_was_on_its_way_count() -> None:
    """The browser drops an answer that another click has overtaken."""
    start = full_week().whole[0]
    before = state(None, (start, start + 1_000_000), **{ids.LATER: 3})
    after = follow(full_week(), Done(by={ids.LATER}, clicks={ids.LATER: 5, ids.ZOOM_IN: None}), before)
    assert after["window"] == [start + 1_000_000, start + 2_000_000]  # two steps of half a window
    assert after["clicks"][ids.LATER] == 5
    again = follow(full_week(), Done(by={ids.LATER}, clicks={ids.LATER: 5}), after)
    assert again["window"] == after["window"]


def test_no_number_of_clicks_keeps_the_server_busy() -> None:
    start = full_week().whole[0]
    after = follow(full_week(), Done(by={ids.LATER}, clicks={ids.LATER: 10**12}), state(None, (start, start + 1000)))
    assert after["window"] == [start + 25_000, start + 26_000]  # fifty steps of half a second
    assert after["clicks"][ids.LATER] == 10**12


def test_zooming_in_closes_in_on_the_chosen_occurrence() -> None:
    week, chosen = full_week(), Chosen(key=DROP_OUT, number=1)
    mark = week.findings.mark(DROP_OUT, 1).window
    start, end = move(ids.ZOOM_IN, week.whole, chosen=chosen)
    assert (start + end) / 2 == pytest.approx(sum(mark) / 2)


def test_a_choice_shows_the_occurrence() -> None:
    mark = full_week().findings.mark(DROP_OUT, 1).window
    start, end = move(ids.SHOW, full_week().whole, chosen=Chosen(key=DROP_OUT, number=1))
    assert start < mark[0] < mark[1] < end
    assert move(ids.SHOW, full_week().whole) == list(full_week().whole)
    after = follow(full_week(), Done(by={ids.ASKED}, finding=DROP_OUT), state())
    assert after["window"] == [start, end]


def test_dragging_takes_what_the_chart_reports() -> None:
    drag = {"xaxis.range[0]": "2026-03-02 06:10:00", "xaxis.range[1]": "2026-03-02 06:20:00"}
    start = full_week().whole[0]  # 06:00
    assert move(ids.DRAGGED, full_week().whole, dragged=drag) == [start + 600_000, start + 1_200_000]
    assert move(ids.DRAGGED, (0, 1), dragged={"xaxis.autorange": True}) == list(full_week().whole)
    assert move(ids.DRAGGED, full_week().whole, dragged={"autosize": True}) == list(full_week().whole)


def answered(done: Done, before: State, width: int | None = 1200) -> dict[str, Any]:
    """What one answer changes, by the part of the page."""
    after, *shown, figure, reading = callbacks.answer(
        full_week(), done, before, Screen(width, "dark") if width else None
    )
    parts_ = {
        **dict(zip(callbacks.Occurrence._fields, shown, strict=True)),
        "figure": figure,
        "reading": reading,
    }
    return {"state": after, **{name: part for name, part in parts_.items() if part is not no_update}}


def test_one_answer_holds_all_that_a_choice_changes() -> None:
    changed = answered(Done(by={ids.ASKED}, finding=DROP_OUT), state())
    assert changed["state"]["chosen"] == {"key": DROP_OUT, "number": 1}
    assert changed["title"] == "drop-out, hoist: 1 of 1"
    assert [shape.name for shape in changed["figure"].layout.shapes if shape.name] == ["chosen occurrence"]
    assert changed["reading"].endswith("Marked: drop-out, 1 of 1.")
    assert not changed["hidden"]


def test_a_move_draws_the_lanes_and_nothing_else() -> None:
    changed = answered(Done(by={ids.ZOOM_IN}, clicks={ids.ZOOM_IN: 1}), state())
    assert set(changed) == {"state", "figure", "reading"}


def test_what_changes_nothing_draws_nothing() -> None:
    last = state(Chosen(key=JOGGING, number=2))
    assert set(answered(Done(by={ids.NEXT}, clicks={ids.NEXT: 1}), last)) == {"state"}


def test_another_width_and_other_colours_draw_the_lanes_anew() -> None:
    for part in (ids.WIDTH, THEME):
        assert set(answered(Done(by={part}), state())) == {"state", "figure", "reading"}


def test_lanes_wait_for_the_width() -> None:
    assert "figure" not in answered(Done(by={ids.ASKED}, finding=DROP_OUT), state(), width=None)
    drawn, waiting = (text_of(layout(full_week(), screen=screen)) for screen in (Screen(1372, "light"), None))
    assert "2 h of 13 signals" in drawn
    assert "2 h of 13 signals" not in waiting


@pytest.mark.parametrize(
    ("said", "screen"),
    [
        ("1372 light 1", Screen(1372, "light")),
        ("1372 dark 0.8", Screen(1372, "dark", 0.8)),
        ("1372 dark 0", Screen(1372, "dark", 0.1)),
        ("1372 light", None),
        ("", None),
        ("0 dark 1", None),
        ("-5 dark 1", None),
        ("wide light 1", None),
        ("1372 light nan", None),
    ],
)
def test_the_screen_is_as_the_browser_says(said: str, screen: Screen | None) -> None:
    assert screen_of({SCREEN: said}) == screen


def test_no_width_keeps_the_server_busy() -> None:
    assert lanes.bins_for(10**9) == lanes.bins_for(lanes.MOST_PX)


def test_a_page_that_is_shown_smaller_has_a_bin_for_each_point_of_the_screen() -> None:
    assert lanes.bins_for(1372, 0.8) == int(0.8 * lanes.bins_for(1372))


def test_duty_is_drawn_for_a_motion() -> None:
    starts, cyclic = callbacks.draw_duty(full_week(), "hoist", None)
    assert "starts of the hoist in any hour" in text_of(starts)
    assert "The hoist runs at most" in text_of(cyclic)


def test_importing_the_pages_does_nothing() -> None:
    import subprocess
    import sys

    probe = "import sys, dashboards; print(sorted({'dash', 'plotly', 'eventlens.result'} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_the_outcome_of_a_check_weighs_the_causes_again() -> None:
    week = Week(of(loose_relay()))
    before = week.causes
    assert before.next_check is not None
    made = f"{before.next_check.name}=negative"
    after, kept = callbacks.weigh(week, {"checked": made}, "")
    assert (after.made, kept) == ((made,), made)
    assert [cause.share for cause in after.complaints[0].causes] != [
        cause.share for cause in before.complaints[0].causes
    ]
    assert after.next_check is None or after.next_check.name != before.next_check.name
    assert f'"data-back": "{made}"' in text_of(layout(week, reopened=reopened(week, {"checked": made})))


def test_an_address_whose_outcomes_are_shown_changes_nothing() -> None:
    with pytest.raises(PreventUpdate):
        callbacks.weigh(Week(of(loose_relay())), {"finding": "drop_out/hoist/"}, "")


@pytest.mark.parametrize("text", ["relay_seat=perhaps", "<script>=negative", "relay_saet=negative"])
def test_what_is_no_outcome_is_said(text: str) -> None:
    with pytest.raises(Fault, match="wanted"):
        callbacks.weigh(Week(of(loose_relay())), {"checked": text}, "")


def test_what_was_written_down_stands_with_how_it_counts() -> None:
    """The words are those of the review; what has none is shown and changes nothing."""
    told = (
        Statement(at(100), "repair", "<b>relay</b> of raise", ""),
        Statement(at(200), "earlier_hours", "310.5", "hours of full load before the log"),
    )
    week = Week(replace(full(), history=told))
    page = text_of(layout(week, {"machine": "SAW-3", "week": "2026-W10"}))
    for said in (
        "<b>relay</b> of raise",
        "shown, changes nothing",
        "earlier hours",
        "hours of full load before the log",
    ):
        assert said in page
    assert "Nothing that is written down" in text_of(layout(full_week(), {"machine": "SAW-3", "week": "2026-W10"}))
    assert "written down" not in text_of(layout(full_week()))  # a log that is in no archive


def test_an_address_opens_the_work_of_a_motion_that_the_log_has() -> None:
    assert reopened(full_week(), {"motion": "hoist"})["motion"] == "hoist"
    assert reopened(full_week(), {"motion": "<script>"})["motion"] is None
