"""Who may ask the pages for what: looked at before every request, and headers on every answer.

On an address of this computer nobody is asked who he is; pages of other sites that the same browser has open are kept
out all the same (the name in `Host`, the `Origin` of every write). On any other address a password is asked for. It is
kept as a salted scrypt hash in a file of its owner (werkzeug.security, compared in constant time); who has entered
carries a signed cookie that names a visitor and the password's fingerprint: it survives a restart, serves every worker
that reads the same folder, and ends with the password.
"""

from __future__ import annotations

import hashlib
import os
import secrets
import threading
import time
from collections import defaultdict, deque
from collections.abc import Callable
from dataclasses import dataclass, field
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import quote, urlsplit

if TYPE_CHECKING:
    from flask import Flask

COOKIE: Final = "eventlens_visit"
STAYS_S: Final = 12 * 3600
"""A shift with its overtime (common practice); who was away for longer enters the password again."""
RENEWED_S: Final = 60
"""How old a visit's signature may be before it is signed anew: a browser that is handed a cookie with every answer has
to fetch it from another process for every question (16 ms, measured)."""
KNOWN_S: Final = 400 * 86400
"""How long a visitor is known who does not come back: what he brought in waits for him (the browsers' own limit)."""
TRIES: Final = 5
"""Wrong passwords of one address within WINDOW_S, after which it has to wait (common practice)."""
TRIES_OF_ALL: Final = 50
"""The same for all addresses together: many addresses may be one person."""
WINDOW_S: Final = 900.0
BODY_BYTES: Final = 4 << 20
"""Largest write apart from a dump: a page sends the rows of a table at most."""
WRITES: Final = frozenset({"POST", "PUT", "PATCH", "DELETE"})
ENTER: Final = "/enter"
LEAVE: Final = "/leave"
HERE: Final = frozenset({"localhost", "127.0.0.1", "::1"})
"""Names of this computer itself: under another one a page of a stranger may have been pointed here."""
HEADERS: Final = {
    # the page may only talk to the server it came from; the chart and list libraries need inline code and styles
    "Content-Security-Policy": "default-src 'self'; script-src 'self' 'unsafe-inline' 'unsafe-eval'; "
    "style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:; font-src 'self' data:; worker-src 'self' blob:; "
    "object-src 'none'; frame-ancestors 'none'; base-uri 'self'; form-action 'self'",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}


@dataclass(frozen=True)
class Visit:
    """Who asks."""

    visitor: str
    """Random, unknown to others; what he brings in is his."""
    entered: bool
    signed_at: float = 0.0
    """When the cookie that came was signed [s since 1970]; 0 where none came."""


@dataclass
class Tries:
    """Counts wrong passwords, of each address and of all."""

    now: Callable[[], float] = time.monotonic
    _wrong: dict[str, deque[float]] = field(default_factory=lambda: defaultdict(deque))
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def wait_s(self, address: str) -> float:
        """How long this address has to wait before it may try again [s]."""
        with self._lock:
            return max(self._left(address, TRIES), self._left("", TRIES_OF_ALL))

    def wrong(self, address: str) -> None:
        """One more."""
        with self._lock:
            for name in (address, ""):
                self._wrong[name].append(self.now())

    def right(self, address: str) -> None:
        """Forgets what the address got wrong before, and of all the last one, which was this."""
        with self._lock:
            self._wrong.pop(address, None)
            if self._wrong[""]:
                self._wrong[""].pop()

    def _left(self, name: str, most: int) -> float:
        at, oldest = self.now(), self.now() - WINDOW_S
        wrong = self._wrong.get(name)
        while wrong and wrong[0] <= oldest:
            wrong.popleft()
        if not wrong:
            self._wrong.pop(name, None)
            return 0.0
        return wrong[-most] + WINDOW_S - at if len(wrong) >= most else 0.0


class Guard:
    """The checks of one application."""

    def __init__(self, key: bytes, password_hash: str | None = None, tries: Tries | None = None) -> None:
        """key: secret that signs visits; password_hash: of werkzeug.security; None on this computer only."""
        from itsdangerous import URLSafeTimedSerializer

        self.password_hash, self.tries = password_hash, tries or Tries()
        self._mark = hashlib.sha256((password_hash or "").encode()).hexdigest()
        self._signer = URLSafeTimedSerializer(key, salt="visit")

    def on(self, server: Flask) -> None:
        """Puts the checks before and after every request of a server."""
        server.before_request(self.check)
        server.after_request(self.dressed)
        server.add_url_rule(ENTER, "enter", self.enter, methods=["GET", "POST"])
        server.add_url_rule(LEAVE, "leave", self.leave, methods=["POST"])

    # --- before

    def check(self) -> Any:
        """None where the request may go on, else the answer to it."""
        from flask import g, request

        if self.password_hash is None and urlsplit(f"//{request.host}").hostname not in HERE:
            return _said(400, "These pages are served to this computer only: open them under 127.0.0.1.")
        if request.method in WRITES:
            origin = request.headers.get("Origin", "")
            if urlsplit(origin).netloc != request.host:
                return _said(403, "Something was to be written from a page that does not belong to this server.")
            if request.method != "PUT" and (request.content_length or 0) > BODY_BYTES:
                return _said(413, f"A request of at most {BODY_BYTES >> 20} MiB was wanted.")
        g.visit = self._visit(request.cookies.get(COOKIE))
        if self.password_hash is None or g.visit.entered or request.path == ENTER:
            return None
        if request.method in WRITES or request.path.startswith("/_dash"):
            return _said(401, "Enter the password first: open this page anew.")
        return _to(f"{ENTER}?next={quote(request.full_path.rstrip('?'), safe='/')}")

    def _visit(self, cookie: str | None) -> Visit:
        from itsdangerous import BadSignature

        try:
            (visitor, mark), at = self._signer.loads(cookie or "", max_age=KNOWN_S, return_timestamp=True)
        except (BadSignature, ValueError, TypeError):  # too old, signed by another key, or no visit at all
            return Visit(secrets.token_urlsafe(24), entered=False)
        entered = mark == self._mark and time.time() - at.timestamp() < STAYS_S
        return Visit(visitor, entered, at.timestamp())

    # --- after

    def dressed(self, response: Any) -> Any:
        """The answer with headers that keep the browser from asking anybody else, and the visitor's cookie."""
        from flask import g, request

        response.headers.update(HEADERS)
        visit: Visit | None = g.get("visit")
        known = visit is not None and (self.password_hash is None or visit.entered)
        if visit is not None and known and time.time() - visit.signed_at >= RENEWED_S:
            value = self._signer.dumps([visit.visitor, self._mark])
            # signed anew all the time, so that nobody is sent out in the middle of his work
            response.set_cookie(
                COOKIE, value, max_age=KNOWN_S, httponly=True, samesite="Strict", secure=request.is_secure
            )
        return response

    # --- the password

    def enter(self) -> Any:
        """The page that asks for the password, and what it sends."""
        from flask import g, request
        from werkzeug.security import check_password_hash

        target = _local(request.args.get("next", "/"))
        if self.password_hash is None or (request.method == "GET" and g.visit.entered):
            return _to(target)
        if request.method == "GET":
            return _form(200, "")
        address = request.remote_addr or ""
        wait = self.tries.wait_s(address)
        if wait > 0:
            minutes = max(1, round(wait / 60))
            return _form(429, f"Too many wrong passwords. Try again in {minutes} min.", wait)
        self.tries.wrong(address)  # before it is looked at: many at once are counted as many
        if not check_password_hash(self.password_hash, request.form.get("password", "")):
            return _form(403, "This is not the password.")
        self.tries.right(address)
        g.visit = Visit(g.visit.visitor, entered=True)
        return _to(target)

    def leave(self) -> Any:
        """Ends the visit on this browser."""
        from flask import g

        response = _to("/")
        response.delete_cookie(COOKIE, httponly=True, samesite="Strict")
        g.visit = None
        return response


def key_in(folder: Path) -> bytes:
    """The key that signs visits, made when it is first asked for; readable by its owner only."""
    path = folder / "key"
    folder.mkdir(parents=True, exist_ok=True)
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return _whole_key(path)
    with os.fdopen(handle, "wb") as file:
        file.write(secrets.token_bytes(32))
    return path.read_bytes()


def _whole_key(path: Path) -> bytes:
    """The key of a file that another worker may be writing at this moment."""
    for _ in range(50):
        if len(key := path.read_bytes()) == 32:
            return key
        time.sleep(0.02)
    raise OSError(f"{path} does not hold 32 bytes: delete it, and everybody enters again")


def _local(target: str) -> str:
    """A path of this server, or its first page: nobody is sent to another site."""
    parts = urlsplit(target)
    local = target.startswith("/") and not target.startswith(("//", "/\\")) and not parts.netloc and not parts.scheme
    return target if local and "\\" not in target and target.isprintable() else "/"


def _said(status: int, sentence: str) -> Any:
    from flask import make_response

    return make_response(sentence + "\n", status, {"Content-Type": "text/plain; charset=utf-8"})


def _to(target: str) -> Any:
    from flask import redirect

    return redirect(target, 303)


def _form(status: int, fault: str, wait_s: float = 0.0) -> Any:
    from flask import make_response

    told = f'<p id="fault" role="alert">{escape(fault)}</p>' if fault else ""
    response = make_response(_FORM.replace("<!--fault-->", told), status)
    if wait_s:
        response.headers["Retry-After"] = str(max(1, round(wait_s)))
    return response


_FORM: Final = """<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Password</title>
<style>
:root { color-scheme: light dark; font: 16px/1.5 system-ui, sans-serif; }
main { max-width: 22rem; margin: 15vh auto 0; padding: 0 1rem; }
label, input, button { display: block; width: 100%; box-sizing: border-box; font: inherit; }
input, button { min-height: 2.75rem; margin: .25rem 0 1rem; padding: 0 .75rem; }
</style>
</head>
<body>
<main>
<h1>Controller logs</h1>
<!--fault-->
<form method="post">
<label for="password">Password of this server</label>
<input id="password" name="password" type="password" autocomplete="current-password" required autofocus>
<button type="submit">Enter</button>
</form>
</main>
</body>
</html>
"""
