"""`eventlens dashboard`: the web pages, served to this computer only."""

from __future__ import annotations

import ipaddress
from collections.abc import Callable
from socket import AF_INET, AF_INET6, create_server, socket
from typing import TYPE_CHECKING, Annotated, Any

import typer

from eventlens.cli import options
from eventlens.cli.console import progress, say
from eventlens.errors import EventlensError

if TYPE_CHECKING:
    from eventlens.result import Review

THREADS = 4
"""Pages are small and few people look at once."""


def dashboard(
    logs: options.Logs,
    profile: options.Profile = None,
    machine: options.Machine = None,
    port: Annotated[int, typer.Option(min=0, max=65535, help="Port; 0 takes any that is free.")] = 8050,
    host: Annotated[str, typer.Option(help="Address to listen on; only this computer's own.")] = "127.0.0.1",
) -> None:
    """Review, and show it as web pages to this computer only.

    \b
    Example:
      eventlens dashboard monday.csv --machine saw-3.toml
    """
    import eventlens

    host = "127.0.0.1" if host == "localhost" else host  # the name may stand for two addresses
    _only_here(host)
    create_app = _pages()
    with _listening(host, port) as listener:  # a port that is taken is told before the review, not after it
        with progress() as tell:
            found = eventlens.review(logs, profile, machine, progress=tell)
            tell("pages")
            app = create_app(found)
        _serve(app, listener)


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


def _pages() -> Callable[[Review], Any]:
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
