"""Guards what the pages are given: lanes, duty, findings and facts of small reviews, counted by hand."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest
from polars.testing import assert_frame_equal

from dashboards import bins, lanes
from dashboards.data import Week
from dashboards.findings import PAGE
from dashboards.tables import LanesView
from dashboards.wallclock import micros
from eventlens import schema, signals
from eventlens.duty.cyclic import busiest_share, running_intervals, running_share
from eventlens.duty.starts import busiest, sliding_starts
from eventlens.wiring import review_log
from tests.dashboards.weeks import (
    DROP_OUT,
    HOLE,
    SAW,
    full,
    full_week,
    in_zone,
    measured_only,
    nothing_found,
    set_back,
    three_signals,
)
from tests.logs import HOIST, at, make_log, merged, pulse, run

WEEK_S = 7 * 86_400.0


def lane_of(view: LanesView, signal: str) -> int:
    return [lane.signal for lane in view.lanes].index(signal)


def binned(week: Week, monkeypatch: pytest.MonkeyPatch, count: int) -> LanesView:
    """The whole log in bins, however few intervals it has."""
    monkeypatch.setattr(lanes, "EXACT_MOST", 0)
    return week.lanes.view(week.whole, count)


def test_a_pulse_of_one_log_step_shows_at_the_zoom_of_a_week(monkeypatch: pytest.MonkeyPatch) -> None:
    records = pulse("overload.trip", (300_000.0, 300_000.01))
    view = binned(Week(review_log(make_log(records, end=WEEK_S, carries=HOIST), SAW)), monkeypatch, 1200)
    assert view.binned is not None
    row = view.binned.code[lane_of(view, "overload.trip")]
    # 604800 s in 1200 bins of 504 s: second 300000 lies in bin 595
    assert np.flatnonzero(row == bins.PARTLY).tolist() == [595]
    assert np.flatnonzero(row != bins.OFF).tolist() == [595]
    assert view.binned.on_s[lane_of(view, "overload.trip"), 595] == pytest.approx(0.01)
    assert view.binned.times[lane_of(view, "overload.trip"), 595] == 1


def test_a_hole_is_unknown_in_every_lane_never_off(monkeypatch: pytest.MonkeyPatch) -> None:
    view = binned(full_week(), monkeypatch, 72)  # bins of 100 s: the hole from 5000 to 5600 s is bins 50 to 55
    assert view.binned is not None
    assert (view.binned.code[:, 50:56] == bins.UNKNOWN).all()
    assert (view.binned.code[:, 49] != bins.UNKNOWN).all()
    assert (view.binned.code[:, 56] != bins.UNKNOWN).all()
    assert view.unknown["length"].to_list() == [600_000.0] * len(view.lanes)


def test_before_its_first_record_a_signal_is_unknown() -> None:
    records = [(0.0, "hoist.raise.command", 0.0), (5.0, "hoist.brake.released", 1.0)]
    view = (week := Week(review_log(make_log(records, end=10.0), SAW))).lanes.view(week.whole, 100)
    assert view.unknown.select("lane", "length").rows() == [(lane_of(view, "hoist.brake.released"), 5000.0)]


def test_few_intervals_are_drawn_exactly_and_many_in_bins(monkeypatch: pytest.MonkeyPatch) -> None:
    week = full_week()
    count = full().states.height
    monkeypatch.setattr(lanes, "EXACT_MOST", count)
    assert week.lanes.view(week.whole, 500).intervals is not None
    monkeypatch.setattr(lanes, "EXACT_MOST", count - 1)
    assert week.lanes.view(week.whole, 500).intervals is None


def test_exact_intervals_are_those_of_the_review() -> None:
    week = full_week()
    view = week.lanes.view(week.clock.window(micros(at(990)), micros(at(1010))), 500)
    assert view.intervals is not None
    on = view.intervals.filter(pl.col("on") & (pl.col("lane") == lane_of(view, "hoist.raise.contactor")))
    assert on.select("begin", "until", "lasts").rows() == [
        ("2026-03-02 06:16:40.000", "2026-03-02 06:16:41.000", "1 s")  # second 1000 after six o'clock
    ]
    off = view.intervals.filter(~pl.col("on") & (pl.col("lane") == lane_of(view, "stop.emergency")))
    assert off["begin"].to_list() == ["2026-03-02 06:00:00.000 or before"]  # it was off when the log began


def test_lanes_are_grouped_by_motion_and_named_without_it() -> None:
    names = {lane.signal: (lane.motion, lane.name, lane.alert) for lane in full_week().lanes.lanes}
    assert names["hoist.fast.contactor"] == ("hoist", "fast output", None)
    assert names["hoist.raise.limit"] == ("hoist", "raise limit", None)
    assert names["hoist.motor.hot"] == ("hoist", "motor hot", "on")
    assert names["overload.trip"] == ("", "overload trip", "on")
    assert list(names) == [name for name in signals.STATES if name in names]


def test_every_signal_has_a_name_of_its_own_within_its_motion() -> None:
    records = [(0.0, name, 0.0) for name in signals.ALL]
    found = Week(review_log(make_log(records, end=10.0), SAW)).lanes
    names = [(lane.motion, lane.name) for lane in found.lanes]
    assert len(set(names)) == len(names) == len(signals.STATES)
    measures = [measure.name for measure in found.view((0.0, 10.0), 10).measures]
    assert len(set(measures)) == len(measures) == len(signals.MEASURES)


def test_a_measured_value_holds_until_the_next_and_not_over_a_hole() -> None:
    week = full_week()
    (load,) = week.lanes.view(week.whole, 144).measures  # bins of 50 s, the cycle of the load
    # at 50 s: 100 * 50 / 7 kg; a bin [50, 100) holds only the value recorded at its beginning
    assert load.low[1] == load.high[1] == pytest.approx(178.5714, abs=1e-3)
    assert np.isfinite(load.high[99])  # 4950 s to 5000 s
    assert np.isnan(load.high[100:112]).all()  # the hole
    assert load.rated == 3200


def test_a_window_is_moved_into_the_log_and_never_narrower_than_a_tenth_of_a_second() -> None:
    week = full_week()
    start, end = week.whole
    assert week.fitted((start - 50_000, start + 50_000)) == (start, start + 100_000)
    assert week.fitted((end, end + 10)) == pytest.approx((end - 95, end + 5), abs=100)
    narrow = week.fitted((start + 5_000, start + 5_000))
    assert narrow[1] - narrow[0] == pytest.approx(100)
    assert week.fitted((start - 1e9, end + 1e9)) == week.whole


def test_the_view_around_an_occurrence_shows_it_with_a_margin() -> None:
    week = full_week()
    start, end = week.around("drop_out/hoist/", 1)
    occurrence = week.clock.window(micros(at(DROP_OUT[0])), micros(at(DROP_OUT[1])))
    assert (start, end) == pytest.approx((occurrence[0] - 2000, occurrence[1] + 2000))


def test_starts_per_hour_are_those_of_duty() -> None:
    week, review = full_week(), full()
    view = week.duty.starts_per_hour("hoist")
    begun = review.runs.filter("start_seen")["start"]
    most = busiest(sliding_starts(begun))
    assert most is not None
    assert view.peak == most.value == view.value.max()
    assert view.limit == 240  # FEM 9.683, group M5
    assert view.above == 0
    assert view.hours["count"].sum() == len(begun)
    assert view.hours["at"].to_list() == [week.whole[0], week.whole[0] + 3_600_000]
    assert view.holes == (week.clock.window(micros(at(HOLE[0])), micros(at(HOLE[1]))),)


def test_each_point_of_the_starts_is_the_most_in_its_bin() -> None:
    week, begun = full_week(), full().runs.filter("start_seen")["start"]
    view = week.duty.starts_per_hour("hoist")
    instants = [micros(one) for one in begun]
    width = view.at[1] - view.at[0]
    for begin, value in zip(view.at[::37], view.value[::37], strict=True):
        places = [week.clock.instant(begin), *(t for t in instants if begin <= week.clock.axis([t])[0] < begin + width)]
        # a plain count of (t - 1 h, t] at the bin's beginning and at every start in it
        assert value == max(sum(t - 3_600_000_000 < one <= t for one in instants) for t in places)


def test_cyclic_duration_is_that_of_duty() -> None:
    view, review = full_week().duty.cyclic_duration("hoist"), full()
    most = busiest_share(running_share(running_intervals(review.runs)))
    assert most is not None
    assert view.peak == most.value
    assert view.value.max() == pytest.approx(most.value)
    assert (view.limit, view.window_s) == (0.4, 600.0)  # FEM 9.683, group M5; IEC 60034-1


def test_without_a_group_there_is_no_limit_and_the_source_says_what_is_missing() -> None:
    view = Week(three_signals()).duty.starts_per_hour("hoist")
    assert view.limit is None
    assert view.source == "the machine file gives no group"


def test_too_many_starts_are_above_the_limit() -> None:
    records = merged(*[run(t, t + 3) for t in range(10, 3610, 12)])  # 300 starts in an hour, 240 allowed
    week = Week(review_log(make_log(records, end=7200.0, carries=HOIST), SAW))
    view = week.duty.starts_per_hour("hoist")
    assert (view.peak, view.above) == (300, 1)
    assert "starts per hour too high (hoist, 1 ×)" in week.severities["watch"]


def test_findings_the_serious_first_with_their_rates() -> None:
    rows = full_week().findings.rows()
    assert [row["key"] for row in rows] == ["drop_out/hoist/", "jogging/hoist/", "log_hole//"]
    assert [row["severity"] for row in rows] == ["▲ repair", "◆ watch", "○ note"]
    assert [row["count"] for row in rows] == [1, 2, 1]
    assert rows[0]["first"] == rows[0]["last"] == "2026-03-02 06:16:40.000"
    assert rows[2]["motion"] == "machine"
    # 1 in 1.8333 observed hours; exact limits of 1 event are 0.0253 and 5.572 (Garwood, as tabled): 0.0138 and 3.04
    assert rows[0]["rate_text"] == "0.545 (0.014 to 3)"


def test_times_of_findings_are_in_the_zone_of_the_log() -> None:
    rows = Week(in_zone(full(), "Asia/Kathmandu")).findings.rows()
    assert rows[0]["first"] == "2026-03-02 12:01:40.000"  # 5 h 45 min ahead of UTC


def test_an_occurrence_names_what_was_measured_its_limit_and_its_lines() -> None:
    (first, second) = full_week().findings.occurrences("jogging/hoist/", 0)
    assert (first["number"], second["number"]) == (1, 2)
    assert (first["measured"], first["limit"]) == ("4 jogs", "3 jogs")
    assert first["start"] == "2026-03-02 06:33:20.000"  # second 2000
    assert first["lasts"] == "3.4 s"  # from the first jog's start to the end of the fourth, 0.4 s long
    expected = full().occurrences.filter(pl.col("pattern") == "jogging")["rows"][0].to_list()
    assert first["lines"] == ", ".join(str(row) for row in expected)


def test_occurrences_come_in_pages_and_lose_none() -> None:
    count = PAGE + 7
    records = merged(*[run(t, t + 0.5, command=(t - 0.05, t + 2)) for t in range(10, 10 + 10 * count, 10)])
    found = Week(review_log(make_log(records, end=4000.0, carries=HOIST), SAW)).findings
    assert found.count("drop_out/hoist/") == count
    pages = [found.occurrences("drop_out/hoist/", page) for page in (0, 1)]
    assert [len(page) for page in pages] == [PAGE, 7]
    assert [row["number"] for page in pages for row in page] == list(range(1, count + 1))
    assert found.mark("drop_out/hoist/", count).label == f"drop-out, {count} of {count}"


def test_what_was_not_assessed_says_why_and_what_would_help() -> None:
    rows = {row["pattern"]: row for row in Week(three_signals()).findings.not_assessed()}
    fast = rows["fast not reached"]
    assert fast["why"] == "the log does not carry what it needs"
    assert fast["needs"].startswith("log hoist.fast.")
    assert "machine file: [machine] group" in rows["starts per hour too high"]["needs"]


def test_facts_of_the_log() -> None:
    facts = full_week().facts
    assert (facts.machine, facts.group) == ("SAW-3", "M5, rated load 3,200 kg")
    assert facts.observed == "110 min"  # two hours without the hole of ten minutes
    assert facts.gaps == "1 hole, 10 min in all"
    assert (facts.step, facts.uncertainty) == ("0.01 s", "0.02 s")


def test_reviews_with_little_in_them_are_taken_as_they_are() -> None:
    quiet, measured = Week(nothing_found()), Week(measured_only())
    assert quiet.findings.rows() == []
    assert quiet.findings.extent() is None
    assert measured.motions == []
    assert measured.lanes.lanes == ()


def test_a_clock_that_was_set_back_keeps_both_halves_in_view() -> None:
    week = Week(set_back())
    day = week.clock.window(micros(at(0)), micros(at(86_400)))
    width = day[1] - day[0]
    # from the second half's beginning, second 1000 of the day before, to second 1000 of the first half
    assert week.whole == (day[0] + 1_000_000 - width, day[0] + 1_000_000)
    view = week.lanes.view(week.whole, 500)
    assert view.steps == (day[0] + 1_000_000,)
    assert view.intervals is not None
    on = view.intervals.filter(pl.col("on") & (pl.col("lane") == lane_of(view, "hoist.raise.contactor")))
    assert sorted(on["length"]) == [5_000, 8_000, 10_000]
    assert week.duty.starts_per_hour("hoist").peak == 2  # the third start is on another clock: no hour holds all
    assert week.facts.gaps == "1 clock step"


def test_the_review_is_not_changed() -> None:
    before = {name: getattr(full(), name).clone() for name in ("states", "runs", "findings", "occurrences")}
    week = Week(full())
    week.lanes.view(week.whole, 100)
    week.duty.starts_per_hour("hoist")
    week.duty.cyclic_duration("hoist")
    for name, frame in before.items():
        assert_frame_equal(getattr(full(), name), frame)


def test_every_word_that_a_review_can_use_has_its_own() -> None:
    from dashboards import words

    assert list(words.ENDING) == sorted(schema.ENDINGS, key=list(words.ENDING).index)
    assert set(words.ENDING) == set(schema.ENDINGS)
    assert set(words.SEVERITY) == set(words.SEVERITY_SIGN) == set(schema.SEVERITIES)
    assert set(words.WHY) == set(words.REMEDY) == set(schema.NOT_ASSESSED_WHY)
    assert set(words.GROUPS) - {"", "unstated"} == set(signals.MOTIONS)
    assert {name: words.motion_of(name) for name in signals.ALL} == {n: signals.motion_of(n) for n in signals.ALL}


def test_kinds_of_work_are_told_with_their_counts() -> None:
    """A hundred and twenty short and as many long runs are two kinds of the hoist's runs."""
    records = merged(*(run(t, t + (2 if n < 120 else 40)) for n, t in enumerate(range(100, 100 + 240 * 200, 200))))
    found = Week(review_log(make_log(records, end=60_000.0, carries=HOIST), SAW)).kinds
    runs = [kind for kind in found.kinds if kind.subject == "hoist runs"]
    assert [(kind.count, kind.share) for kind in runs] == [(120, 0.5), (120, 0.5)]
    assert {kind.said.partition(" (")[0] for kind in runs} == {"runs of about 2 s", "runs of about 40 s"}
    assert "Hoist runs are of 2 kinds" in found.reading


def test_where_there_is_too_little_work_no_kinds_are_told() -> None:
    found = full_week().kinds
    assert found.kinds == ()
    assert "too little work" in found.reading
    assert any("kinds need 100" in note for note in found.notes)
