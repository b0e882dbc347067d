"""The overload device: when in a lift it trips, at which load, and whether its reading is steady."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

import polars as pl

from eventlens.causes.complaints import Complaint
from eventlens.causes.courses import LEAST_DAYS, changes, empty_reading
from eventlens.causes.evidence._presence import presence
from eventlens.causes.signs import ABSENT, Sign, lines, share_factor
from eventlens.causes.subject import inside
from eventlens.motion.near import seconds

LIGHT: Final = 0.85
"""A trip below this share of the rated load, not by a snatch, is a trip with a light load (common practice: devices are
set to 1.1 to 1.25 of it) ..."""
EMPTY: Final = 0.15
"""... and below this one is so even in the first moment of a raise (judgement)."""
RATED: Final = 1.0
FLICKER_S: Final = 0.5
"""A trip that is over so soon flickers [s] (judgement): a load cannot be let down in that time."""
ZERO: Final = 0.02
"""Change of the empty reading that matters, as a share of the rated load (judgement)."""
TRIPS: Final = ("overload_trip", "overload_snatch", "overload_repeat")


def signs(complaint: Complaint) -> Iterator[Sign]:
    """What the log says of the overload device."""
    subject = complaint.subject
    if complaint.motion not in (None, "hoist") or complaint.question.key in ("falls_together", "commands", "record"):
        return
    if "rope.slack" in subject.carried:
        slack = subject.on("rope.slack").filter("start_seen")
        text = f"slack rope {slack.height} x"
        yield Sign("slack_rope", 20.0 if slack.height else ABSENT, text, lines(slack["start_row"]))
    if "overload.trip" not in subject.carried:
        return
    yield from presence(complaint, "overload_never", ["overload_no_trip"])
    yield from _flicker(complaint)
    trips = subject.on("overload.trip").filter("start_seen").select("start_row", at="start")
    if complaint.question.key != "overload" or trips.is_empty():
        return
    yield from _when(complaint, trips)
    yield from _load(complaint, trips)


def _flicker(complaint: Complaint) -> Iterator[Sign]:
    """Chatter of the device, or trips that are over at once: a real one stays until the load is let down."""
    subject = complaint.subject
    chatter = presence(complaint, "overload_flicker", ["chatter"], ends=r"overload\.\w+", motion=False)
    trips = subject.on("overload.trip").filter(pl.col("start_seen") & pl.col("end_seen"))
    brief = trips.filter(seconds("end", "start") < FLICKER_S)
    brief_share = share_factor(brief.height, trips.height, 0.1, 0.7)
    text = f"{brief.height} of {trips.height} trips over within {FLICKER_S:g} s"
    for sign in chatter:
        yield (
            replace(sign, factor=brief_share, text=text, rows=lines(brief["start_row"]))
            if (brief_share > sign.factor)
            else sign
        )


def _when(complaint: Complaint, trips: pl.DataFrame) -> Iterator[Sign]:
    """Trips in the first moment of a raise, well into it, and not while raising at all."""
    subject, step = complaint.subject, complaint.subject.log.step_s
    n = trips.height
    raising = subject.runs_of("hoist").filter(pl.col("direction") == "raise")
    lifting = trips.filter(inside(trips, raising, step, 2 * step + 0.3))
    snatched = subject.found(["overload_snatch"]).height
    late = max(lifting.height - snatched, 0)
    other = n - lifting.height
    rows = lines(trips["start_row"])
    yield Sign(
        "overload_early",
        share_factor(snatched, n, 0.25, 0.85),
        f"{snatched} of {n} trips in the first moment of a raise",
        rows,
    )
    yield Sign("overload_mid_lift", share_factor(late, n, 0.3, 0.8), f"{late} of {n} trips well into a raise", rows)
    yield Sign(
        "overload_not_lifting",
        share_factor(other, n, 0.05, 0.4),
        f"{other} of {n} trips while nothing was raised",
        rows,
    )


def _load(complaint: Complaint, trips: pl.DataFrame) -> Iterator[Sign]:
    """The load at the trips, how high loads go at all, and the reading of the empty hook."""
    subject = complaint.subject
    load = subject.load
    if load is None or not load.rated:
        return
    at = trips.sort("at").join_asof(load.steps.sort("start").select("start", "ratio"), left_on="at", right_on="start")
    empty = empty_reading(subject, load.steps)
    at = at.with_columns(date=subject.local_day("at")).join(empty.select("date", "value"), on="date", how="left")
    # what hangs there is the reading less that of the empty hook, which may have drifted
    known = at.with_columns(ratio=pl.col("ratio") - pl.col("value").fill_null(0.0)).drop_nulls("ratio")
    if known.height:
        snatched = inside(known, subject.found(["overload_snatch"]).select("start", "end").sort("start"))
        light = known.filter(pl.col("ratio") < pl.when(snatched).then(EMPTY).otherwise(LIGHT))
        text = f"{light.height} of {known.height} trips clearly below the rated load, and not by a snatch"
        yield Sign(
            "overload_when_light", share_factor(light.height, known.height, 0.15, 0.7), text, lines(light["start_row"])
        )
        high = known.filter(pl.col("ratio") >= RATED)
        heavy = high.height
        text = f"{heavy} of {known.height} trips at the rated load or above"
        yield Sign("load_high", share_factor(heavy, known.height, 0.2, 0.85), text, lines(high["start_row"]))
    if empty.height >= LEAST_DAYS:
        found = changes(empty, ZERO)
        text = f"empty hook reads {empty['value'][0]:.1%} on the first day, {empty['value'][-1]:.1%} on the last"
        yield Sign("zero_drift", max(found["drift up"], found["step up"], found["drift down"]), text)
