"""The part of an archive that goes week by week: stored reviews, and trends from what is stored beside them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

import polars as pl

from eventlens.archive import weeks as kept
from eventlens.archive.dumps import no_room
from eventlens.archive.machines import Machines
from eventlens.archive.tables import WEEKLY
from eventlens.errors import ArchiveError, nearest
from eventlens.statistics.rates import LEVEL
from eventlens.trends import Trends, Weeks, gather, trends_of

Progress = Callable[[str], None]


class Weekly(Machines):
    """Weeks begin on Monday at 00:00 in the zone of the log."""

    def weeks(self, machine: str | None = None, progress: Progress | None = None) -> pl.DataFrame:
        """The review of each ISO week (tables.REVIEWS); only those that rest on something new are made."""
        self.bring_up_to_date(machine, progress)
        return kept.stored(self.lake, machine)

    def bring_up_to_date(self, machine: str | None = None, progress: Progress | None = None) -> None:
        """Makes the stored reviews that are missing, or rest on something that has changed."""
        self._current([self.known(machine)] if machine is not None else None, progress)

    def stored_weeks(self, machine: str | None = None) -> pl.DataFrame:
        """machine, week, start, end, why, made of the stored reviews, as they stand: nothing is made anew.

        why: why there is no review of the week; null where there is one.
        """
        return kept.stored(self.lake, machine, kept.LISTED)

    def stored_results(self, machine: str | None = None) -> Weeks:
        """What trends need of the stored weeks (schema.WEEKS, WEEK_TIMES, WEEK_LIFE, WEEK_WORK), as they stand:
        nothing is made anew."""
        return kept.weekly(kept.stored(self.lake, machine, ("machine", "week", *WEEKLY)))

    def stored_review(self, machine: str, week: str) -> str:
        """The stored review of an ISO week, as 2026-W16, as JSON (contract 1). ArchiveError where there is none."""
        found = kept.review_of(self.lake, self.known(machine), week)
        if found is None:
            known = self.stored_weeks(machine)["week"].to_list()
            remedy = nearest(week, known) if known else "make them with eventlens archive weeks"
            raise ArchiveError(f"a stored week of {machine}", f"'{week}'", remedy, file=self.lake.root)
        review, why = found
        if review is None:
            raise ArchiveError(f"a week of {machine} with a review", f"{week}: {why}", "choose another")
        return review

    def trends(
        self,
        machines: Sequence[str] | None = None,
        *,
        confidence: float = LEVEL,
        progress: Progress | None = None,
        as_stored: bool = False,
    ) -> Trends:
        """Weeks against the weeks before, and machines side by side, from the stored weeks; see eventlens.trends.

        machines: only these; None: all. Weeks that rest on something new are reviewed first, the others are read;
        as_stored: all are taken as they stand, which takes no longer than reading them.
        """
        names = None if machines is None else [self.known(name) for name in machines]
        state = kept.State.of(self.lake) if as_stored else self._current(names, progress)
        rows = state.stored if names is None else state.stored.filter(pl.col("machine").is_in(names))
        found = trends_of(gather([kept.weekly(rows)]), confidence=confidence, works=state.works())
        return replace(found, notes=(*found.notes, *kept.left_out(rows)))

    def _current(self, machines: Sequence[str] | None, progress: Progress | None) -> kept.State:
        """The stored weeks, after those of these machines (None: all) were brought up to date."""
        tell, changed = progress or (lambda stage: None), False
        state = kept.State.of(self.lake)
        for name in sorted(set(state.ledger["machine"])) if machines is None else machines:
            with room() as folder:
                changed |= kept.bring_up_to_date(self.lake, name, folder, tell, state.machine(name))
        return kept.State.of(self.lake) if changed else state


@contextmanager
def room() -> Iterator[Path]:
    """A folder for copies of dumps, for as long as it is needed."""
    try:
        folder = TemporaryDirectory(prefix="eventlens-")
    except OSError as fault:
        raise no_room(fault) from None
    with folder as name:
        yield Path(name)
