"""Known states: three of them, nothing carried over a hole, a state ends only where the log proves it."""

from __future__ import annotations

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eventlens.motion import build_states
from eventlens.motion import states as states_module
from eventlens.motion.states import States
from tests.logs import at, make_log, pulse

RAISE = "hoist.raise.contactor"


def states_of(log) -> States:  # type: ignore[no-untyped-def]
    return build_states(log.events, log.segments, log.signals())


def spans(frame: pl.DataFrame) -> list[tuple[object, ...]]:
    return frame.select("start", "end", "start_seen", "end_seen").rows()


def test_a_state_holds_until_the_next_record_of_the_signal() -> None:
    # counted by hand: on 10 s after the first second, repeated on does not end it (last value holds)
    log = make_log([(0, RAISE, 0.0), (1, RAISE, 1.0), (7, RAISE, 1.0), (11, RAISE, 0.0)], end=20)
    assert spans(states_of(log).on(RAISE)) == [(at(1), at(11), True, True)]


def test_the_first_record_shows_a_state_but_no_change() -> None:
    log = make_log([(0, RAISE, 1.0), (10, RAISE, 0.0), (20, RAISE, 1.0)], end=20)
    assert spans(states_of(log).on(RAISE)) == [(at(0), at(10), False, True), (at(20), at(20), True, False)]


def test_the_last_state_lasts_to_the_last_record_of_the_log_and_its_end_is_not_seen() -> None:
    log = make_log(pulse(RAISE, (5, 8)), end=30)
    assert spans(states_of(log).off(RAISE)) == [(at(0), at(5), False, True), (at(8), at(30), True, False)]


def test_nothing_is_carried_over_a_hole() -> None:
    # logger off from 10 s to 1000 s: on before it is proven to 10 s only, and the off after it begins unseen
    log = make_log([(0, RAISE, 0.0), (2, RAISE, 1.0), (1000, RAISE, 0.0)], holes=[(10, 1000)], end=1010)
    states = states_of(log)
    assert spans(states.on(RAISE)) == [(at(2), at(10), True, False)]
    assert spans(states.off(RAISE)) == [(at(0), at(2), False, True), (at(1000), at(1010), False, False)]


def test_a_record_of_unknown_value_ends_what_is_known() -> None:
    log = make_log([(0, RAISE, 0.0), (2, RAISE, 1.0), (4, RAISE, None), (9, RAISE, 1.0), (12, RAISE, 0.0)], end=15)
    assert spans(states_of(log).on(RAISE)) == [(at(2), at(4), True, False), (at(9), at(12), False, True)]


def test_rows_are_the_lines_that_prove_the_change() -> None:
    log = make_log([(0, RAISE, 0.0), (1, RAISE, 1.0), (7, RAISE, 1.0), (11, RAISE, 0.0)], end=20)
    assert states_of(log).on(RAISE).select("start_row", "end_row").rows() == [(3, 5)]


def test_measured_signals_have_no_states_and_the_callers_frame_is_left_alone() -> None:
    log = make_log([(0, "load.kg", 10.0), (1, RAISE, 0.0)], end=5)
    before = log.events.clone()
    states = states_of(log)
    assert not states.has("load.kg")
    assert states.frame["signal"].unique().to_list() == [RAISE]
    assert log.events.equals(before)


# fewer than say how a log records: a repeat then proves nothing
records = st.lists(
    st.tuples(st.integers(0, 60), st.sampled_from([RAISE, "hoist.brake.released"]), st.sampled_from([0.0, 1.0, None])),
    max_size=19,
).map(lambda rows: sorted(rows, key=lambda row: row[0]))


@settings(max_examples=150, deadline=None)
@given(records, st.booleans())
def test_every_second_agrees_with_a_walk_through_the_records(
    rows: list[tuple[int, str, float | None]], holed: bool
) -> None:
    """Oracle: step through the records second by second, forgetting everything in the hole (20, 40)."""
    rows = [row for row in rows if not (holed and 20 < row[0] < 40)]
    log = make_log(rows, holes=[(20, 40)] if holed else [], end=60)
    frame = states_of(log).frame
    for signal in {row[1] for row in rows}:
        own = frame.filter(pl.col("signal") == signal)
        for second in range(60):
            instant = at(second + 0.5)
            known = own.filter((pl.col("start") <= instant) & (pl.col("end") > instant))["on"].to_list()
            assert known == walk(rows, signal, second + 0.5, holed)


def walk(rows: list[tuple[int, str, float | None]], signal: str, second: float, holed: bool) -> list[bool]:
    if holed and 20 < second < 40:
        return []
    begin = 40 if holed and second > 40 else 0
    last = [value for when, name, value in rows if name == signal and begin <= when <= second]
    return [] if not last or last[-1] is None else [last[-1] != 0]


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.integers(0, 60),
            st.sampled_from([RAISE, "hoist.raise.command", "hoist.brake.released"]),
            st.sampled_from([0.0, 1.0, 1.0, None]),
        ),
        min_size=1,
        max_size=60,
    )
)
def test_signals_by_themselves_have_the_states_that_they_have_together(drawn: list[tuple[int, str, float]]) -> None:
    """Repeats that prove a loss, pictures of the whole and unknown values too."""
    records = sorted(((float(t), name, value) for t, name, value in drawn), key=lambda record: record[0])
    kept = [record for record in records if not 20 < record[0] < 30]
    log = make_log(kept or records[:1], holes=[(20, 30)] if kept and kept[-1][0] >= 30 else [], end=70)
    whole = states_of(log)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(states_module, "AT_ONCE", 0)
        apart = states_of(log)
    assert apart.frame.equals(whole.frame)
    assert apart.lost == whole.lost
