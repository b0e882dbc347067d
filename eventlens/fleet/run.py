"""Every machine and period: planned, worked on wherever the executor likes, kept, and summed up."""

from __future__ import annotations

import time
from collections import Counter, deque
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Final

from eventlens.archive.weeks import row
from eventlens.errors import EventlensError
from eventlens.fleet.executor import Executor, Outcome
from eventlens.fleet.keep import Keeper
from eventlens.fleet.result import Fleet
from eventlens.fleet.summary import summed
from eventlens.fleet.tasks import WEEK, Fault, Plan, Task, planned
from eventlens.fleet.work import rows_of

WAIT_S: Final = 1.0
"""So often there is time for something else than waiting [s]."""
HOPELESS: Final = 20
"""Periods that come to nothing for a fault of the place, before the first that comes to something: then it ends."""


def review_all(
    archive: str | Path,
    executor: Executor,
    *,
    period: str = WEEK,
    machines: Sequence[str] | None = None,
    retry: bool = False,
    progress: Callable[[str], None] | None = None,
) -> Fleet:
    """Reviews what is missing, keeps it in the archive, and sums up all that is there then.

    period: week, month, all or FROM..TO. machines: only these; None: all. retry: also what ended without a review.
    A log that cannot be reviewed is its machine's error, and nothing else. EventlensError where the work cannot go on:
    what was done is kept, and the next call goes on from there.
    """
    tell = progress or (lambda stage: None)
    tell("looking for what is missing")
    plan = planned(archive, period, machines, retry=retry)
    run = _Run(plan, executor, tell)
    if plan.tasks or any(plan.stale.values()):
        run.carry_out()
    tell("summing up")
    return summed(plan, run.made, (*plan.faults, *run.passing))


class _Run:
    """One run through the tasks of a plan."""

    def __init__(self, plan: Plan, executor: Executor, tell: Callable[[str], None]) -> None:
        self.executor, self.tell = executor, tell
        self.keeper = Keeper(plan)
        self.todo: deque[Task] = deque(plan.tasks)
        self.again: deque[Task] = deque()
        """What came to nothing with others around it: tried once more when all else is done, one at a time."""
        self.made: Counter[str] = Counter()
        """Periods that are done, by machine."""
        self.passing: list[Fault] = []
        """Faults that are not the log's: not kept, so that the next run tries again."""
        self.whole = sum(len(task.wanted) for task in plan.tasks)
        self.began = time.monotonic()

    def carry_out(self) -> None:
        """Works until nothing is left; what is done is kept, whatever happens."""
        try:
            under_way = 0
            while self.todo or self.again or under_way:
                while self.todo and under_way < self.executor.ahead:
                    self.executor.submit(self.todo.popleft())
                    under_way += 1
                if not under_way:
                    self.executor.submit(self.again.popleft())
                    under_way = 1
                for outcome in self.executor.finished(WAIT_S):
                    under_way -= 1
                    self._take(outcome)
                self.tell(self._stands())
        finally:
            self.keeper.close()

    def _take(self, outcome: Outcome) -> None:
        task, reply = outcome.task, outcome.reply
        if reply.fault is None:
            rows = rows_of(reply)
            self.made[task.machine] += rows.height
            self.keeper.add(rows)
        elif not reply.lasting:
            self.passing += [Fault(task.machine, one.period, reply.fault) for one in task.wanted]
            if len(self.passing) > HOPELESS and not self.made:
                raise EventlensError(
                    "workers that can work on tasks", f"none so far: {reply.fault}", "see to this first"
                )
        elif not task.alone and (outcome.died or len(task.wanted) > 1):
            self.again += task.parts()
        else:
            self.made[task.machine] += 1
            self.keeper.add(row(task.machine, task.wanted[0], None, reply.fault, table=self.keeper.table))

    def _stands(self) -> str:
        done, failed = self.made.total(), len(self.passing)
        said = f"reviewed {done} of {self.whole}" + (f", {failed} could not be worked on" if failed else "")
        if done:
            left_s = (time.monotonic() - self.began) / done * (self.whole - done - failed)
            said += f", {_about(left_s)} left"
        return said + (f"; {len(self.again)} to be tried alone" if self.again else "")


def _about(seconds: float) -> str:
    return f"about {seconds / 3600:.1f} h" if seconds > 5400 else f"about {max(1, round(seconds / 60))} min"
