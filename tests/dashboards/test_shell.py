"""Guards the frame: which page an address shows, what it says where there is none, and links."""

from __future__ import annotations

import gzip
import json
import shutil
from pathlib import Path
from typing import Any

import pytest
from dash.exceptions import PreventUpdate
from flask import Flask, g

import dashboards
from dashboards import shell
from dashboards.data import Source, source_of
from dashboards.data.live import Live
from dashboards.data.source import Kept
from dashboards.guard import Visit
from dashboards.pages import PAGES
from dashboards.pages._page import address, read_query
from dashboards.pages.machines import callbacks as machines
from dashboards.pages.trends import callbacks as weeks
from eventlens import Archive
from tests.dashboards.followed import followed
from tests.dashboards.histories import DROP_OUT, NAMES, dump, history, kept, yard
from tests.dashboards.weeks import full
from tests.trends.tables import week


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Archive:
    """Two machines and two weeks."""
    return kept(tmp_path_factory.mktemp("kept"))


@pytest.fixture(scope="module")
def source(archive: Archive) -> Source:
    return source_of(archive)


def shown(source: Source, path: str, **query: str) -> tuple[str, str]:
    """Title and page, as the browser gets it."""
    body, _, title, *_ = shell.show(source, path, query, None)
    return title["title"], text_of(body)


def text_of(part: Any) -> str:
    return json.dumps(part, default=lambda one: one.to_plotly_json(), ensure_ascii=False)


def links(part: Any) -> list[str]:
    """Every address that a page leads to."""
    text = text_of(part)
    return [piece.split('"')[0] for piece in text.split('"href": "')[1:]]


def test_addresses_are_read_as_they_were_written() -> None:
    odd = "A/B & C=<i>?#%"
    written = address("/weeks", machine=odd, pattern=None, per="")
    assert "<" not in written
    assert read_query(written.partition("?")[2]) == {"machine": odd}
    assert read_query("?machine=SAW-3") == {"machine": "SAW-3"}
    assert read_query(None) == {}


def test_each_page_is_one_path_with_its_own_name() -> None:
    assert len({page.path for page in PAGES}) == len({page.name for page in PAGES}) == len(PAGES)


def test_pages_of_an_archive(source: Source) -> None:
    assert shown(source, "/")[0] == "Machines"
    assert shown(source, "/machines")[0] == "Machines"
    title, page = shown(source, "/weeks", machine="SLAB-1")
    assert title == "SLAB-1: weeks"
    assert "relay of raise" in page  # what was written down
    assert shown(source, "/weeks")[0] == "Weeks"
    assert address("/weeks", machine="DOCK-5") in shown(source, "/weeks")[1]  # the choice of a machine
    assert shown(source, "/review")[0] == "Review"
    assert address("/review", machine="DOCK-5") in shown(source, "/review")[1]
    title, page = shown(source, "/review", machine="SLAB-1", week="2026-W15")
    assert title == "SLAB-1: review of 2026-W15"
    assert address("/review", machine="SLAB-1", week="2026-W14") in page  # the week before it
    assert shown(source, "/review", machine="SLAB-1")[0] == "SLAB-1: review of 2026-W15"  # the latest


def test_every_page_of_an_archive_carries_the_cautions_and_one_heading(source: Source) -> None:
    for path, query in (("/", {}), ("/weeks", {"machine": "SLAB-1"}), ("/review", {"machine": "SLAB-1"})):
        page = shown(source, path, **query)[1]
        assert "lock out and tag out, prove dead" in page, path
        assert page.count('"type": "H1"') == 1, path


@pytest.mark.parametrize(
    ("path", "query", "said"),
    [
        ("/no-such-page", {}, "The address leads nowhere"),
        ("/weeks", {"machine": "CRANE-9"}, "ot 'CRANE-9'"),
        ("/review", {"machine": "SLAB-2"}, "did you mean 'SLAB-1'?\""),
        ("/review", {"machine": "SLAB-1", "week": "2026-W41"}, "got '2026-W41'"),
    ],
)
def test_an_address_without_a_page_says_why_and_leads_back(
    source: Source, path: str, query: dict[str, str], said: str
) -> None:
    body, *_ = shell.show(source, path, query, None)
    assert said in text_of(body)
    assert "/" in links(body)


def test_a_page_is_built_anew_only_where_the_address_names_another(source: Source) -> None:
    here = shell.show(source, "/weeks", {"machine": "SLAB-1"}, None)[3]
    with pytest.raises(PreventUpdate):
        shell.show(source, "/weeks", {"machine": "SLAB-1", "pattern": DROP_OUT}, here)
    assert shell.show(source, "/weeks", {"machine": "DOCK-5"}, here)[3] != here
    with pytest.raises(PreventUpdate):
        shell.show(source, "/", {}, shell.show(source, "/machines", {}, None)[3])


def test_the_navigation_takes_the_machine_along_and_says_where_one_is(source: Source) -> None:
    _, navigation, *_ = shell.show(source, "/weeks", {"machine": "SLAB-1", "pattern": DROP_OUT}, None)
    own = [f"/{page}?machine=SLAB-1" for page in ("live", "weeks", "review", "repair", "report")]
    assert links(navigation) == ["/machines", *own]
    assert [getattr(link, "aria-current", None) for link in navigation] == [None, None, "page", None, None, None]


def test_one_log_has_its_review_its_report_and_a_repair() -> None:
    source = source_of(full())
    body, navigation, title, *_ = shell.show(source, "/", {}, None)
    assert links(navigation) == ["/review", "/repair", "/report"]
    assert title["title"] == "SAW-3: review"
    assert "/weeks" not in text_of(body)
    assert "The address leads nowhere" in text_of(shell.show(source, "/weeks", {}, None)[0])
    # an address of another log must not show this one
    assert "This cannot be shown" in text_of(shell.show(source, "/review", {"machine": "DOCK-5"}, None)[0])


def test_every_id_that_a_callback_uses_has_its_place(
    archive: Archive, source: Source, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    client = dashboards.create_app(archive).server.test_client()
    pages = client.get("/_dash-layout").text.replace('"id":"', '"id": "')
    paths = ("/machines", "/weeks", "/review", "/repair", "/report")
    with Flask(__name__).test_request_context():
        g.visit = Visit("somebody", entered=True)
        pages += "".join(shown(source, path, machine="SLAB-1")[1] for path in paths)
    pages += shown(source, "/live")[1]  # nobody follows
    monkeypatch.setattr(source, "live", Live(followed(tmp_path, machine="SLAB-1").parents[1]))
    pages += shown(source, "/live", machine="SLAB-1")[1]
    for entry in client.get("/_dash-dependencies").get_json():
        for side in (*entry["inputs"], *entry["state"]):
            assert f'"id": "{side["id"]}"' in pages, side


def test_the_frame_has_its_landmarks_and_a_way_past_the_navigation(archive: Archive) -> None:
    frame = text_of(shell.layout(source_of(archive)))
    for kind in ("Header", "Nav", "Main"):
        assert frame.count(f'"type": "{kind}"') == 1
    assert f'"href": "#{shell.CONTENT}"' in frame
    assert '"role": "alert"' in frame


def test_the_demonstration_says_so_and_leads_to_its_machines(archive: Archive) -> None:
    plain, led = (shown(source_of(archive, demonstration=demo), "/")[1] for demo in (False, True))
    assert "You are looking at a demonstration" not in plain
    assert "You are looking at a demonstration" in led
    assert "its raise relay works itself loose" in led


def test_names_of_machines_lead_nowhere_but_to_their_pages() -> None:
    view = yard()
    _, _, _, rows = machines.draw_funnel(view, {}, None)
    assert {row["href"] for row in rows} >= {address("/weeks", machine="SAW-3", pattern=DROP_OUT)}
    assert all(row["href"].startswith("/weeks?machine=") for row in rows)


def test_the_address_chooses_what_machines_are_compared_in() -> None:
    choice, figure, reading, rows = machines.draw_funnel(yard(), {"compare": DROP_OUT}, "dark")
    assert "Hoist: drop-out, per 100 starts: SAW-3 lies above the limits" in reading
    assert next(row for row in rows if row["machine"] == "SAW-3")["where"].startswith("▲ above")
    assert '"aria-current": "true"' in text_of(choice)
    assert figure.layout.height
    assert machines.draw_funnel(yard(), {"compare": "no such"}, None)[2] == reading


def test_the_address_chooses_pattern_and_use_of_the_weeks() -> None:
    title, choice, _, reading, rows = weeks.draw_weekly(history(), {"machine": "SAW-3"}, None)
    assert title == "Hoist: drop-out, per 100 starts"
    assert reading.startswith("Comes oftener: 195 in 12,000 starts over 12 weeks; ")
    assert [row["week"] for row in rows] == [week(n) for n in reversed(range(12))]
    assert rows[0]["where"] == "▲ above"
    assert rows[0]["href"] == address("/review", machine="SAW-3", week=week(11), finding=f"{DROP_OUT}/")
    assert links(choice)[3] == address("/weeks", machine="SAW-3", pattern=DROP_OUT, per="lifts")
    other = weeks.draw_weekly(history(), {"machine": "SAW-3", "per": "lifts"}, None)
    assert other[0] == "Hoist: drop-out, per 100 lifts"
    # a week without a review leads nowhere
    assert weeks.draw_weekly(history(), {"machine": "SLAB-1"}, None)[4][0]["href"] == ""


def test_a_machine_that_is_not_there_draws_nothing() -> None:
    for draw in (weeks.draw_weekly, weeks.draw_times):
        with pytest.raises(PreventUpdate):
            draw(history(), {"machine": "CRANE-9"}, None)  # type: ignore[operator]


def test_every_measured_time_has_its_chart_and_sentence() -> None:
    parts = text_of(weeks.draw_times(history(), {"machine": "SAW-3"}, None))
    assert "hoist: release time" in parts
    assert "Gets longer, by +20.0 ms a week" in parts


def test_what_was_read_is_kept_until_the_archive_changes(tmp_path: Path) -> None:
    archive = kept(tmp_path)
    source = source_of(archive)
    assert isinstance(source, Kept)
    first, review = source.history(), source.week("SLAB-1", "2026-W14")
    assert source.history() is first
    assert source.week("SLAB-1", "2026-W14") is review
    assert source.machines() == list(NAMES)
    archive.add(dump(tmp_path / "more.csv", 14, dropping=False), "DOCK-5")
    later = source.history()
    assert later is not first
    assert source.weeks_of("DOCK-5") == ["2026-W14", "2026-W15", "2026-W16"]


def test_an_archive_without_a_log_says_so(tmp_path: Path) -> None:
    with pytest.raises(Exception, match="wanted an archive, got nothing there"):
        source_of(Archive(tmp_path / "none")).history()


def test_a_fault_of_the_server_is_told_on_the_page(monkeypatch: pytest.MonkeyPatch) -> None:
    told: list[Any] = []
    monkeypatch.setattr(shell, "set_props", lambda name, what: told.append((name, what["children"])))
    with pytest.raises(PreventUpdate):
        shell.trouble(ValueError("secret path"))
    assert told == [(shell.TROUBLE, "The server could not answer. Load the page again.")]


def test_large_answers_come_compressed_and_whole() -> None:
    app = dashboards.create_app(full())
    app.server.config["COMPRESS_MIN_SIZE"] = 1000
    client = app.server.test_client()
    plain = client.get("/_dash-dependencies")
    small = client.get("/_dash-dependencies", headers={"Accept-Encoding": "gzip"})
    assert "Content-Encoding" not in plain.headers
    assert small.headers["Content-Encoding"] == "gzip"
    assert gzip.decompress(small.data) == plain.data
    assert len(small.data) < 0.4 * len(plain.data)


class Builder:
    """Somebody who fills an archive while it is shown."""

    def __init__(self) -> None:
        self.now: str | None = "1 of 2 parts are there"

    def stage(self) -> str | None:
        return self.now


def test_pages_wait_for_an_archive_that_is_being_built(archive: Archive, tmp_path: Path) -> None:
    """Nothing is there at first; the page asks by itself, and says what is being made until all is there."""
    builder = Builder()
    source = source_of(Archive(tmp_path / "history"), demonstration=True, building=builder)
    title, page = shown(source, "/")
    assert title == "Being prepared"
    assert "comes-by-itself" in page
    shutil.copytree(archive.address, tmp_path / "history")  # the first part is there
    assert shown(source, "/")[0] == "Machines"
    assert shown(source, "/weeks", machine="SAW-3")[0] == "Being prepared"  # it may still come
    said, ends, waits = shell.working(source, before=True)
    assert "Weeks are being reviewed: 1 of 2 parts are there" in text_of(said)
    assert (ends, waits) == (False, True)
    builder.now = None
    said, ends, _ = shell.working(source, before=True)
    assert "All weeks are reviewed now." in text_of(said)
    assert ends
    assert shell.working(source, before=False)[0] is None  # a page that was shown afterwards has them all
    assert shown(source, "/weeks", machine="SAW-3")[0] == "Cannot be shown"
