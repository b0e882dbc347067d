"""Putting pages on an address: who can reach it, and what keeps one visitor from holding up the others."""

from __future__ import annotations

import ipaddress
import os
from pathlib import Path
from socket import AF_INET, AF_INET6, create_server, gaierror, socket
from typing import Any, Final

from eventlens.cli.console import say
from eventlens.errors import EventlensError

THREADS: Final = 8
"""A browser asks for some six files at once when it opens a page."""
MOST_BYTES: Final = (1 << 30) + (1 << 20)
"""Largest request: a dump of 1 GiB, and what stands around it."""
SILENT_S: Final = 120
"""A connection over which nothing comes for so long is closed (waitress' own default)."""
CONNECTIONS: Final = 100
"""Open at once; more wait (waitress' own default)."""


def is_own(host: str) -> bool:
    """Whether an address is reached from this computer only."""
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def check_host(host: str, password: Path | None) -> None:
    """EventlensError for an address that other computers can reach without a password."""
    if not is_own(host) and password is None:
        raise EventlensError(
            "a password for an address that other computers can reach",
            f"--host '{host}' alone",
            "make one with 'eventlens password FILE' and add --password FILE, or leave --host out",
        )


def folder_for_dumps(given: Path | None) -> Path:
    """The folder that was named, else where the user's own data lies on this system; it is there and can be written."""
    import platformdirs

    folder = given or platformdirs.user_data_path("eventlens", appauthor=False)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        writable = os.access(folder, os.W_OK | os.X_OK)
        got = "one that may not be written to"
    except OSError as fault:
        writable, got = False, fault.strerror or str(fault)
    if not writable:
        raise EventlensError(
            "a folder for dumps that are brought in", got, "name another one with --keep FOLDER", file=folder
        )
    return folder


def listening(host: str, port: int) -> socket:
    """A socket that takes connections; EventlensError where it cannot be had."""
    try:
        return create_server((host, port), family=AF_INET6 if ":" in host else AF_INET)
    except gaierror:
        raise EventlensError(
            "an address of this computer for --host", f"'{host}'", "name one, as 192.168.1.20, or 0.0.0.0 for all"
        ) from None
    except OSError as fault:
        raise EventlensError(
            f"a free port for --port on {host}", f"{port} ({fault.strerror or fault})", "name another one, or 0 for any"
        ) from None


def serve(app: Any, listener: socket) -> None:
    """Answers until it is interrupted, which is the regular end."""
    import logging

    from waitress import create_server as create_web_server

    # a page asks for several things at once; that some of them wait a moment is nothing to tell a user
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    server = create_web_server(
        app.server,
        sockets=[listener],
        threads=THREADS,
        ident=None,
        max_request_body_size=MOST_BYTES,
        channel_timeout=SILENT_S,
        connection_limit=CONNECTIONS,
    )
    host, port = listener.getsockname()[:2]
    say(f"eventlens: open http://{f'[{host}]' if ':' in host else host}:{port}/ in a browser; Ctrl-C ends it")
    if not is_own(host):
        say("eventlens: what is sent is not encrypted; outside your own network put an HTTPS server before it")
    server.run()
