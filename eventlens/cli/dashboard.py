"""`eventlens dashboard`: the web pages, served to this computer only."""

from __future__ import annotations

import ipaddress
import re
import signal
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from socket import AF_INET, AF_INET6, create_server, socket
from tempfile import TemporaryDirectory
from typing import Annotated, Any, Final, NoReturn

import typer

from eventlens.cli import options
from eventlens.cli.console import progress, say
from eventlens.errors import EventlensError

THREADS = 4
"""Pages are small and few people look at once."""
_ADDRESS: Final = re.compile(r"[a-z][a-z0-9+.-]+:/")
"""How an address of an object store begins; a path folds its second slash."""

Shown = Annotated[
    list[Path] | None,
    typer.Argument(metavar="ARCHIVE or LOG", help="An archive; or a dump, or the parts of one in any order."),
]


def dashboard(
    shown: Shown = None,
    profile: options.Profile = None,
    machine: options.Machine = None,
    port: Annotated[int, typer.Option(min=0, max=65535, help="Port; 0 takes any that is free.")] = 8050,
    host: Annotated[str, typer.Option(help="Address to listen on; only this computer's own.")] = "127.0.0.1",
    demo: Annotated[
        bool, typer.Option("--demo", help="Show six invented hoists over twelve weeks, in a temporary folder.")
    ] = False,
) -> None:
    """Show an archive or a log as web pages to this computer only.

    \b
    Example:
      eventlens dashboard history
      eventlens dashboard monday.csv --machine saw-3.toml
      eventlens dashboard --demo
    """
    paths = shown or []
    _one_thing(paths, demo=demo)
    host = "127.0.0.1" if host == "localhost" else host  # the name may stand for two addresses
    _only_here(host)
    create_app = _pages()
    # a port that is taken is told before the review, not after it
    with _listening(host, port) as listener, _folder(needed=demo) as folder:
        with progress() as tell:
            app = _app(create_app, paths, profile, machine, folder, tell)
        _serve(app, listener)


def _one_thing(paths: Sequence[Path], *, demo: bool) -> None:
    """EventlensError for nothing to show, or two things."""
    if demo == bool(paths):
        raise EventlensError(
            "an archive, a log, or --demo", "both" if demo else "nothing", "name what to show" if not demo else "choose"
        )


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
    folder: Path | None,
    tell: Callable[[str], None],
) -> Any:
    """The application for an archive, a log, or the demonstration in a folder."""
    import eventlens

    if folder is not None:
        from eventlens.cli import demo

        kept = demo.prepare(folder, tell)
    elif _is_archive(paths):
        if profile or machine:
            raise EventlensError(
                "an archive alone", "also --profile or --machine", "leave it out: the archive holds its own"
            )
        kept = eventlens.Archive(str(paths[0]))
    else:
        found = eventlens.review(paths, profile, machine, progress=tell)
        tell("pages")
        return create_app(found)
    kept.bring_up_to_date(progress=tell)
    tell("pages")
    return create_app(kept, demonstration=folder is not None)


def _is_archive(paths: Sequence[Path]) -> bool:
    """A folder or an address of an object store; dumps are files."""
    return len(paths) == 1 and (paths[0].is_dir() or bool(_ADDRESS.match(str(paths[0]))))


def _only_here(host: str) -> None:
    """EventlensError for an address that other computers could reach: the pages ask nobody who they are."""
    try:
        here = ipaddress.ip_address(host).is_loopback
    except ValueError:
        here = False
    if not here:
        raise EventlensError(
            "an address of this computer only, such as 127.0.0.1, for --host",
            f"'{host}'",
            "leave --host out: the pages have no password and are not meant for a network",
        )


def _pages() -> Callable[..., Any]:
    """The function that makes the web application, found by entry point."""
    from importlib.metadata import entry_points

    found = list(entry_points(group="eventlens.pages", name="dashboard"))
    if not found:
        raise EventlensError(
            "the web pages (entry point 'dashboard' of 'eventlens.pages')", "none", "install eventlens with its pages"
        )
    return found[0].load()  # type: ignore[no-any-return]


def _listening(host: str, port: int) -> socket:
    try:
        return create_server((host, port), family=AF_INET6 if ":" in host else AF_INET)
    except OSError as fault:
        raise EventlensError(
            f"a free port for --port on {host}", f"{port} ({fault.strerror or fault})", "name another one, or 0 for any"
        ) from None


def _serve(app: Any, listener: socket) -> None:
    """Answers until it is interrupted, which is the regular end."""
    import logging

    from waitress import create_server as create_web_server

    # a page asks for several things at once; that some of them wait a moment is nothing to tell a user
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    server = create_web_server(app.server, sockets=[listener], threads=THREADS, ident=None)
    host, port = listener.getsockname()[:2]
    say(f"eventlens: open http://{f'[{host}]' if ':' in host else host}:{port}/ in a browser; Ctrl-C ends it")
    server.run()
