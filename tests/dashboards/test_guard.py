"""Guards the server: who may look, who may write, how often a password may be tried."""

from __future__ import annotations

import os
import stat
import time
from pathlib import Path
from typing import Any

import pytest
from flask import Flask, g
from flask.testing import FlaskClient
from werkzeug.security import generate_password_hash

from dashboards.guard import (
    BODY_BYTES,
    COOKIE,
    KNOWN_S,
    RENEWED_S,
    STAYS_S,
    TRIES,
    TRIES_OF_ALL,
    WINDOW_S,
    Guard,
    Tries,
    key_in,
)

KEY = b"k" * 32
WORD = "slow brake, warm coil"
HASH = generate_password_hash(WORD)
OWN = {"Origin": "http://localhost"}


def served(password_hash: str | None = None, tries: Tries | None = None, key: bytes = KEY) -> Flask:
    server = Flask(__name__)
    Guard(key, password_hash, tries).on(server)

    @server.route("/", methods=["GET", "POST", "PUT"])
    @server.route("/trends")
    @server.route("/_dash-update-component", methods=["POST"])
    def page() -> str:
        return str(g.visit.visitor)

    return server


def client(password_hash: str | None = None, **options: Any) -> FlaskClient:
    return served(password_hash, **options).test_client()


def entered(server: Flask) -> FlaskClient:
    one = server.test_client()
    assert one.post("/enter", data={"password": WORD}, headers=OWN).status_code == 303
    return one


def cookie_of(response: Any) -> str:
    return str(response.headers.get("Set-Cookie", ""))


@pytest.mark.parametrize(
    ("host", "status"),
    [
        ("localhost", 200),
        ("127.0.0.1:8050", 200),
        ("[::1]:8050", 200),
        ("logs.example", 400),
        ("127.0.0.1.example", 400),
    ],
)
def test_on_this_computer_only_its_own_names_are_answered(host: str, status: int) -> None:
    """A stranger's name may be pointed to 127.0.0.1 so that his page reads this server."""
    assert client().get("/", headers={"Host": host}).status_code == status


@pytest.mark.parametrize(
    ("origin", "status"),
    [
        ("http://localhost", 200),
        ("http://localhost:8051", 403),  # another server of this computer
        ("http://pages.example", 403),
        ("null", 403),
        ("", 403),
    ],
)
@pytest.mark.parametrize("method", ["POST", "PUT"])
def test_only_pages_of_this_server_may_write(origin: str, status: int, method: str) -> None:
    headers = {"Origin": origin} if origin else {}
    assert client().open("/", method=method, headers=headers).status_code == status


def test_reading_needs_no_origin() -> None:
    assert client().get("/").status_code == 200


@pytest.mark.parametrize(("size", "status"), [(BODY_BYTES, 200), (BODY_BYTES + 1, 413)])
def test_a_write_has_its_limit(size: int, status: int) -> None:
    assert client().post("/", data=b"x" * size, headers=OWN).status_code == status


def test_every_answer_keeps_the_browser_at_this_server() -> None:
    for answer in (client().get("/"), client().get("/nothing"), client().get("/", headers={"Host": "x.example"})):
        assert answer.headers["Content-Security-Policy"].startswith("default-src 'self'; ")
        assert "http" not in answer.headers["Content-Security-Policy"]
        assert answer.headers["X-Content-Type-Options"] == "nosniff"


def test_a_visitor_stays_the_same_and_another_is_another() -> None:
    server = served()
    one, other = server.test_client(), server.test_client()
    first = one.get("/").text
    assert one.get("/").text == first
    assert other.get("/").text != first


def test_without_the_password_nothing_is_shown() -> None:
    one = client(HASH)
    asked = one.get("/trends?machine=SAW-3")
    assert asked.status_code == 303
    assert asked.headers["Location"] == "/enter?next=/trends%3Fmachine%3DSAW-3"
    assert one.post("/_dash-update-component", headers=OWN).status_code == 401
    assert one.get("/_dash-layout").status_code == 401
    assert COOKIE not in cookie_of(asked)


def test_with_it_one_is_led_to_the_page_that_was_asked_for() -> None:
    one = client(HASH)
    assert one.get("/enter").status_code == 200
    let_in = one.post("/enter?next=/trends%3Fmachine%3DSAW-3", data={"password": WORD}, headers=OWN)
    assert let_in.headers["Location"] == "/trends?machine=SAW-3"
    for flag in ("HttpOnly", "SameSite=Strict", f"Max-Age={KNOWN_S}"):
        assert flag in cookie_of(let_in)
    assert one.get("/trends").status_code == 200
    assert one.post("/_dash-update-component", headers=OWN).status_code == 200


def test_over_an_encrypted_line_the_cookie_is_sent_on_no_other() -> None:
    headers = {"Origin": "https://localhost"}
    let_in = client(HASH).post("/enter", base_url="https://localhost", data={"password": WORD}, headers=headers)
    assert "Secure" in cookie_of(let_in)


@pytest.mark.parametrize(
    "target", ["//logs.example/", "/\\logs.example", "https://logs.example/", "trends", "", "/a\nb", "/\t/logs.example"]
)
def test_nobody_is_sent_to_another_site(target: str) -> None:
    let_in = client(HASH).post("/enter", query_string={"next": target}, data={"password": WORD}, headers=OWN)
    assert let_in.headers["Location"] == "/"


def test_a_wrong_password_opens_nothing() -> None:
    one = client(HASH)
    refused = one.post("/enter", data={"password": WORD + " "}, headers=OWN)
    assert refused.status_code == 403
    assert "This is not the password." in refused.text
    assert one.get("/").status_code == 303


def test_after_some_wrong_ones_an_address_has_to_wait_even_with_the_right_one() -> None:
    now = [0.0]
    one = client(HASH, tries=Tries(lambda: now[0]))
    for _ in range(TRIES):
        assert one.post("/enter", data={"password": "x"}, headers=OWN).status_code == 403
    waits = one.post("/enter", data={"password": WORD}, headers=OWN)
    assert waits.status_code == 429
    assert waits.headers["Retry-After"] == str(round(WINDOW_S))
    now[0] = WINDOW_S - 0.001
    assert one.post("/enter", data={"password": WORD}, headers=OWN).status_code == 429
    now[0] = WINDOW_S
    assert one.post("/enter", data={"password": WORD}, headers=OWN).status_code == 303


def test_many_addresses_are_counted_together() -> None:
    tries = Tries(lambda: 0.0)
    for number in range(TRIES_OF_ALL - 1):
        tries.wrong(f"10.0.0.{number}")
    assert tries.wait_s("10.0.1.1") == 0
    tries.wrong("10.0.0.99")
    assert tries.wait_s("10.0.1.1") == WINDOW_S


def test_the_right_one_forgets_the_wrong_ones_of_that_address() -> None:
    tries = Tries(lambda: 0.0)
    for _ in range(TRIES):
        tries.wrong("10.0.0.1")
    tries.right("10.0.0.1")
    assert tries.wait_s("10.0.0.1") == 0


def test_a_visit_outlives_the_server_but_not_the_password_nor_the_key() -> None:
    cookie = entered(served(HASH)).get_cookie(COOKIE)
    assert cookie is not None

    def opens(server: Flask) -> bool:
        one = server.test_client()
        one.set_cookie(COOKIE, cookie.value)
        return one.get("/").status_code == 200

    assert opens(served(HASH))
    assert not opens(served(generate_password_hash(WORD)))  # set anew: another salt
    assert not opens(served(HASH, key=b"o" * 32))


@pytest.mark.parametrize(("away_s", "status"), [(STAYS_S - 2, 200), (STAYS_S + 2, 303)])
def test_who_was_away_for_longer_than_a_shift_enters_again_but_is_still_known(
    monkeypatch: pytest.MonkeyPatch, away_s: int, status: int
) -> None:
    server = served(HASH)
    one = entered(server)
    visitor = one.get("/").text
    later = time.time() + away_s
    monkeypatch.setattr(time, "time", lambda: later)
    assert one.get("/").status_code == status
    one.post("/enter", data={"password": WORD}, headers=OWN)
    assert one.get("/").text == visitor


def test_a_visit_is_signed_anew_every_minute_not_with_every_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    one = entered(served(HASH))
    assert COOKIE not in cookie_of(one.get("/"))
    later = time.time() + RENEWED_S + 1
    monkeypatch.setattr(time, "time", lambda: later)
    assert COOKIE in cookie_of(one.get("/"))
    assert COOKIE not in cookie_of(one.get("/"))


@pytest.mark.parametrize("value", ["", "x", "x.y.z", "WyJhIiwiYiJd.aaaa.bbbb"])
def test_a_made_up_cookie_opens_nothing(value: str) -> None:
    one = client(HASH)
    one.set_cookie(COOKIE, value)
    assert one.get("/").status_code == 303


def test_a_cookie_of_a_server_without_password_does_not_open_one_with_it() -> None:
    server = served()
    one = server.test_client()
    one.get("/")
    cookie = one.get_cookie(COOKIE)
    assert cookie is not None
    other = client(HASH)
    other.set_cookie(COOKIE, cookie.value)
    assert other.get("/").status_code == 303


def test_leaving_closes_the_pages() -> None:
    one = entered(served(HASH))
    assert one.get("/").status_code == 200
    assert one.post("/leave", headers=OWN).status_code == 303
    assert one.get("/").status_code == 303


def test_the_key_is_made_once_and_is_its_owners(tmp_path: Path) -> None:
    key = key_in(tmp_path / "kept")
    assert len(key) == 32
    assert key_in(tmp_path / "kept") == key
    if os.name == "posix":
        assert stat.S_IMODE((tmp_path / "kept" / "key").stat().st_mode) == 0o600
