"""From trends to what the pages of machines and weeks show."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from typing import Any, Final

import polars as pl

from dashboards import words
from dashboards.data import _changes, _funnels, _rates, _times
from dashboards.data._life import view as _life_view
from dashboards.data._names import key_of, series_name
from dashboards.data._work import over_weeks
from dashboards.series import Change, FunnelView, LifeView, TimeView, WeeklyView, Work, WorkOverWeeks
from eventlens.errors import ArchiveError, nearest
from eventlens.life.period import RULE_AT_THE_END
from eventlens.report.trends import VERDICT
from eventlens.report.words import CONFIDENCE, figure
from eventlens.trends import Trends, Weeks
from eventlens.trends.times import number_of

OWN: Final = "own"
"""What a pattern itself is counted against."""
WORK: Final = ("repair", "exchanged")
"""Kinds of entries that are work on the machine."""
BASES: Final = {
    OWN: "its own use",
    "observed_h": "observed hour",
    "running_h": "running hour",
    "lifts": "100 lifts",
}
"""What weekly rates can be given against."""


class History:
    """The weeks of one or more machines."""

    def __init__(self, trends: Trends, weekly: Weeks, stored: pl.DataFrame, entries: pl.DataFrame) -> None:
        """stored: (machine, week, start, end, why) of the weeks; entries: hand entries of the archive."""
        self.found, self.weekly, self._stored, self._entries = trends, weekly, stored, entries
        self.machines = tuple(sorted({*trends.machines, *stored["machine"]}))
        self.weeks = _every(trends.weeks)
        """Every ISO week from the first to the last."""
        self.notes, self.cautions = trends.notes, trends.cautions
        self._work: dict[str, WorkOverWeeks] = {}

    def span(self) -> str:
        """Which weeks, and which of them are held against those before."""
        found = self.found
        known = f"{found.weeks[0]} to {found.weeks[-1]}, {words.counted(len(found.weeks), 'week')} with log"
        last = f"{found.recent[0]} to {found.recent[-1]}" if len(found.recent) > 1 else found.recent[0]
        return f"{known}; the last, {last}, are held against those before"

    def compared(self) -> str:
        """How many comparisons were made, and what that means for what is shown as a change."""
        found = self.found
        share = figure(100 * (1 - found.confidence))
        patterns = words.counted(found.comparisons, "pattern of a machine", "patterns of machines")
        times = words.counted(found.times_compared, "measured time")
        return (
            f"{patterns} and {times} were compared. Of the changes that are shown, at most {share} % on average are "
            f"chance; a week beyond the limits of its chart is a false alarm in at most "
            f"{100 * found.false_alarm:.2g} % of the weeks in which nothing has changed."
        )

    def changes(self, machine: str | None = None) -> list[Change]:
        """What has changed, what needs a person first; of one machine or of all."""
        every = [*_changes.of_rates(self.found), *_changes.of_times(self.found)]
        chosen = [one for one in every if machine in (None, one.machine)]
        return sorted(chosen, key=lambda one: _changes.ORDER.index(one.level))

    def fleet(self) -> list[dict[str, Any]]:
        """A row for each machine, the one that needs a person first at the top."""
        known = self.weekly.counts.group_by("machine").agg(pl.col("week").n_unique().alias("weeks"))
        held = dict(known.iter_rows())
        lives = {row["machine"]: row for row in self.found.life.iter_rows(named=True)}
        rows = []
        for n, row in enumerate(self.found.fleet.iter_rows(named=True)):
            weeks = self.weeks_of(row["machine"])
            rows.append(
                {
                    **_fleet_row(n, row),
                    **_fleet_life(lives.get(row["machine"])),
                    "weeks": held.get(row["machine"], 0),
                    "last": weeks[-1] if weeks else "",
                }
            )
        return rows

    def tied(self) -> bool:
        """Whether some machines have a range of places because their limits do not separate them."""
        return self.found.fleet["rank"].null_count() > 0

    def funnels(self) -> dict[str, str]:
        """Patterns in which machines can be held side by side: key and name; those with a machine beyond first."""
        rows = self.found.funnel.group_by("pattern", "motion", maintain_order=True).agg(
            pl.col("beyond").max().alias("most"), pl.col("count").sum()
        )
        ordered = rows.sort("most", "count", descending=True, maintain_order=True)
        return {key_of(row): series_name(row) for row in ordered.iter_rows(named=True)}

    def funnel(self, key: str) -> FunnelView:
        """Machines side by side for one of `funnels`; KeyError for another."""
        return _funnels.view(self.found, key)

    def series(self, machine: str) -> list[dict[str, Any]]:
        """A row for each pattern that a machine has shown, what needs a person first."""
        return _rates.rows(self.found, machine)

    def bases(self, machine: str, key: str) -> dict[str, str]:
        """What the weekly rates of a pattern can be given against: key of BASES and its name."""
        return _rates.bases(self.found, machine, key, BASES)

    def weekly_view(self, machine: str, key: str, base: str = OWN) -> WeeklyView:
        """A pattern of a machine over the weeks; KeyError where it has shown none such."""
        return _rates.view(self.found, self.weeks, self.works(machine), machine, key, base if base in BASES else OWN)

    def times(self, machine: str) -> list[TimeView]:
        """The measured times of a machine over the weeks, those that drift first."""
        return _times.views(self.found, self.weekly.times, self.weeks, self.works(machine), machine)

    def week_rows(self, machine: str) -> list[dict[str, Any]]:
        """A row for each ISO week of the history: what the machine did, and whether there is a review; the latest
        first."""
        counts = self.weekly.counts.filter(pl.col("machine") == machine)
        whole = counts.filter(pl.col("motion").is_null()) if counts["motion"].null_count() else counts
        use = whole.group_by("week").agg(
            pl.col("observed_h").max(), pl.col("running_h").max(), pl.col("starts").max(), pl.col("lifts").max()
        )
        known = {row["week"]: row for row in use.iter_rows(named=True)}
        whys = dict(self._stored.filter(pl.col("machine") == machine).select("week", "why").iter_rows())
        lives = self.found.life_weeks.filter(pl.col("machine") == machine).select("week", "full_load_h")
        loads = dict(lives.iter_rows())
        return [
            {**_week_row(week, known.get(week), whys), "full_load_h": loads.get(week)} for week in reversed(self.weeks)
        ]

    def weeks_of(self, machine: str) -> list[str]:
        """The stored weeks of a machine that have a review, ascending."""
        own = self._stored.filter((pl.col("machine") == machine) & pl.col("why").is_null())
        return sorted(own["week"])

    def stored(self, machine: str, week: str | None) -> dict[str, Any]:
        """The stored week of a machine, None: the latest; ArchiveError where there is no review of it."""
        known = self.weeks_of(machine)
        if not known:
            raise ArchiveError(f"a week of {machine} with a review", "none", "add a log first")
        wanted = known[-1] if week is None else week
        own = self._stored.filter((pl.col("machine") == machine) & (pl.col("week") == wanted))
        if own.is_empty():
            raise ArchiveError(f"a week of {machine}", f"'{wanted}'", nearest(wanted, known))
        row = own.row(0, named=True)
        if row["why"] is not None:
            raise ArchiveError(f"a week of {machine} with a review", f"{wanted}: {row['why']}", "choose another")
        return row

    def works(self, machine: str) -> tuple[Work, ...]:
        """Repairs and exchanged parts within the weeks of the history."""
        told = [(date.fromisoformat(day), kind, text) for day, kind, text in self.entries(machine) if kind in WORK]
        works = [Work(_place(day, self.weeks), f"{day} {kind}: {text}") for day, kind, text in told]
        return tuple(work for work in works if -0.5 <= work.at < len(self.weeks) - 0.5)

    def not_assessed(self, machine: str) -> list[tuple[str, str]]:
        """Patterns of which the latest week of a machine says nothing, or not all, and why."""
        own = self.weekly.counts.filter(pl.col("machine") == machine)
        last = own.filter((pl.col("week") == pl.col("week").max()) & pl.col("lack").is_not_null())
        return [(series_name(row), _why(row["lack"])) for row in last.iter_rows(named=True)]

    def life(self, machine: str) -> list[str]:
        """What is used of a machine's hours of full load and until when they last, in sentences; none where its group
        or its load spectrum is not known."""
        own = self.found.life.filter(pl.col("machine") == machine)
        return [said for row in own.iter_rows(named=True) for said in _life(row)]

    def life_view(self, machine: str) -> LifeView | None:
        """The same week by week, with its forecast; None where it is not known."""
        return _life_view(self.found, self.weeks, machine)

    def work(self, machine: str) -> WorkOverWeeks:
        """The kinds of work of a machine over the weeks; worked out when it is first asked for (a second or so)."""
        if machine not in self._work:
            found, last = self.found, tuple(self.weeks.index(self.found.recent[end]) for end in (0, -1))
            self._work[machine] = over_weeks(
                found.work_of(machine), self.weeks, (last[0], last[1]), self.works(machine), found.confidence
            )
        return self._work[machine]

    def entries(self, machine: str) -> list[tuple[str, str, str]]:
        """Day (UTC), kind and text of what people wrote down about a machine's parts and repairs, the oldest first."""
        told = pl.col("kind").is_in(["repair", "exchanged", "note", "check"]) & pl.col("at").is_not_null()
        own = self._entries.filter((pl.col("machine") == machine) & told)
        return [(f"{at:%Y-%m-%d}", kind, text) for at, kind, text in own.select("at", "kind", "text").iter_rows()]


def _place(day: date, weeks: Sequence[str]) -> float:
    """Where a day lies among weeks whose middle is their number."""
    return (day - _monday(weeks[0])).days / 7 - 0.5


def _every(weeks: Sequence[str]) -> tuple[str, ...]:
    """ISO weeks from the first to the last, without a gap."""
    first, count = _monday(weeks[0]), number_of(weeks[-1]) - number_of(weeks[0]) + 1
    return tuple(f"{first + timedelta(weeks=n):%G-W%V}" for n in range(count))


def _monday(week: str) -> date:
    year, number = week.split("-W")
    return date.fromisocalendar(int(year), int(number), 1)


def _life(row: dict[str, Any]) -> Iterator[str]:
    mark = CONFIDENCE[row["confidence"]]
    yield (
        f"{figure(row['used_h'])} of {figure(row['duration_h'])} h of full load are used, "
        f"{100 * row['used_share']:.1f} % (load spectrum {row['how']}; {row['source']}{f', {mark}' if mark else ''})."
    )
    if row["used_share"] >= 1:
        yield f"{RULE_AT_THE_END[0].upper()}{RULE_AT_THE_END[1:]}."
    elif row["ends"] is not None:
        latest = f"{row['latest']:%Y-%m-%d}" if row["latest"] is not None else "later than in two hundred years"
        earliest = f"{row['earliest']:%Y-%m-%d}" if row["earliest"] is not None else "not known"
        yield f"At this rate they are used up on {row['ends']:%Y-%m-%d} (95 % limits {earliest} to {latest})."


def _why(lack: str) -> str:
    """What kept a pattern from being assessed, as schema.WEEKS says it, in words."""
    parts = (part.partition(": ") for part in lack.split("; "))
    return "; ".join(f"{words.WHY[why]}: {needs}" if why in words.WHY else f"{why} {needs}" for why, _, needs in parts)


def _week_row(week: str, use: dict[str, Any] | None, whys: dict[str, str | None]) -> dict[str, Any]:
    reviewed = week in whys and whys[week] is None
    why = "" if reviewed else whys.get(week) or "no log"
    empty = {"observed_h": None, "running_h": None, "starts": None, "lifts": None}
    rounded = {
        name: None if value is None else round(value, 1) for name, value in (use or empty).items() if name != "week"
    }
    return {"week": week, "monday": _monday(week).isoformat(), **rounded, "reviewed": reviewed, "why": why}


def _fleet_row(n: int, row: dict[str, Any]) -> dict[str, Any]:
    severity = row["severity"]
    level = severity or "calm"
    place = str(row["rank"]) if row["rank"] else f"{row['rank_best']} to {row['rank_worst']}"
    return {
        "order": n,
        "place": place,
        "machine": row["machine"],
        "level": level,
        "severity": words.asked(severity),
        "leads": series_name(row) if severity else "nothing in the last weeks",
        "series": key_of(row) if severity else "",
        "counted": _rates.counted_in(row["count"], row["amount"], row["exposure"]) if severity else "",
        "verdict": VERDICT[row["verdict"]].lower() if row["verdict"] else "",
        "shrunk": row["shrunk"],
        "sisters": "" if row["shrunk"] is None else _against(row["shrunk"], row["shrunk_low"], row["shrunk_high"]),
        "active": row["active"],
    }


def _fleet_life(row: dict[str, Any] | None) -> dict[str, Any]:
    """What is used of a machine's period, as a number and in words; nothing where it is not known."""
    if row is None:
        return {"life": None, "life_text": "not known"}
    ends = f", to {row['ends']:%Y}" if row["ends"] is not None else ""
    more = ", used up" if row["used_share"] >= 1 else ends
    return {"life": row["used_share"], "life_text": f"{100 * row['used_share']:.1f} %{more}"}


def _against(value: float, low: float, high: float) -> str:
    return f"{figure(value)} × ({figure(low)} to {figure(high)})"
