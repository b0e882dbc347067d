"""Where output goes: stdout for data, stderr for the rest, files only where they can be written."""

from __future__ import annotations

import io
import os
import shutil
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Final, NoReturn

import typer

from eventlens.errors import EventlensError

if TYPE_CHECKING:
    from eventlens.report.lines import Line

STDOUT: Final = "-"
"""What `--json` is given for stdout."""
PIPED_WIDTH: Final = 80
WIDEST: Final = 110
"""Lines longer than this are hard to read, however wide the terminal is."""
READER_GONE: Final = 141
"""Exit status when nobody reads stdout any more (128 + SIGPIPE)."""
STYLES: Final = {
    "": "",
    "heading": "bold",
    "out_of_service": "bold red",
    "repair": "red",
    "watch": "yellow",
    "note": "cyan",
}


def tolerate_any_character() -> None:
    """Lets stdout and stderr write what their encoding lacks as escapes: names in a log may hold anything."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def width() -> int:
    """Columns that text on stdout may use."""
    if not sys.stdout.isatty():
        return PIPED_WIDTH
    return min(shutil.get_terminal_size((PIPED_WIDTH, 24)).columns, WIDEST)


def emit(text: str) -> None:
    """Writes text to stdout."""
    with _reader():
        sys.stdout.write(text)
        sys.stdout.flush()


def emit_bytes(data: bytes) -> None:
    """Writes bytes to stdout as they are, whatever its encoding."""
    with _reader():
        sys.stdout.flush()
        sys.stdout.buffer.write(data)
        sys.stdout.flush()


def show(lines: Iterable[Line]) -> None:
    """Writes lines to stdout; with their styles on a terminal, plain otherwise."""
    if not sys.stdout.isatty():
        emit("".join(f"{line.text}\n" for line in lines))
        return
    from rich.console import Console
    from rich.text import Text

    console = Console(highlight=False, soft_wrap=True)
    with _reader():
        for line in lines:
            console.print(Text(line.text, style=STYLES[line.style]))


def say(text: str) -> None:
    """Writes a line to stderr."""
    typer.echo(text, err=True)


def flush() -> None:
    """Writes out what stdout still holds; quiet when nobody reads it any more."""
    try:
        sys.stdout.flush()
    except BrokenPipeError:
        _forget_stdout()


@contextmanager
def _reader() -> Iterator[None]:
    try:
        yield
    except BrokenPipeError:
        _reader_gone()


def _reader_gone() -> NoReturn:
    _forget_stdout()
    raise typer.Exit(READER_GONE) from None


def _forget_stdout() -> None:
    """Points stdout at nothing, so that the interpreter's own last flush has nobody to complain to."""
    with suppress(OSError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


@contextmanager
def progress(*, quiet: bool = False) -> Iterator[Callable[[str], None]]:
    """A function that takes the name of each stage; shown on stderr while it lasts, only on a terminal."""
    if quiet or not sys.stderr.isatty():
        yield lambda stage: None
        return
    from rich.console import Console
    from rich.text import Text

    with Console(stderr=True).status(Text("starting ...")) as status:
        yield lambda stage: status.update(Text(f"{stage} ..."))  # text: a stage's name holds no markup


def check_target(option: str, path: Path, inputs: Iterable[Path]) -> None:
    """EventlensError unless a file could be written at path; asked before the work, not after it.

    A file that is there is overwritten, but never one of the inputs: a log is evidence.
    """
    if not path.parent.is_dir():
        raise EventlensError(
            f"a folder that exists for {option}", f"'{path.parent}'", "create it, or name another one", file=path
        )
    if path.is_dir():
        raise EventlensError(f"a file for {option}", "a folder", "add a file name", file=path)
    if path.exists() and any(given.exists() and path.samefile(given) for given in inputs):
        raise EventlensError(f"a file of its own for {option}", "one of the inputs", "name another file", file=path)


@contextmanager
def writing(option: str, path: Path) -> Iterator[None]:
    """Turns a refusal of the file system into one sentence; option says what asked for the path."""
    try:
        yield
    except OSError as fault:
        got = fault.strerror or str(fault)
        raise EventlensError(f"a place that can be written for {option}", got, "name another one", file=path) from None


def target_of(json: str | None, inputs: Iterable[Path]) -> Path | None:
    """The file that `--json` names, asked for before the work; None for stdout, and where nothing is asked."""
    target = Path(json) if json and json != STDOUT else None
    if target:
        check_target("--json", target, inputs)
    return target


def give(data: str, report: Callable[[], None], json: str | None, *, quiet: bool) -> None:
    """The result as `--json` asks: data in a file beside the report, or on stdout instead of it."""
    if json == STDOUT:
        emit_bytes(data.encode())
        return
    if json:
        with writing("--json", Path(json)):
            Path(json).write_bytes(data.encode())
    if not quiet:
        report()
