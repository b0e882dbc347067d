"""`eventlens password`: sets the password of a server that other computers can reach."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Annotated, Final

import typer

from eventlens.cli.console import check_target, say, writing
from eventlens.errors import EventlensError

LEAST_LENGTH: Final = 12
"""Characters of a password that nobody guesses at the rate a server allows (common practice)."""


def password(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Where its hash is written, for its owner alone.")],
) -> None:
    """Set the password of pages that others can reach.

    \b
    Example:
      eventlens password pages.hash
      eventlens dashboard history --host 0.0.0.0 --password pages.hash
    """
    check_target("FILE", file, [])
    chosen = typer.prompt("Password", hide_input=True, confirmation_prompt="The same again", err=True)
    text = hash_of(chosen) + "\n"
    with writing("FILE", file):
        handle = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(handle, "w", encoding="utf-8") as out:
            out.write(text)
    say(f"eventlens: the hash is in {file}; whoever entered with an older password is asked again")


def hash_of(chosen: str) -> str:
    """Salted scrypt hash of a password; EventlensError for one that is too short."""
    from werkzeug.security import generate_password_hash

    if len(chosen) < LEAST_LENGTH:
        raise EventlensError(
            f"a password of at least {LEAST_LENGTH} characters", str(len(chosen)), "choose a longer one: a few words do"
        )
    return generate_password_hash(chosen, method="scrypt")


def hash_in(file: Path) -> str:
    """The hash that a file holds; EventlensError where it holds none."""
    try:
        text = file.read_text("utf-8").strip()
    except (OSError, UnicodeDecodeError) as fault:
        got = getattr(fault, "strerror", None) or "other bytes"
        raise EventlensError("a password file", got, f"make one with eventlens password {file}", file=file) from None
    if not text.startswith("scrypt:") or text.count("$") != 2 or not text.isprintable():
        raise EventlensError(
            "the hash of a password", "something else", f"make one with eventlens password {file}", file=file
        )
    return text
