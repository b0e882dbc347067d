"""What was told of a record: each occurrence once, as soon as nothing that is still to come can change it.

An occurrence is told when it is settled: it is certain, and the record has gone on after its end for as long as its
pattern depends on what follows (`Pattern.settles_s`) and as late records are waited for. One that goes on and on is
told once it has been certain for a while. If a later look sees it in another way it is told again, as changed or
withdrawn, with the reason: so what was told comes, in the end, to what a review of the whole record says.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Final

import polars as pl

from eventlens import patterns, schema
from eventlens.live.looks import Seen

LASTS_S: Final = 15.0
"""An occurrence that goes on is told when it has been certain through so much of the record [s] (common practice)."""
FOUND, CHANGED, WITHDRAWN = "found", "changed", "withdrawn"

_KEY: Final = ["pattern", "motion", "signal", "direction", "start", "n"]
_SAYS: Final = ["end", "certainty", "measured", "limit"]
_NEAR: Final = 1e-6
"""Figures that differ by less are the same: sums over a part round in another way."""


@dataclass(frozen=True)
class Message:
    """One thing that is told of one occurrence."""

    number: int
    """From 1, without a gap: whoever has one has all before it."""
    told: str
    """found, changed or withdrawn."""
    why: str
    """Why it is told again; empty the first time."""
    occurrence: dict[str, Any]
    """As schema.OCCURRENCES with n, which counts those that are alike in all but their lines. rows: the lines that
    proved it when it was told; that there are more by now is not told for itself."""
    going_on: bool
    """It has no end yet."""
    age_s: float
    """How far the record goes on after its end [s]: what the pattern and late records needed."""
    program_s: float
    """From the arrival of the oldest line that had not been looked at until it is told [s]."""
    at: datetime
    """When it is told, by this computer's clock."""
    whole: bool
    """A look at the whole record says so, not one at its last part."""

    @property
    def id(self) -> str:
        """What the messages about one occurrence have in common."""
        one = self.occurrence
        named = [str(one[name] or "-") for name in ("pattern", "motion", "signal", "direction")]
        return " ".join([*named, one["start"].isoformat(), str(one["n"])])


class Ledger:
    """What was told, and what waits."""

    def __init__(self, *, possible: bool, wait_s: float) -> None:
        """possible: occurrences that are only possible are told too; wait_s: so late may records come [s]."""
        self._possible, self._wait_s = possible, wait_s
        self.number = 0
        self.net = _empty()
        """What was told and holds: schema.OCCURRENCES and n."""
        self._since: pl.DataFrame = _empty().select(_KEY).with_columns(since=pl.lit(None, schema.TIME))

    def weigh(self, seen: Seen, *, ended: bool = False, quiet: bool = False) -> list[dict[str, Any]]:
        """What is to be told after a look: rows of told, why, going_on, age_s and the occurrence, by start.

        ended: nothing will follow, so everything is settled; quiet: nothing late will come any more.
        """
        looked = self._looked(seen, ended=ended, quiet=quiet)
        self._remember(looked, seen)
        told = looked.filter(pl.col("tell")).join(self.net, on=_KEY, how="anti", nulls_equal=True)
        parts = [told.with_columns(told=pl.lit(FOUND), why=pl.lit("")), self._again(looked), self._gone(looked, seen)]
        rows = pl.concat([part.select(_TOLD) for part in parts]).sort("start", "pattern", maintain_order=True)
        return rows.to_dicts()

    def keep(self, messages: Sequence[Message]) -> None:
        """Messages that were told, in their order."""
        if not messages:
            return
        self.number = messages[-1].number
        rows = pl.DataFrame([message.occurrence for message in messages], schema=_empty().schema)
        rows = rows.with_columns(holds=pl.Series([message.told != WITHDRAWN for message in messages]))
        rows = rows.unique(_KEY, keep="last", maintain_order=True)
        self.net = self.net.join(rows.select(_KEY), on=_KEY, how="anti", nulls_equal=True, maintain_order="left")
        self.net = pl.concat([self.net, rows.filter("holds").drop("holds")])

    def _looked(self, seen: Seen, *, ended: bool, quiet: bool) -> pl.DataFrame:
        """The occurrences with: held (the look is to be trusted on it), settled, wanted, going_on, tell."""
        n = pl.int_range(pl.len(), dtype=pl.UInt32).over(_KEY[:-1])
        frame = seen.found.with_columns(n=n).join(_settling(), on="pattern", how="left", maintain_order="left")
        wait = 0.0 if quiet else self._wait_s
        needs = pl.when(pl.col("settles_s").is_infinite()).then(0.0).otherwise(pl.col("settles_s"))
        long_ago = pl.col("since") <= pl.lit(seen.end).cast(schema.TIME) - timedelta(seconds=LASTS_S)
        frame = frame.join(self._since, on=_KEY, how="left", nulls_equal=True, maintain_order="left")
        return frame.with_columns(
            held=pl.lit(seen.whole) | self._is_for_part(seen),
            settled=pl.lit(ended) | (pl.col("age_s") >= needs + wait),
            wanted=(pl.col("certainty") == "certain") | pl.lit(self._possible),
            lasts=long_ago.fill_null(value=False),
        ).with_columns(
            going_on=~pl.col("settled"),
            tell=pl.col("held") & pl.col("wanted") & (pl.col("settled") | pl.col("lasts")),
        )

    def _is_for_part(self, seen: Seen) -> pl.Expr:
        """Whether a look at the last part may say something of an occurrence.

        Its pattern looks back no further than the part reaches, and no look at the whole record has settled it: that
        one knows better, and must not be contradicted until the next.
        """
        known = pl.lit(seen.known).cast(schema.TIME)
        later = (pl.col("end") > known) | (pl.col("rows").list.max() > seen.known_row)
        open_then = _later("end", pl.col("settles_s") + self._wait_s) >= known
        reached = (pl.col("before_s") >= pl.col("look_back_s")) & pl.col("settles_s").is_finite()
        return reached & (later.fill_null(value=False) | open_then)

    def _remember(self, looked: pl.DataFrame, seen: Seen) -> None:
        """Since when occurrences that are not settled have been wanted."""
        waits = looked.filter(pl.col("wanted") & ~pl.col("settled") & pl.col("held"))
        now = pl.lit(seen.end).cast(schema.TIME)
        self._since = waits.select(*_KEY, since=pl.coalesce("since", now))

    def _again(self, looked: pl.DataFrame) -> pl.DataFrame:
        """What was told and is seen otherwise."""
        before = self.net.select(*_KEY, *(pl.col(name).alias(f"{name}_told") for name in _SAYS))
        both = looked.filter(pl.col("held") & pl.col("settled")).join(
            before, on=_KEY, how="inner", nulls_equal=True, maintain_order="left"
        )
        figures = [_near(name, f"{name}_told") for name in ("measured", "limit")]
        same = [pl.col(name).eq_missing(pl.col(f"{name}_told")) for name in ("end", "certainty")]
        other = both.filter(~pl.all_horizontal(*figures, *same))
        return other.with_columns(
            told=pl.when("wanted").then(pl.lit(CHANGED)).otherwise(pl.lit(WITHDRAWN)),
            why=pl.when(~pl.col("wanted"))
            .then(pl.lit("with what came later it is only possible"))
            .when(pl.col("end") > pl.col("end_told"))
            .then(pl.lit("it went on"))
            .when(pl.col("certainty") != pl.col("certainty_told"))
            .then(pl.lit("what came later decides how certain it is"))
            .otherwise(pl.lit("what came later gives other figures")),
        )

    def _gone(self, looked: pl.DataFrame, seen: Seen) -> pl.DataFrame:
        """What was told and is seen no more."""
        told = self.net.join(looked.select(_KEY), on=_KEY, how="anti", nulls_equal=True, maintain_order="left")
        told = told.join(_settling(), on="pattern", how="left", maintain_order="left")
        if not seen.whole:
            before_s = (pl.col("start") - pl.lit(seen.begin).cast(schema.TIME)).dt.total_microseconds() / 1e6
            inside = (pl.col("rows").list.min() >= seen.row) & pl.lit(not seen.stepped)
            told = told.with_columns(before_s=before_s).filter(inside & self._is_for_part(seen))
        return told.with_columns(
            told=pl.lit(WITHDRAWN),
            why=pl.lit("with what came later it is none"),
            going_on=pl.lit(value=False),
            age_s=pl.lit(0.0),
        )


_TOLD: Final = ["told", "why", "going_on", "age_s", *schema.OCCURRENCES.columns, "n"]


def _empty() -> pl.DataFrame:
    return schema.OCCURRENCES.empty().with_columns(n=pl.lit(0, pl.UInt32))


def _later(instant: str, by_s: pl.Expr) -> pl.Expr:
    """An instant so many seconds later; null where they are infinite."""
    return pl.col(instant) + pl.duration(microseconds=pl.when(by_s.is_finite()).then(by_s * 1e6).cast(pl.Int64))


def _near(one: str, other: str) -> pl.Expr:
    """Whether two figures are the same, or both missing."""
    a, b = pl.col(one), pl.col(other)
    close = (a - b).abs() <= _NEAR * pl.max_horizontal(pl.lit(1.0), a.abs())
    return pl.when(a.is_null() | b.is_null()).then(a.is_null() & b.is_null()).otherwise(close)


def _settling() -> pl.DataFrame:
    """pattern, look_back_s, settles_s of every pattern."""
    known = patterns.catalogue().values()
    return pl.DataFrame(
        {
            "pattern": [one.name for one in known],
            "look_back_s": [one.look_back_s for one in known],
            "settles_s": [one.settles_s for one in known],
        },
        schema={"pattern": pl.String, "look_back_s": pl.Float64, "settles_s": pl.Float64},
    )
