"""Guards background work: it is done once, tells its stage, can be stopped, and its fault is not lost."""

from __future__ import annotations

import threading
import time

from dashboards.jobs import KEPT, Job, Jobs, StoppedError, Tell


def ended(job: Job) -> Job:
    until = time.monotonic() + 10
    while not job.done:
        assert time.monotonic() < until
        time.sleep(0.001)
    return job


def test_the_result_is_there_when_it_is_done() -> None:
    assert ended(Jobs().start("a", lambda tell: 6 * 7)).result == 42


def test_the_same_work_is_done_once() -> None:
    jobs, times = Jobs(), []
    for _ in range(3):
        ended(jobs.start("a", lambda tell: times.append(1)))
    assert times == [1]


def test_its_stage_is_told_while_it_works() -> None:
    jobs, told, may_end = Jobs(), threading.Event(), threading.Event()

    def work(tell: Tell) -> None:
        tell("reading")
        told.set()
        may_end.wait(10)

    job = jobs.start("a", work)
    assert told.wait(10)
    assert (job.stage, job.done) == ("reading", False)
    may_end.set()
    ended(job)


def test_one_at_a_time() -> None:
    jobs, may_end = Jobs(), threading.Event()
    first = jobs.start("a", lambda tell: may_end.wait(10))
    second = jobs.start("b", lambda tell: None)
    time.sleep(0.05)
    assert (second.stage, second.done) == ("waiting", False)
    may_end.set()
    ended(first), ended(second)


def test_it_stops_at_its_next_stage_and_can_be_begun_anew() -> None:
    jobs, told, may_go_on, after = Jobs(), threading.Event(), threading.Event(), []

    def work(tell: Tell) -> str:
        told.set()
        may_go_on.wait(10)
        tell("patterns")
        after.append(1)
        return "review"

    job = jobs.start("a", work)
    told.wait(10)
    jobs.stop("a")
    assert job.stage == "stopping"
    may_go_on.set()
    assert isinstance(ended(job).fault, StoppedError)
    assert after == []
    assert ended(jobs.start("a", work)).result == "review"


def test_a_fault_is_kept_and_the_work_may_be_tried_again() -> None:
    jobs, times = Jobs(), []

    def work(tell: Tell) -> str:
        times.append(1)
        if len(times) == 1:
            raise OSError("the disk is full")
        return "done"

    assert str(ended(jobs.start("a", work)).fault) == "the disk is full"
    assert ended(jobs.start("a", work)).result == "done"


def test_only_so_many_results_are_held_the_one_asked_for_last_among_them() -> None:
    jobs = Jobs()
    for number in range(KEPT):
        ended(jobs.start(number, lambda tell: None))
    assert jobs.find(0) is not None
    ended(jobs.start("new", lambda tell: None))
    jobs.start("newer", lambda tell: None)
    assert jobs.find(1) is None
    assert jobs.find(0) is not None


def test_nothing_is_found_of_what_was_never_begun() -> None:
    assert Jobs().find("a") is None
    Jobs().stop("a")
