"""Options that several commands share."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer


class Severity(StrEnum):
    """schema.SEVERITIES, the most serious first; written again because a help text must not load the tables."""

    out_of_service = "out_of_service"
    repair = "repair"
    watch = "watch"
    note = "note"


class Paper(StrEnum):
    """report.document.PAPERS; written again as above."""

    a4 = "a4"
    letter = "letter"


class Language(StrEnum):
    """report.document.languages(); written again as above."""

    en = "en"
    de = "de"


Logs = Annotated[list[Path], typer.Argument(metavar="LOG", help="A dump, or the parts of one in any order.")]
Profile = Annotated[Path | None, typer.Option(metavar="FILE", help="How the dump is read (TOML).")]
Machine = Annotated[Path | None, typer.Option(metavar="FILE", help="What the machine is and may do (TOML).")]
Rejects = Annotated[
    Path | None,
    typer.Option(metavar="FILE", help="Also write the rows that were set aside as CSV: file, line, reason, text."),
]
Strict = Annotated[bool, typer.Option("--strict", help="Stop at the first row that is set aside (status 1).")]
Json = Annotated[
    str | None, typer.Option(metavar="FILE", help="Write the review as JSON; - is stdout, without the report.")
]
FailOn = Annotated[
    Severity | None, typer.Option(help="Exit with status 3 on a finding of this severity or a worse one.")
]
Show = Annotated[
    list[str] | None,
    typer.Option(
        "--show", metavar="PATTERN[:N]", help="Draw the signals around the Nth occurrence instead of the report."
    ),
]
Report = Annotated[
    Path | None,
    typer.Option("--report", metavar="FILE", help="Write the report to hand over; FILE ends in .html or .pdf."),
]
PaperSize = Annotated[Paper, typer.Option("--paper", help="Paper of the report.")]
ReportLanguage = Annotated[Language, typer.Option("--language", help="Language of the report.")]
ReportSections = Annotated[
    str | None,
    typer.Option(
        "--sections",
        metavar="NAME,...",
        help="Of the sections that a report may be without only these: evidence, causes, checks, duty, work, life, "
        "clear, quality, method, limits. Dangers, findings, cautions, what could not be assessed and hashes always "
        "stay.",
    ),
]
Quiet = Annotated[bool, typer.Option("--quiet", help="No report and no progress.")]
Checked = Annotated[
    list[str] | None,
    typer.Option(
        "--checked",
        metavar="CHECK=OUTCOME",
        help="What a check on the machine showed, as relay_seat=negative; again for each, in their order.",
    ),
]
Knowledge = Annotated[
    Path | None,
    typer.Option(metavar="FILE", help="Causes, evidence and checks of your own (TOML); they replace or add."),
]
