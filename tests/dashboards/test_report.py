"""Guards the report as the pages hand it out: what is chosen is what comes, faults are sentences, dumps stay their
owners'."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from dash import no_update
from flask import Flask, g
from flask.testing import FlaskClient

import dashboards
from dashboards.data import Fault, Source, source_of
from dashboards.data.report import FORMS, LANGUAGES, NONE, PAPERS, optional
from dashboards.guard import COOKIE, Visit
from dashboards.pages import report
from dashboards.pages.report import FILE_ADDRESS, others, values
from eventlens.archive import Archive
from eventlens.report import document
from tests.dashboards.histories import kept
from tests.dashboards.weeks import full

FILE = FILE_ADDRESS


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Archive:
    """Two machines and two weeks."""
    return kept(tmp_path_factory.mktemp("kept"))


@pytest.fixture(scope="module")
def client(archive: Archive) -> FlaskClient:
    return dashboards.create_app(archive).server.test_client()


@pytest.fixture
def visit() -> Iterator[None]:
    """A request of a visitor, which the guard has let in."""
    with Flask(__name__).test_request_context():
        g.visit = Visit("somebody", entered=True)
        yield


def text_of(part: Any) -> str:
    return json.dumps(part, default=lambda one: one.to_plotly_json(), ensure_ascii=False)


def test_the_choices_are_those_of_the_report() -> None:
    assert tuple(f".{form}" for form in FORMS) == document.FORMS
    assert set(LANGUAGES) == set(document.languages())
    assert tuple(PAPERS) == document.PAPERS
    assert tuple(optional()) == document.CHOICE


def test_the_report_of_a_log_is_that_of_its_review() -> None:
    client = dashboards.create_app(full()).server.test_client()
    shown = client.get(FILE)
    assert shown.data == document.render(full(), ".html")
    assert shown.headers["Content-Type"] == "text/html; charset=utf-8"
    assert shown.headers["Content-Disposition"].startswith("inline")
    pdf = client.get(f"{FILE}?form=pdf&language=de&paper=letter&sections=duty")
    assert pdf.data == document.render(full(), ".pdf", language="de", paper="letter", sections=["duty"])
    assert pdf.headers["Content-Type"] == "application/pdf"
    assert pdf.headers["Content-Disposition"] == 'attachment; filename="SAW-3.pdf"'
    assert "attachment" in client.get(f"{FILE}?save=1").headers["Content-Disposition"]


def test_without_any_choice_what_protects_people_is_there() -> None:
    page = dashboards.create_app(full()).server.test_client().get(f"{FILE}?sections={NONE}").text
    assert all(f'<section id="{name}">' in page for name in document.ALWAYS)
    assert not any(f'<section id="{name}">' in page for name in document.CHOICE)


def test_one_week_or_several_of_a_machine(archive: Archive, client: FlaskClient) -> None:
    week = client.get(f"{FILE}?machine=SLAB-1&week=2026-W15")
    assert 'filename="SLAB-1-2026-W15.html"' in week.headers["Content-Disposition"]
    assert "drop-out" in week.text
    latest = client.get(f"{FILE}?machine=SLAB-1")
    assert latest.data == week.data
    both = client.get(f"{FILE}?machine=SLAB-1&week=2026-W14&to=2026-W15")
    assert 'filename="SLAB-1-2026-W14-to-2026-W15.html"' in both.headers["Content-Disposition"]
    history = source_of(archive).history()
    start, end = history.stored("SLAB-1", "2026-W14")["start"], history.stored("SLAB-1", "2026-W15")["end"]
    assert both.data == document.render(archive.review("SLAB-1", start, end), ".html")
    assert all(name in both.text for name in ("0.csv", "7.csv"))


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ("machine=SLAB-1&form=docx", "Wanted a form of the report, got 'docx'"),
        ("machine=SLAB-1&language=fr", "Wanted a language of the report, got 'fr'"),
        ("machine=SLAB-1&paper=a5", "Wanted a paper of the report, got 'a5'"),
        ("machine=SLAB-1&sections=lief", "Wanted a section of the report, got 'lief'; did you mean 'life'?"),
        ("machine=SLAB-2", "did you mean 'SLAB-1'?"),
        ("machine=SLAB-1&week=2026-W41", "got '2026-W41'"),
        ("machine=SLAB-1&week=2026-W15&to=2026-W14", "Wanted a last week not before the first"),
        ("machine=SLAB-1&dump=AAAAAAAAAAAAAAAAAAAAAAAA", "Wanted an address of the log that is shown"),
    ],
)
def test_what_cannot_be_is_one_sentence(client: FlaskClient, query: str, said: str) -> None:
    answer = client.get(f"{FILE}?{query}")
    assert answer.status_code == 400
    assert answer.headers["Content-Type"].startswith("text/plain")
    assert said in answer.text
    assert answer.text.count("\n") == 1


def test_nobody_gets_the_report_of_somebody_elses_dump(tmp_path: Path) -> None:
    server = dashboards.create_app(None, folder=tmp_path).server
    owner = server.test_client()
    log = b"time,signal,value\n" + b"".join(
        f"2026-04-01T06:{n:02d}:00+00:00,hoist.raise.contactor,{n % 2}\n".encode() for n in range(60)
    )
    sent = owner.put("/bring/file?name=day.csv", data=log, headers={"Origin": "http://localhost"})
    dump = sent.get_json()["dump"]
    own = owner.get(f"{FILE}?dump={dump}")
    assert own.status_code == 200
    assert "day.csv" in own.text
    other = server.test_client()
    assert other.get_cookie(COOKIE) is None
    refused = other.get(f"{FILE}?dump={dump}")
    assert refused.status_code >= 400
    assert "day.csv" not in refused.text


@pytest.mark.usefixtures("visit")
def test_every_choice_stands_in_the_address_of_the_file(archive: Archive) -> None:
    query = {"machine": "SLAB-1", "week": "2026-W14", "to": "2026-W15", "sections": "life", "language": "de"}
    built = report.build(source_of(archive), query)
    page = text_of(built.body)
    assert f"{FILE}?form=pdf&machine=SLAB-1&week=2026-W14&to=2026-W15&sections=life&language=de" in page
    assert values(query, ["2026-W14", "2026-W15"]) == ("2026-W14", "2026-W15", ["life"], "de", "a4")
    assert values({}, ["2026-W14", "2026-W15"])[:2] == ("2026-W15", "2026-W15")
    assert values({"sections": NONE}, [])[2] == []
    for title in document.titles().values():
        assert title in page


@pytest.mark.usefixtures("visit")
def test_a_machine_is_chosen_or_said_not_to_be_there(archive: Archive) -> None:
    source: Source = source_of(archive)
    assert "/report?machine=DOCK-5" in text_of(report.build(source, {}).body)
    with pytest.raises(Fault, match="did you mean 'SLAB-1'"):
        report.build(source, {"machine": "SLAB-2"})


def test_an_answer_says_nothing_of_what_the_controls_show_anyway() -> None:
    """Else it would undo the next choice of a reader who is quicker than the answer."""
    wanted = ("2026-W14", "2026-W15", ["life", "causes"], "de", "a4")
    assert others(wanted, wanted) == [no_update] * 5
    assert others(wanted, ("2026-W14", "2026-W15", ["causes", "life"], "de", "a4")) == [no_update] * 5
    gone_back = others(wanted, ("2026-W14", "2026-W14", ["life"], "en", "a4"))
    assert gone_back == [no_update, "2026-W15", ["life", "causes"], "de", no_update]
