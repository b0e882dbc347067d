"""The cells of a workbook, sheet by sheet, as texts.

The sizes in an older workbook (xls, xlsb) and in one of the open kind cannot be looked at beforehand, and the reader
takes its process down where one is absurd. So these are read in a process of their own whose memory is bounded:

    python -m eventlens.reading.formats._sheet_cells BOOK FOLDER
"""

from __future__ import annotations

import contextlib
import json
import subprocess
import sys
import zipfile
from pathlib import Path
from typing import Any, Final

import polars as pl

from eventlens.errors import ReadingError
from eventlens.reading.formats._bounds import LONGEST_QUERY_S, MOST_SHEET_GB

_NAMES: Final = "names.json"


class Book:
    """A workbook that is read in this process; every fault of its reader is a ReadingError."""

    def __init__(self, path: Path) -> None:
        import fastexcel

        self.path = path
        self._is_open = is_open_document(path)
        self._book = self._try(lambda: fastexcel.read_excel(str(path)))
        self.sheets: list[str] = self._try(lambda: list(self._book.sheet_names))

    def cells(self, sheet: str) -> pl.DataFrame:
        """The cells of a sheet as texts, columns named 0, 1, ...; blank rows at the end are left out."""
        frame = self._load(sheet, "string")
        if self._is_open and any(column.null_count() for column in frame.iter_columns()):
            # times of day are durations there, which never become texts by themselves
            frame = _with_clocks(frame, self._load(sheet, "duration"))
        frame = frame.rename(dict(zip(frame.columns, map(str, range(frame.width)), strict=True)))
        if not frame.width:
            return frame
        filled = frame.select(at=pl.any_horizontal(pl.all().is_not_null()))["at"].arg_true()
        return frame.head(int(filled[-1]) + 1 if len(filled) else 0)

    def _load(self, sheet: str, kind: str) -> pl.DataFrame:
        frame: pl.DataFrame = self._try(
            lambda: self._book.load_sheet(sheet, header_row=None, skip_rows=0, dtypes=kind).to_polars()
        )
        return frame

    def _try(self, do: Any) -> Any:
        try:
            return do()
        except BaseException as fault:  # a panic of the reader is no Exception
            if isinstance(fault, KeyboardInterrupt | SystemExit | ReadingError | GeneratorExit):
                raise
            raise _fault(str(fault), self.path) from None


class SeparateBook:
    """A workbook that is read in a process of its own."""

    def __init__(self, path: Path, folder: Path) -> None:
        self.path, self._folder = path, folder
        command = [sys.executable, "-m", __name__, str(path), str(folder), str(MOST_SHEET_GB)]
        try:
            done = subprocess.run(command, capture_output=True, text=True, timeout=LONGEST_QUERY_S, check=False)
        except subprocess.TimeoutExpired:
            got = f"one that takes longer than {LONGEST_QUERY_S:g} s"
            raise ReadingError("a spreadsheet", got, "save the sheet as text", file=path) from None
        try:
            said = json.loads((folder / _NAMES).read_text())
        except (OSError, ValueError):
            got = f"one at which its reader stops ({done.returncode}): damaged, or larger than {MOST_SHEET_GB:g} GB"
            raise ReadingError("a whole spreadsheet", got, "save it again, or as text", file=path) from None
        if isinstance(said, str):
            raise _fault(said, path)
        self.sheets: list[str] = said

    def cells(self, sheet: str) -> pl.DataFrame:
        """As Book.cells; ReadingError for a sheet that could not be read."""
        place = self._folder / f"{self.sheets.index(sheet)}.arrow"
        if not place.exists():
            raise _fault("the sheet has no cells", self.path)
        return pl.read_ipc(place.read_bytes())


def _fault(text: str, path: Path) -> ReadingError:
    if "assword" in text or "ncrypt" in text:
        return ReadingError("a spreadsheet without a password", "an encrypted one", "save it without", file=path)
    got = f"one that cannot be read ({(text.splitlines() or ['damaged'])[0][:100]})"
    return ReadingError("a whole spreadsheet", got, "save it again", file=path)


def is_open_document(path: Path) -> bool:
    """Whether the file says that it is a spreadsheet of the open kind."""
    wanted = b"application/vnd.oasis.opendocument.spreadsheet"
    try:
        with zipfile.ZipFile(path) as archive, archive.open("mimetype") as file:
            return file.read(len(wanted)) == wanted
    except Exception:  # no archive, or a damaged one
        return False


def _with_clocks(frame: pl.DataFrame, spans: pl.DataFrame) -> pl.DataFrame:
    """The texts with times of day in the cells that are nothing but a span of time."""
    filled = []
    for text, span in zip(frame.iter_columns(), spans.iter_columns(), strict=True):
        ms = pl.lit(span.dt.total_milliseconds())
        parts = [ms // 3_600_000, ms // 60_000 % 60, ms // 1000 % 60, ms % 1000]
        digits = [part.cast(pl.String).str.zfill(width) for part, width in zip(parts, (2, 2, 2, 3), strict=True)]
        clock = pl.concat_str([digits[0], digits[1], pl.concat_str(digits[2:], separator=".")], separator=":")
        filled.append(pl.coalesce(pl.lit(text), clock).alias(text.name))
    return pl.select(filled)


def _bound_memory(most_gb: float) -> None:
    with contextlib.suppress(ImportError, ValueError, OSError):  # not every system has this
        import resource

        most = round(most_gb * 1e9)
        resource.setrlimit(resource.RLIMIT_AS, (most, most))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def main(book: Path, folder: Path, most_gb: float) -> None:
    """Writes the cells of each sheet into the folder, and last the names of the sheets, or what is wrong."""
    _bound_memory(most_gb)
    try:
        found = Book(book)
        for at, sheet in enumerate(found.sheets):
            with contextlib.suppress(ReadingError):  # a sheet of charts only
                found.cells(sheet).write_ipc(folder / f"{at}.arrow")
        said: str | list[str] = found.sheets
    except ReadingError as fault:
        said = fault.got
    (folder / _NAMES).write_text(json.dumps(said))


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]), float(sys.argv[3]))
