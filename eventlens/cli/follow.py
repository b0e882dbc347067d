"""`eventlens follow`: a machine as it runs."""

from __future__ import annotations

import re
import signal
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from eventlens.cli import options
from eventlens.cli.console import STDOUT, check_target, emit, emit_bytes, say, show, target_of, writing
from eventlens.errors import EventlensError

if TYPE_CHECKING:
    from eventlens.live import Board, Follower, Listener, Message
    from eventlens.result import Review

POLL_S = 0.5
"""So long one wait for more lasts at most [s]; then it is seen whether to end."""

Source = Annotated[
    str, typer.Argument(metavar="SOURCE", help="A log that grows (its path), or the address of a source.")
]
Machine = Annotated[
    str | None,
    typer.Option(metavar="FILE or ID", help="What the machine is and may do (TOML); with --archive its name will do."),
]
State = Annotated[
    Path | None,
    typer.Option(metavar="FOLDER", help="What must survive a restart; else NAME.follow where the command is run."),
]
ArchiveAt = Annotated[
    str | None, typer.Option("--archive", metavar="ARCHIVE", help="Everything that was followed goes there too.")
]
Findings = Annotated[
    str | None,
    typer.Option(
        metavar="FILE or ADDRESS",
        help="Write what is told as JSON lines: a file, mqtt://host/topic, or - for stdout, without those for people.",
    ),
]
Wait = Annotated[
    float | None,
    typer.Option(
        metavar="SECONDS",
        min=0.0,
        help="Records that come so late are put in place; else as it was begun, or late_s of the profile.",
    ),
]
UntilIdle = Annotated[
    float | None, typer.Option(metavar="SECONDS", min=0.0, help="End when nothing has come for so long.")
]
Possible = Annotated[bool, typer.Option("--possible", help="Tell also what is only possible.")]


def follow(
    source: Source,
    profile: options.Profile = None,
    machine: Machine = None,
    state: State = None,
    archive: ArchiveAt = None,
    findings: Findings = None,
    wait: Wait = None,
    until_idle: UntilIdle = None,
    json: options.Json = None,
    possible: Possible = False,
    quiet: options.Quiet = False,
) -> None:
    """Review a machine as it runs.

    Each finding is told as soon as it is certain. Ctrl-C ends it with the review of everything; the same command goes
    on where it ended. The page Live of 'eventlens dashboard ARCHIVE', or of the state folder, shows it meanwhile.

    \b
    Example:
      eventlens follow /var/log/saw-3.csv --machine saw-3.toml
      eventlens follow saw-3.csv --machine saw-3.toml --findings found.jsonl
      eventlens follow saw-3.csv --machine SAW-3 --archive history
      eventlens follow saw-3.csv --until-idle 60 --json review.json
      eventlens follow mqtt://broker.example --profile saw-3.toml
      eventlens follow saw-3.csv --findings mqtt://broker.example/quay/saw-3
      eventlens follow opc.tcp://server.example:4840 --profile saw-3.toml
    """
    inputs = [Path(path) for path in (None if _is_address(source) else source, profile, machine) if path]
    target = target_of(json, inputs)
    if findings and findings != STDOUT and not _is_address(findings):
        check_target("--findings", Path(findings), [*inputs, *([target] if target else [])])
    if findings == json == STDOUT:
        raise EventlensError("one thing on stdout", "--findings - and --json -", "name a file for one of them")
    if archive and machine is None:
        raise EventlensError("the machine whose record goes into the archive", "nothing", "name it with --machine")
    data = _followed(source, profile, machine, state, archive, findings, wait, until_idle, json, possible, quiet)
    if json == STDOUT:
        emit_bytes(data)
    elif target:
        with writing("--json", target):
            target.write_bytes(data)


def _followed(
    source: str,
    profile: Path | None,
    machine: str | None,
    state: Path | None,
    archive: str | None,
    findings: str | None,
    wait: float | None,
    until_idle: float | None,
    json: str | None,
    possible: bool,
    quiet: bool,
) -> bytes:
    """Follows until it is ended; the review of everything as JSON, where that is asked for."""
    from eventlens import live
    from eventlens.reading.profile import as_profile

    stated = as_profile(profile)
    state = state or Path(f"{_name_of(source)}.follow")
    note: Callable[[str], None] = (lambda sentence: None) if quiet else say
    silent = quiet or STDOUT in (findings, json)
    zone = stated.log.timezone or "UTC"
    wait, given = live.wait_of(state, wait, archived=archive is not None), wait
    if wait != given:
        note(f"Records up to {wait:g} s late are put in place, as when this was begun with --wait {wait:g}.")
    with _interrupts() as asked:  # before anything is on the disk: who asks to end then is answered too
        known = live.machine_in(machine, archive)
        profile = live.profile_with(profile, wait, state)
        opened = live.open_source(source, live.Following(stated, wait))
        board = live.Board(opened.name, state, known, zone=zone, archive=archive, profile=profile, note=note)
        listeners: list[Listener] = [board] if silent else [board, _People(zone)]
        if findings == STDOUT:
            listeners.append(_Stdout())
        elif findings:
            listeners.append(live.listener(findings, state, board.note))
        follower = live.Follower(
            opened,
            state,
            stated,
            known,
            wait_s=wait,
            possible=possible,
            listeners=listeners,
            note=board.note,
            keeper=live.Keeper(archive, machine, profile) if archive and machine else None,
        )
        board.begin(follower.course, stated.log.late_s if wait is None else wait)
        found = _until_the_end(follower, board, until_idle, asked)
    if found is None:
        if json:
            raise EventlensError("something to review", f"nothing from {source}", "check the source")
        return b""
    return found.to_json().encode() if json else b""


def _until_the_end(
    follower: Follower, board: Board, until_idle: float | None, asked: Callable[[], bool]
) -> Review | None:
    """Follows until somebody asks to end or nothing comes; the review of everything."""
    try:
        while follower.step(POLL_S) and not asked():
            if until_idle is not None and follower.idle_s >= until_idle:
                break
        return follower.finish()
    except BaseException as fault:
        board.failed(fault)
        raise
    finally:
        follower.close()


def _is_address(text: str) -> bool:
    return "://" in text and not text.startswith("file://")


def _name_of(source: str) -> str:
    """What a source is called among files: the name of a file, or host and path of an address."""
    if not _is_address(source):
        return Path(source).name
    return re.sub(r"[^\w.-]+", "-", source.partition("://")[2].rpartition("@")[2]).strip("-")


class _People:
    """Lines on stdout; the cautions once, before the first finding that sends somebody to the machine."""

    def __init__(self, timezone: str) -> None:
        self._timezone, self._warned = timezone, False

    def last(self) -> int | None:
        """A terminal forgets: only what is new is told."""
        return None

    def tell(self, messages: Sequence[Message]) -> None:
        """A line for each."""
        from eventlens.report import live

        lines = [live.line_of(message, self._timezone) for message in messages]
        if not self._warned and any(live.sends_to_the_machine(message) for message in messages):
            self._warned = True
            lines = [*live.cautions(), *lines]
        show(lines)

    def close(self) -> None:
        """Nothing is to be closed."""


class _Stdout:
    """Messages as JSON on stdout."""

    def last(self) -> int | None:
        """Nobody knows what a reader has kept: only what is new is told."""
        return None

    def tell(self, messages: Sequence[Message]) -> None:
        """A line for each."""
        import json

        from eventlens.live import as_json

        emit("".join(json.dumps(as_json(message)) + "\n" for message in messages))

    def close(self) -> None:
        """Nothing is to be closed."""


@contextmanager
def _interrupts() -> Iterator[Callable[[], bool]]:
    """Whether somebody asked to end. The first Ctrl-C, or a polite kill, lets what is being done be finished; the
    second does not wait."""
    asked = False

    def note(number: int, frame: object) -> None:
        nonlocal asked
        if asked:
            raise KeyboardInterrupt
        asked = True

    before = {number: signal.signal(number, note) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield lambda: asked
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
