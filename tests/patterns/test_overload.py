"""overload_trip, overload_snatch and overload_repeat: each trip is one of the first two, each retry the third."""

from __future__ import annotations

import pytest

from tests.logs import Records, at, merged, run
from tests.patterns.helpers import found, reviewed, spans

TRIP = "overload.trip"


def trip(*edges: tuple[float, float]) -> Records:
    return [record for on, off in edges for record in ((on, TRIP, 1.0), (off, TRIP, 0.0))]


def cut(begin: float, after: float, until: float) -> Records:
    """A raise that the device cuts `after` seconds into it; the trip lasts until `until`."""
    stop = begin + after
    return merged(run(begin, stop + 0.02, command=(begin - 0.05, stop + 0.5)), trip((stop, until)))


def test_a_late_trip_spans_the_signal_and_measures_the_time_into_the_raise() -> None:
    review = reviewed(cut(10, 4, 17))
    assert spans("overload_trip", review) == [(at(14), at(17), "certain")]
    assert found("overload_trip", review)["measured"].to_list() == [pytest.approx(4.0)]
    assert spans("overload_snatch", review) == []


@pytest.mark.parametrize(
    ("after", "pattern", "certainty"),
    [
        (0.5, "overload_snatch", "certain"),
        (0.98, "overload_snatch", "certain"),
        (0.99, "overload_snatch", "possible"),
        (1.0, "overload_snatch", "possible"),
        (1.01, "overload_trip", "possible"),
        (1.03, "overload_trip", "certain"),
    ],
)
def test_both_sides_of_the_snatch_limit(after: float, pattern: str, certainty: str) -> None:
    own = reviewed(cut(10, after, 17)).occurrences.select("pattern", "certainty").rows()
    assert own == [(pattern, certainty)]


def test_a_trip_at_rest_or_while_lowering_is_a_trip() -> None:
    review = reviewed(merged(run(10, 15, "lower"), trip((12, 13), (40, 41))))
    assert len(spans("overload_trip", review)) == 2
    assert found("overload_trip", review)["measured"].to_list() == [None, None]


@pytest.mark.parametrize(("gap", "count"), [(1.99, 1), (2.0, 2)])
def test_chatter_about_the_limit_is_one_trip(gap: float, count: int) -> None:
    review = reviewed(merged(run(10, 14.02, command=(9.9, 15)), trip((14, 14.5), (14.5 + gap, 18))))
    assert len(spans("overload_trip", review)) == count


def test_a_trip_that_is_on_at_the_beginning_is_not_counted() -> None:
    assert spans("overload_trip", reviewed([(0, TRIP, 1.0), (5, TRIP, 0.0)])) == []


def test_an_overload_ends_the_run_and_is_no_drop_out() -> None:
    review = reviewed(cut(10, 4, 17))
    assert review.motions["hoist"].endings["overload"] == 1
    assert spans("drop_out", review) == []


class TestRepeat:
    def test_raising_again_spans_the_command(self) -> None:
        records = merged(cut(10, 4, 17), [(20.0, "hoist.raise.command", 1.0), (22.0, "hoist.raise.command", 0.0)])
        assert spans("overload_repeat", reviewed(records))[0] == (at(20), at(22), "certain")

    def test_the_command_that_was_held_through_the_trip_is_none(self) -> None:
        assert spans("overload_repeat", reviewed(cut(10, 4, 17))) == []

    def test_lowering_in_between_is_what_one_should_do(self) -> None:
        records = merged(cut(10, 4, 17), run(18, 20, "lower"), run(22, 25))
        assert spans("overload_repeat", reviewed(records)) == []

    def test_a_lowering_that_was_under_way_when_it_tripped_counts_as_lowering(self) -> None:
        records = merged(run(10, 15, "lower"), trip((12, 13)), run(18, 20))
        assert spans("overload_repeat", reviewed(records)) == []

    def test_each_attempt_counts(self) -> None:
        presses = [(t + d, "hoist.raise.command", 1.0 - d) for t in (20.0, 23.0, 26.0) for d in (0.0, 1.0)]
        assert len(spans("overload_repeat", reviewed(merged(cut(10, 4, 40), presses)))) == 3

    @pytest.mark.parametrize(("after", "fires"), [(29.9, True), (30.1, False)])
    def test_both_sides_of_right_away(self, after: float, fires: bool) -> None:
        records = merged(cut(10, 4, 17), run(14 + after, 14 + after + 3, command=(14 + after, 14 + after + 2.9)))
        assert bool(spans("overload_repeat", reviewed(records))) is fires

    def test_without_lowering_in_the_log_it_is_only_possible(self) -> None:
        records = merged(cut(10, 4, 17), run(20, 22))
        carries = ("hoist.raise.command", "hoist.raise.contactor", TRIP)
        assert spans("overload_repeat", reviewed(records, carries=carries))[0][2] == "possible"
