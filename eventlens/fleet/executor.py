"""What runs tasks: an interface of three methods, so that another kind of cluster is one more file beside `cluster`."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, Protocol, TypeAlias

from eventlens.fleet.tasks import Task

LIMIT_S: Final = 600.0
"""Time for one period [s]: some hundred times as long as a week of hard work takes (judgement)."""


@dataclass(frozen=True)
class Reply:
    """What a worker has to say of a task: rows, or why there are none."""

    rows: bytes | None = None
    """A row for each period, in the form of the table in which they are kept, as an Arrow file."""
    fault: str | None = None
    """One sentence."""
    lasting: bool = True
    """Whether the same would come of the same log again; else the fault is with the place (no archive, no room)."""


@dataclass(frozen=True)
class Outcome:
    """How a task ended."""

    task: Task
    reply: Reply
    died: bool = False
    """The process that worked on it died, perhaps of it."""


Work: TypeAlias = Callable[[Task], Reply]
"""What a worker does with a task; a function of a module, for it goes to other processes by its name."""


class Executor(Protocol):
    """Whatever can work on several tasks at a time."""

    @property
    def ahead(self) -> int:
        """How many tasks it should have been given: enough that no worker waits, few enough to be held in memory."""

    def submit(self, task: Task) -> None:
        """Takes a task; it begins when a worker is free."""

    def finished(self, wait_s: float) -> list[Outcome]:
        """The tasks that have ended since it was asked last; waits so long for the first.

        EventlensError where nothing can be worked on any more.
        """

    def close(self) -> None:
        """Gives up what is still being worked on, and lets the workers go."""
