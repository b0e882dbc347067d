"""The sum of what is stored: of each machine its findings over all periods. It says what anybody else would read there.

The reviews of a few machines are held at a time.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Any, Final

import polars as pl

from eventlens import cautions
from eventlens.archive.weeks import SILENT, stored
from eventlens.fleet.result import ERRORS, FINDINGS, MACHINES, Fleet
from eventlens.fleet.tasks import Fault, Plan
from eventlens.schema import SEVERITIES, SEVERITY

KEY: Final = ("pattern", "motion", "signal")
AT_ONCE: Final = 60
"""Reviews that are read together: a megabyte or less each, and to ask for them takes as long as for one."""
_TOLD: Final = pl.Struct(
    {
        "findings": pl.List(
            pl.Struct(
                {
                    **dict.fromkeys((*KEY, "severity", "first", "last"), pl.String),
                    **dict.fromkeys(("count", "certain_count"), pl.Int64),
                }
            )
        )
    }
)
"""The part of a stored review (contract 1) that is read here."""


def summed(plan: Plan, made: Counter[str], passing: Sequence[Fault]) -> Fleet:
    """The fleet after a run. made: periods done in it; passing: faults that were not stored."""
    name = plan.table.sort[1]
    rows, findings, errors = [], [FINDINGS.empty()], [*passing]
    for machines in _together(plan):
        every = stored(plan.lake, machines, ("machine", name, "review", "why"), plan.table).rename({name: "period"})
        for machine in machines:
            failed_now = {fault.period for fault in passing if fault.machine == machine}
            names = list(set(plan.wanted[machine]) - failed_now)
            kept = every.filter(pl.col("machine") == machine, pl.col("period").is_in(names))
            failed = kept.filter(pl.col("why") != SILENT)
            errors += [Fault(machine, *row) for row in failed.select("period", "why").iter_rows()]
            findings.append(_findings(kept))
            rows.append(
                {
                    "machine": machine,
                    "periods": len(plan.wanted[machine]),
                    "made": made[machine],
                    "kept": kept.height - made[machine],
                    "silent": (kept["why"] == SILENT).sum(),
                    "failed": failed.height + len(failed_now),
                    **_by_severity(findings[-1]),
                }
            )
    unplanned = [fault.machine for fault in passing if fault.machine not in plan.wanted]
    rows += [{**dict.fromkeys(MACHINES.columns, 0), "machine": machine, "failed": 1} for machine in unplanned]
    told = [vars(fault) for fault in errors]
    return Fleet(
        plan.period,
        MACHINES.check(pl.DataFrame(rows, schema=MACHINES.schema).sort(MACHINES.sort)),
        FINDINGS.check(pl.concat(findings)),
        ERRORS.check(pl.DataFrame(told, schema=ERRORS.schema).sort(ERRORS.sort)),
        cautions.GENERAL,
    )


def _together(plan: Plan) -> Iterator[list[str]]:
    """Machines whose reviews are read at once: one at least, else as many as have not more than AT_ONCE periods."""
    part: list[str] = []
    for machine in sorted(plan.wanted):
        if part and sum(len(plan.wanted[one]) for one in (*part, machine)) > AT_ONCE:
            yield part
            part = []
        part.append(machine)
    if part:
        yield part


def _findings(kept: pl.DataFrame) -> pl.DataFrame:
    """FINDINGS of one machine, from its reviews."""
    told = kept.select("machine", pl.col("review").str.json_decode(_TOLD).struct.field("findings"))
    each = told.filter(pl.col("findings").list.len() > 0).explode("findings").unnest("findings")
    return (
        each.with_columns(pl.col("severity").cast(SEVERITY))
        .group_by("machine", *KEY)
        .agg(
            pl.col("severity").min(),
            pl.col("count", "certain_count").sum(),
            pl.len().cast(FINDINGS.schema["periods"]).alias("periods"),
            pl.col("first").first(),  # reviews are sorted by period
            pl.col("last").last(),
        )
        .sort("severity", -pl.col("certain_count"), -pl.col("count"), *KEY)
        .select(*FINDINGS.columns)
    )


def _by_severity(findings: pl.DataFrame) -> dict[str, Any]:
    return {name: (findings["severity"] == name).sum() for name in SEVERITIES}
