"""`eventlens dashboard`: the web pages, served to this computer, or with a password to others."""

from __future__ import annotations

import re
import signal
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Annotated, Any, Final, NoReturn

import typer

from eventlens.cli import options, serving
from eventlens.cli.console import progress, say
from eventlens.cli.password import hash_in
from eventlens.errors import EventlensError

_ADDRESS: Final = re.compile(r"[a-z][a-z0-9+.-]+:/")
"""How an address of an object store begins; a path folds its second slash."""

Shown = Annotated[
    list[Path] | None,
    typer.Argument(
        metavar="ARCHIVE or LOG", help="An archive; or a dump, or the parts of one in any order; or NAME.follow."
    ),
]


def dashboard(
    shown: Shown = None,
    profile: options.Profile = None,
    machine: options.Machine = None,
    port: Annotated[int, typer.Option(min=0, max=65535, help="Port; 0 takes any that is free.")] = 8050,
    host: Annotated[
        str, typer.Option(help="Address to listen on; any but this computer's own needs --password.")
    ] = "127.0.0.1",
    password: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Hash of the password, from 'eventlens password FILE'.")
    ] = None,
    keep: Annotated[
        Path | None,
        typer.Option(metavar="FOLDER", help="Where dumps lie that are brought in; else your own data."),
    ] = None,
    visitors_add: Annotated[
        bool,
        typer.Option("--visitors-add", help="With --password: visitors may add what they bring in to the archive."),
    ] = False,
    demo: Annotated[
        bool, typer.Option("--demo", help="Show six invented hoists over twelve weeks, in a temporary folder.")
    ] = False,
) -> None:
    """Show an archive, a log, or what is brought in, as web pages.

    \b
    Example:
      eventlens dashboard
      eventlens dashboard history
      eventlens dashboard monday.csv --machine saw-3.toml
      eventlens dashboard saw-3.csv.follow
      eventlens dashboard --demo
    """
    paths = shown or []
    if demo and paths:
        raise EventlensError("an archive, a log, or --demo", "both", "choose")
    host = "127.0.0.1" if host == "localhost" else host  # the name may stand for two addresses
    serving.check_host(host, password)
    password_hash = hash_in(password) if password else None
    create_app = _pages()
    # a port that is taken is told before the review, not after it
    with serving.listening(host, port) as listener, _folder(needed=demo) as folder, ExitStack() as ends:
        brought = serving.folder_for_dumps(keep or (folder / "brought" if folder else None))
        made = partial(create_app, folder=brought, password_hash=password_hash, visitors_add=visitors_add)
        with progress() as tell:
            if folder is not None:
                app = _demonstration(made, folder, ends)
            else:
                app = _app(made, paths, profile, machine, tell)
        serving.serve(app, listener)


@contextmanager
def _folder(*, needed: bool) -> Iterator[Path | None]:
    """A folder for the demonstration that is gone when the pages are."""
    if not needed:
        yield None
        return
    before = signal.signal(signal.SIGTERM, _ends)
    try:
        with TemporaryDirectory(prefix="eventlens-") as name:
            yield Path(name)
    finally:
        signal.signal(signal.SIGTERM, before)


def _ends(*_: object) -> NoReturn:
    """Whoever stops the program from outside must not leave the folder behind."""
    raise SystemExit(0)


def _app(
    create_app: Callable[..., Any],
    paths: Sequence[Path],
    profile: Path | None,
    machine: Path | None,
    tell: Callable[[str], None],
) -> Any:
    """The application for an archive, a log, or for whatever is brought in."""
    import eventlens

    if _is_archive(paths):
        if profile or machine:
            raise EventlensError(
                "an archive alone", "also --profile or --machine", "leave it out: the archive holds its own"
            )
        return _of_folder(create_app, str(paths[0]), tell)
    if not paths:
        if profile or machine:
            raise EventlensError("a log for --profile and --machine", "none", "name it, or bring a dump in on the page")
        return create_app(None)
    found = eventlens.review(paths, profile, machine, progress=tell)
    tell("pages")
    return create_app(found)


def _of_folder(create_app: Callable[..., Any], given: str, tell: Callable[[str], None]) -> Any:
    """The application for an archive, or for a folder into which somebody follows."""
    import eventlens
    from eventlens.live import word

    if word.is_state(Path(given)):
        return create_app(word.StateFolder(Path(given)))
    kept = eventlens.Archive(given)
    if any(kept.version()) or not word.boards(Path(kept.address)):  # else what is followed is not in it yet
        kept.bring_up_to_date(progress=tell)
    tell("pages")
    return create_app(kept)


def _demonstration(create_app: Callable[..., Any], folder: Path, ends: ExitStack) -> Any:
    """The application for the demonstration, which may still be built when its pages are served."""
    from eventlens.cli import demo

    made = demo.Demonstration(folder, cache=demo.cache_folder())
    ends.callback(made.stop)
    made.start()
    if made.stage() is not None:
        say("eventlens: the demonstration is built while its pages are served; the next time it is there at once")
    return create_app(made.archive, demonstration=True, building=made)


def _is_archive(paths: Sequence[Path]) -> bool:
    """A folder or an address of an object store; dumps are files."""
    return len(paths) == 1 and (paths[0].is_dir() or bool(_ADDRESS.match(str(paths[0]))))


def _pages() -> Callable[..., Any]:
    """The function that makes the web application, found by entry point."""
    from importlib.metadata import entry_points

    found = list(entry_points(group="eventlens.pages", name="dashboard"))
    if not found:
        raise EventlensError(
            "the web pages (entry point 'dashboard' of 'eventlens.pages')", "none", "install eventlens with its pages"
        )
    return found[0].load()  # type: ignore[no-any-return]
