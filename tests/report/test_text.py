"""Guards the terminal report: the facts are there, the unknown is not called nothing, and it fits the page."""

from __future__ import annotations

import ast
import re
from dataclasses import replace
from pathlib import Path

import polars as pl
import pytest

from eventlens import patterns, schema
from eventlens.machine import Machine
from eventlens.report import text
from eventlens.result import Review
from eventlens.wiring import review_log
from tests.logs import at, make_log, merged, off, run
from tests.report.stories import plain_log, reviewed, with_rejected


def flat(review: Review, width: int = 80) -> str:
    """The report with its line breaks taken out, so that wrapping does not decide what is found in it."""
    return " ".join(text.render(review, width=width).split())


def section(review: Review, heading: str) -> str:
    """One section without its line breaks."""
    after = text.render(review).split(f"\n{heading}\n", 1)[1]
    return " ".join(after.split("\n\n", 1)[0].split())


def test_headline_names_machine_and_findings() -> None:
    lines = text.render(reviewed(group="M5", rated_load_kg=3200)).splitlines()
    assert lines[0] == "SAW-3: group M5, rated load 3200 kg"
    assert lines[1] == "1 finding: 1 repair."


def test_record_says_what_the_log_can_prove() -> None:
    record = section(reviewed(plain_log(step_s=0.02)), "Record")
    # by hand: 12 signals off, then 3 runs of 3 signals on and off
    assert "built.csv: 30 rows (30 understood, 0 set aside, 0 blank)" in record
    assert "2026-03-02 06:00:00 to 2026-03-02 07:00:00, times in UTC" in record
    assert "60.0 min of 60.0 min" in record
    assert "known to 0.04 s" in record  # two log steps
    assert "set aside no rows" in record


def test_holes_are_counted_none_or_unknown() -> None:
    holes = {"holes": ((600.0, 900.0), (1000.0, 2000.0)), "rhythm_s": 10.0}
    # 300 s + 1000 s, by hand; the longest begins 1000 s after six o'clock
    assert "2, 21.7 min in all; the longest from 2026-03-02 06:16:40" in section(reviewed(plain_log(**holes)), "Record")
    assert "holes none (a record is due every 10 s)" in section(reviewed(plain_log(rhythm_s=10.0)), "Record")
    assert "holes cannot be told" in section(reviewed(), "Record")


def test_clock_steps_and_notes_are_shown() -> None:
    step = {"at": [at(60)], "seconds": [-3600.0], "rows": [[20, 21]], "why": ["set back"]}
    log = replace(plain_log(), clock_steps=pl.DataFrame(step, schema=schema.CLOCK_STEPS.schema), notes=("One.", "Two."))
    # only the record is written: the review itself is that of the log without the step
    record = section(replace(reviewed(), log=log), "Record")
    assert "clock steps -3600 s at 2026-03-02 06:01:00 (lines 20-21; set back)" in record
    assert "observed 60.0 min; rates" in record  # no whole span by a clock that stepped
    assert "decided One. Two." in record


def test_rows_set_aside_by_reason_with_first_line() -> None:
    log = with_rejected(plain_log(), (9, "bad stamp"), (4, "bad value"), (7, "bad stamp"))
    assert "3 rows: bad value (1, first line 4); bad stamp (2, first line 7)" in flat(reviewed(log))


def test_unmapped_names_are_listed_and_cannot_steer_the_terminal() -> None:
    log = plain_log()
    more = pl.DataFrame(
        [{"name": "K9\x1b[2J", "signal": None, "rows": 1, "edges": 0, "repeated": 0, "mapped_by": "unmapped"}],
        schema=schema.NAMES.schema,
    )
    report = text.render(reviewed(replace(log, names=pl.concat([log.names, more]))))
    assert "not mapped: K9\\x1b[2J" in report
    assert "\x1b" not in report


def test_motion_counts_are_there() -> None:
    hoist = section(reviewed(group="M5"), "Hoist")
    # by hand: raise 5 s, lower 5 s, raise 1 s in an hour
    assert "3 with 3 starts; 0 jogs, 2 reversals" in hoist
    assert "11 s (0.306 % of the observed time)" in hoist
    assert "3 starts in the hour to 2026-03-02 06:00:50; limit 240 (FEM 9.683" in hoist
    assert "mean 3 per observed hour" in hoist
    assert "median 0.15 s" in hoist  # as tests.logs.run writes it
    assert "let go 2, dropped out 1" in hoist
    assert "not measured speed change" in hoist


@pytest.mark.parametrize(("group", "marked"), [("M1", True), ("M5", False)])
def test_limits_from_memory_are_marked(group: str, marked: bool) -> None:
    # duty.groups: the figures of M1 are from memory, those of M5 are confirmed
    assert ("from memory: check it" in section(reviewed(group=group), "Hoist")) == marked


def test_lifts_are_counted_and_what_was_assumed_is_said() -> None:
    hoist = section(reviewed(group="M5"), "Hoist")
    # by hand: raises of 5 s and 1 s, of which every second one is taken for a lift; 11 s of running in an hour
    assert "lifts 1 in 1 work cycle (no load is measured: of 2 raises of 1 s or more" in hoist
    # a count of nothing has 0 and 3.689 for its 95 % limits (Garwood)
    assert "overload trips 0: 0 per 100 lifts (0 to 369), 0 per running hour (0 to 1207)" in hoist


def test_lifts_by_load_say_how_near_the_rated_load_they_were() -> None:
    weights = [(t, "load.kg", kg) for t, kg in ((0, 0.0), (101, 950.0), (130, 0.0), (201, 1100.0), (230, 0.0))]
    records = merged(off("hoist.raise.contactor"), run(100, 110), run(200, 210), run(300, 310), weights)
    hoist = section(reviewed(make_log(records, end=3600), rated_load_kg=1000), "Hoist")
    # by hand: two of three raises lift; picked up at 101 s and 201 s
    assert "lifts 2 in 2 work cycles, one in 100 s (median); 1 (50 %) from 90 % of the rated load up to it" in hoist
    assert "1 (50 %) above it (a lift moves more than 10 % of the rated load)" in hoist
    assert "overload trips" not in hoist  # not logged


def test_shifts_are_named_with_what_they_rest_on() -> None:
    assert "shifts found from rests of 4 h and more in the log: fewer than 3" in section(reviewed(), "Record")
    stated = Machine.model_validate({"work": {"shifts": ["06:00-14:00"], "days": ["mon", "fri"]}})
    record = section(review_log(plain_log(), stated), "Record")
    assert "shifts 06:00-14:00 on mon, fri (as the machine file says)" in record


def test_without_a_group_no_limit_is_known() -> None:
    hoist = section(reviewed(), "Hoist")
    assert "no limit known: the machine file gives no group" in hoist
    assert "ABOVE" not in hoist


@pytest.mark.parametrize(("seconds", "above"), [(90.0, False), (90.1, True)])
def test_above_the_limit_only_above_it(seconds: float, above: bool) -> None:
    # M1: 15 % of ten minutes are 90 s
    log = make_log(merged(off("hoist.raise.contactor"), run(10, 10 + seconds)), end=3600)
    assert ("ABOVE the limit of 15 %" in section(reviewed(log, group="M1"), "Hoist")) == above


def test_finding_has_count_rate_usual_cause_times_and_lines() -> None:
    repair = section(reviewed(), "Repair")
    assert repair.startswith("1. hoist: drop-out 1 x")
    # one in one observed hour; exact 95 % limits of a count of 1: 0.0253 to 5.57 (Garwood)
    assert "count 1 (certain); 1 per observed hour (95 % limits 0.0253 to 5.57)" in repair
    assert f"usually: {patterns.catalogue()['drop_out'].usually}" in repair
    assert "first 2026-03-02 06:00:50 (lines " in repair
    assert "last 2026-03-02 06:00:50" in repair


def test_findings_come_with_the_most_serious_first() -> None:
    jogs = [record for n in range(4) for record in run(100 + n, 100.4 + n)]
    log = plain_log()
    busy = make_log(merged(off("hoist.raise.contactor"), run(50, 51, command=(49.95, 55.0), brake=(50.1, 50.9)), jogs))
    report = text.render(reviewed(busy))
    assert report.index("\nRepair\n") < report.index("\nWatch\n") < report.index("\nCould not be assessed\n")
    assert "2 findings: 1 repair, 1 watch." in report
    assert "\nWatch\n" not in text.render(reviewed(log))


def test_possible_is_told_apart_from_certain() -> None:
    # a run without confirmation, just longer than 1.0 s: two log steps of 0.02 s reach over the limit
    records = merged(off("hoist.raise.contactor", "hoist.brake.released"), run(10, 11.01, brake=(20, 20)))
    log = make_log(records, end=3600, step_s=0.02, carries=("hoist.raise.limit",))
    watch = section(reviewed(log), "Watch")
    assert "brake release not confirmed" in watch
    assert "count 1 (possible only)" in watch


def test_no_findings_is_said_of_what_could_be_assessed() -> None:
    report = text.render(reviewed(make_log(off("hoist.raise.contactor"), end=3600)))
    assert "No findings." in report
    assert "None among the patterns that could be assessed." in report


def test_gaps_of_several_motions_are_one_line() -> None:
    names = [f"{motion}.{way}.contactor" for motion, way in (("hoist", "raise"), ("trolley", "left"))]
    gaps = section(reviewed(make_log(off(*names), end=7200)), "Could not be assessed")
    titles = [patterns.catalogue()[name].title for name in ("speed_change_missing", "speed_change_short")]
    assert f" - with hoist.fast.contactor, trolley.fast.contactor: {', '.join(titles)}" in gaps
    assert gaps.count("hoist.fast.contactor, trolley.fast.contactor: ") == 1
    assert "with machine file: [machine] group, machine file: [machine] trolley_group (hoist, trolley): " in gaps


def test_too_coarse_and_too_short_are_gaps_too() -> None:
    gaps = section(reviewed(plain_log(step_s=2.0), group="M5"), "Could not be assessed")
    assert "The log step is too coarse: - with a log step " in gaps
    gaps = section(reviewed(plain_log(end=1200.0), group="M5"), "Could not be assessed")
    assert "The log is too short: - " in gaps
    assert "- with 3600 s of log (hoist): starts per hour too high" in gaps


def test_not_assessed_is_never_called_not_found() -> None:
    review = reviewed()
    clear = section(review, "Looked for and not found")
    gaps = section(review, "Could not be assessed")
    catalogue = patterns.catalogue()
    assert catalogue["no_start"].title in clear
    assert catalogue["drop_out"].title not in re.split(r"[,:] ", clear)  # it was found
    assert catalogue["cyclic_duration_high"].title not in clear  # no group
    assert catalogue["cyclic_duration_high"].title in gaps


def test_cautions_end_the_report() -> None:
    review = reviewed()
    assert flat(review).endswith(" - ".join(["Before anybody touches the machine", *review.cautions]))


@pytest.mark.parametrize("width", [60, 80, 100])
def test_no_line_is_wider_than_the_page(width: int) -> None:
    long = replace(plain_log().files[0], name="a" * 130 + ".csv")
    report = text.render(reviewed(replace(plain_log(), files=(long,)), group="M1"), width=width)
    assert max(map(len, report.splitlines())) <= width


def test_styles_stand_beside_the_same_lines() -> None:
    review = reviewed()
    lines = text.styled(review)
    assert "".join(f"{line.text}\n" for line in lines) == text.render(review)
    assert {line.style for line in lines} == {"", "heading", "repair"}


def test_a_log_without_motion_is_said_so() -> None:
    review = reviewed(make_log(off("stop.emergency"), end=60))
    assert "The log carries no command and no contactor" in flat(review)


def test_no_pattern_is_known_to_the_reports_by_name() -> None:
    folder = Path(text.__file__).parent
    constants = {
        node.value
        for path in folder.glob("*.py")
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    }
    # an ending of a run may be called like a pattern
    assert constants & (set(patterns.catalogue()) - set(schema.ENDINGS)) == set()
