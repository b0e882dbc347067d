"""Addresses of brokers and servers, and what opens them: user, password and keys, from the environment or files.

No password stands in an address: it would be shown, kept in the state folder, and seen in the list of programs.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Final
from urllib.parse import unquote, urlsplit

from eventlens.errors import EventlensError

EXTRA_REMEDY: Final = "install the extra: pip install 'eventlens[live]'"


@dataclass(frozen=True)
class Address:
    """Where something is."""

    scheme: str
    host: str
    port: int
    path: str
    """Without its first slash."""
    user: str | None

    @property
    def name(self) -> str:
        """For people; it holds no password."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"{self.scheme}://{host}:{self.port}" + (f"/{self.path}" if self.path else "")


def parsed(text: str, ports: dict[str, int], prefix: str) -> Address:
    """An address; EventlensError where it names no host, or holds a password. ports: the usual one of each scheme."""
    scheme = text.partition("://")[0]
    wanted = f"an address like {scheme}://host:{ports[scheme]}"
    # a topic may hold # and ?, which would end the path of another kind of address
    body = text.replace("#", "%23").replace("?", "%3F")
    try:
        parts = urlsplit(body)
        port = parts.port or ports[scheme]
    except ValueError:
        raise EventlensError(wanted, "one that is not understood", "correct it") from None
    if parts.password is not None:
        raise EventlensError(
            wanted,
            "a password in the address",
            f"put it into a file and name that in the environment: {prefix}_PASSWORD_FILE",
        )
    if not parts.hostname:
        raise EventlensError(wanted, "no host", "name one")
    user = unquote(parts.username) if parts.username else None
    return Address(scheme, parts.hostname, port, unquote(parts.path.removeprefix("/")), user)


@dataclass(frozen=True)
class Access:
    """What opens it."""

    user: str | None
    password: str | None

    def __repr__(self) -> str:
        """Without the password."""
        return f"Access(user={self.user!r})"


def access(address: Address, prefix: str) -> Access:
    """User and password: of the address, and PREFIX_USER, PREFIX_PASSWORD or PREFIX_PASSWORD_FILE."""
    password = os.environ.get(f"{prefix}_PASSWORD")
    named = os.environ.get(f"{prefix}_PASSWORD_FILE")
    if password is None and named:
        try:
            password = Path(named).read_text("utf-8").removesuffix("\n")
        except (OSError, UnicodeDecodeError) as fault:
            why = getattr(fault, "strerror", None) or "no text in UTF-8"
            raise EventlensError("a file with the password", why, f"check {prefix}_PASSWORD_FILE", file=named) from None
    user = address.user or os.environ.get(f"{prefix}_USER")
    if password is not None and user is None:
        raise EventlensError("a user beside the password", "none", f"name one in {prefix}_USER or in the address")
    return Access(user, password)
