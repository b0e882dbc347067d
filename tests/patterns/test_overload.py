"""overload_trip, overload_snatch and overload_repeat: each trip is one of the first two, each retry the third."""

from __future__ import annotations

import polars as pl
import pytest

from eventlens.machine import Machine
from eventlens.result import Review
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


def test_a_raise_whose_beginning_is_not_in_the_log_leaves_snatch_or_trip_open() -> None:
    """The log begins half a second before the trip: how long the load had been lifted is not known."""
    lifting = [(0.0, "hoist.raise.contactor", 1.0), (0.5, TRIP, 1.0), (0.52, "hoist.raise.contactor", 0.0)]
    review = reviewed([*lifting, (5.0, TRIP, 0.0)])
    assert spans("overload_snatch", review) == []
    assert spans("overload_trip", review) == [(at(0.5), at(5), "possible")]
    begun = reviewed(merged(run(0.01, 0.52), trip((0.5, 5))))
    assert spans("overload_snatch", begun) == [(at(0.5), at(5), "certain")]


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


RATED = Machine.model_validate({"machine": {"id": "SAW-3", "rated_load_kg": 1000}})


def summary(pattern: str, review: Review) -> str:
    return str(review.findings.filter(pl.col("pattern") == pattern)["summary"][0])


class TestLoad:
    """What the measured load says of trips."""

    def weighed(self, *lifts: float, when: float = 3.0) -> Records:
        """A late trip for each load [kg], which is recorded `when` seconds into the raise."""
        parts = [cut(100.0 * n, 4, 100.0 * n + 20) for n in range(1, len(lifts) + 1)]
        scale = [
            record
            for n, kg in enumerate(lifts, 1)
            for record in ((100.0 * n + when, "load.kg", kg), (100.0 * n + 30, "load.kg", 0.0))
        ]
        return merged([(0.0, "load.kg", 0.0)], *parts, scale)

    @pytest.mark.parametrize(
        ("lifts", "says"),
        [
            ((899.0,), "of 1 with a measured load 1 came below 90 % of the rated load (the lowest 90 %): the device"),
            ((900.0,), "of 1 with a measured load 1 came from 90 % of the rated load up to it: early, but within"),
            (
                (1000.0, 600.0),
                "of 2 with a measured load 1 lifted the rated load or more: too heavy; 1 came below 90 %",
            ),
            ((1000.0, 600.0), "1 came below 90 % of the rated load (the lowest 60 %): the device is set low or"),
        ],
    )
    def test_both_sides_of_clearly_below_the_rated_load(self, lifts: tuple[float, ...], says: str) -> None:
        assert says in summary("overload_trip", reviewed(self.weighed(*lifts), machine=RATED))

    @pytest.mark.parametrize(("when", "known"), [(-1.0, False), (4.4, True), (4.6, False)])
    def test_a_load_recorded_before_the_raise_or_long_after_the_trip_is_not_its_own(
        self, when: float, known: bool
    ) -> None:
        text = summary("overload_trip", reviewed(self.weighed(600.0, when=when), machine=RATED))
        assert ("of 1 with a measured load" in text) is known
        assert ("recorded at none of them" in text) is not known

    def test_kilograms_say_nothing_without_the_rating(self) -> None:
        assert "needs rated_load_kg" in summary("overload_trip", reviewed(self.weighed(600.0)))

    def test_trips_are_held_against_lifts(self) -> None:
        # by hand: three raises, the first with an empty hook, the others with a load that trips the device
        lifting = merged(run(20, 30), self.weighed(1200.0, 1200.0, when=1.0))
        hoist = reviewed(lifting, machine=RATED).motions["hoist"]
        assert hoist.lifts is not None
        assert (hoist.lifts.lifts, hoist.lifts.above_rated) == (2, 2)
        assert hoist.trips is not None
        assert (hoist.trips.trips, hoist.trips.per_100_lifts and hoist.trips.per_100_lifts.value) == (2, 100.0)


class TestSlope:
    """How fast the load grew before an early trip."""

    def grown(self, slope: float, *, every: float = 0.02, after: float = 0.1, reach: float = 1.2) -> Records:
        """A trip at 120 % of the rated load, which grew at `slope` rated loads per second from `after` on."""
        count = round(reach / slope / every)
        scale = [(10 + after + k * every, "load.kg", 1000 * reach * k / count) for k in range(count + 1)]
        stop = scale[-1][0] - 10
        return merged([(0.0, "load.kg", 0.0)], cut(10, stop, 17), scale, [(18.0, "load.kg", 0.0)])

    @pytest.mark.parametrize(
        ("slope", "says", "certainty"),
        [
            (6.0, "slope confirms 1 (up to", "certain"),
            (2.0, "slope leaves 1 open", "certain"),
        ],
    )
    def test_it_confirms_or_leaves_open(self, slope: float, says: str, certainty: str) -> None:
        review = reviewed(self.grown(slope), machine=RATED, step_s=0.001)
        assert spans("overload_snatch", review)[0][2] == certainty
        assert says in summary("overload_snatch", review)

    @pytest.mark.parametrize(("reach", "denied"), [(0.75, True), (0.95, False)])
    def test_it_denies_what_grew_slowly(self, reach: float, denied: bool) -> None:
        # both sides of one rated load per second: the growth takes 0.8 s, known to two steps of 1 ms
        review = reviewed(self.grown(reach / 0.8, reach=reach), machine=RATED, step_s=0.001)
        assert spans("overload_snatch", review)[0][2] == ("possible" if denied else "certain")
        assert ("denies 1" in summary("overload_snatch", review)) is denied

    def test_records_too_far_apart_decide_nothing(self) -> None:
        review = reviewed(self.grown(0.9, every=0.25, reach=0.7), machine=RATED, step_s=0.001)
        assert spans("overload_snatch", review)[0][2] == "certain"
        assert "slope" not in summary("overload_snatch", review)

    def test_growth_between_records_that_are_far_apart_may_have_been_fast(self) -> None:
        scale = [(0.0, 0.0), (10.5, 900.0), (10.52, 905.0), (10.54, 910.0), (10.56, 915.0), (18.0, 0.0)]
        records = merged(cut(10, 0.6, 17), [(t, "load.kg", kg) for t, kg in scale])
        review = reviewed(records, machine=RATED, step_s=0.001)
        assert spans("overload_snatch", review)[0][2] == "certain"
        assert "leaves 1 open" in summary("overload_snatch", review)


class TestCurrent:
    """What the motor current can show where no load is measured: little, and the report says so."""

    def drawn(self, own: float) -> Records:
        """Ten raises at 10 A and, last, a late trip at `own`; each with a starting current of 60 A."""
        raises = [run(100.0 * n, 100.0 * n + 5) for n in range(1, 11)]
        begins = [(100.0 * n, 10.0) for n in range(1, 11)] + [(2000.0, own)]
        parts = [
            [(t + 0.1, "hoist.motor.current_a", 60.0), (t + 1.5, "hoist.motor.current_a", amperes)]
            for t, amperes in begins
        ]
        return merged(*raises, cut(2000.0, 4, 2020), *parts)

    def test_it_is_a_hint_and_no_weight(self) -> None:
        text = summary("overload_trip", reviewed(self.drawn(15.0), machine=RATED))
        assert "drew 1.50 times what it draws in the lightest raises" in text
        assert "no weight" in text

    def test_nine_raises_do_not_tell_the_idle_current(self) -> None:
        records = [record for record in self.drawn(15.0) if not 1000 <= record[0] < 2000]
        records = [record for record in records if not 900 <= record[0] < 1000]
        assert "times" not in summary("overload_trip", reviewed(records, machine=RATED))

    def test_in_a_snatch_it_is_starting_current(self) -> None:
        records = merged(cut(10, 0.5, 17), [(10.1, "hoist.motor.current_a", 60.0)])
        assert "starting current" in summary("overload_snatch", reviewed(records, machine=RATED))
