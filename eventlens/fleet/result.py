"""What a run over a fleet comes to: tables, and their JSON form (contract 1)."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any, Final

import polars as pl

from eventlens.contract import CONTRACT
from eventlens.schema import SEVERITIES, SEVERITY, Column, Table

_TEXT: Final = pl.String()
_COUNT: Final = pl.UInt32()

MACHINES: Final = Table(
    "fleet_machines",
    {
        "machine": Column(_TEXT, "which machine"),
        "periods": Column(_COUNT, "periods in which it may have log"),
        "made": Column(_COUNT, "reviewed in this run, those without a review among them"),
        "kept": Column(_COUNT, "there already, and resting on nothing that has changed"),
        "silent": Column(_COUNT, "in which nothing was recorded"),
        "failed": Column(_COUNT, "of which there is no review, see errors"),
        **{name: Column(_COUNT, f"findings of severity {name}: patterns of a motion or signal") for name in SEVERITIES},
    },
    sort=("machine",),
)
FINDINGS: Final = Table(
    "fleet_findings",
    {
        "machine": Column(_TEXT, "which machine"),
        "severity": Column(SEVERITY, "the most serious one that it has in any period"),
        "pattern": Column(_TEXT, "name of the pattern"),
        "motion": Column(_TEXT, "which motion", True),
        "signal": Column(_TEXT, "which signal, where it is about one", True),
        "count": Column(pl.Int64(), "occurrences in all periods"),
        "certain_count": Column(pl.Int64(), "those that are certain"),
        "periods": Column(_COUNT, "periods with it"),
        "first": Column(_TEXT, "first occurrence, RFC 3339 with offset"),
        "last": Column(_TEXT, "end of the last one"),
    },
)
"""Sorted by machine, and of each the most serious first: by severity, then by how many are certain, then by count."""
ERRORS: Final = Table(
    "fleet_errors",
    {
        "machine": Column(_TEXT, "which machine"),
        "period": Column(_TEXT, "which period; empty: all of the machine"),
        "why": Column(_TEXT, "one sentence"),
    },
    sort=("machine", "period"),
)


@dataclass(frozen=True)
class Fleet:
    """Every machine of an archive, reviewed."""

    period: str
    """week, month, all or FROM..TO."""
    machines: pl.DataFrame
    """MACHINES."""
    findings: pl.DataFrame
    """FINDINGS."""
    errors: pl.DataFrame
    """ERRORS."""
    cautions: tuple[str, ...]

    def to_json(self, *, indent: int | None = 2) -> str:
        """As JSON; the same archive after the same work gives the same text, byte for byte."""
        return json.dumps(self.to_dict(), indent=indent, ensure_ascii=False, allow_nan=False) + "\n"

    def to_dict(self) -> dict[str, Any]:
        """Plain dictionaries, lists, numbers and texts."""
        worst = {row["machine"]: row for row in self.most_serious().to_dicts()}
        return {
            "contract": CONTRACT,
            "period": self.period,
            "machines": [
                {**row, "most_serious": worst.get(row["machine"])} for row in self.machines.iter_rows(named=True)
            ],
            "findings": self.findings.to_dicts(),
            "errors": self.errors.to_dicts(),
            "cautions": list(self.cautions),
        }

    def most_serious(self) -> pl.DataFrame:
        """FINDINGS, of each machine the first."""
        return self.findings.unique("machine", keep="first", maintain_order=True)

    def at_least(self, severity: str) -> pl.DataFrame:
        """FINDINGS of this severity or a worse one."""
        return self.findings.filter(pl.col("severity") <= pl.lit(severity, SEVERITY))
