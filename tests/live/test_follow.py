"""Following comes to what a review of the whole log says, however the log arrives and whoever dies when."""

from __future__ import annotations

import itertools
import json
from collections.abc import Iterator, Sequence
from contextlib import closing
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import eventlens
from eventlens.errors import EventlensError
from eventlens.live import Batch, Follower, Keeper, Lines, follow, tail
from eventlens.live.looks import Seen
from eventlens.live.sources.file import FileSource
from eventlens.machine import Machine
from eventlens.reading import Profile
from eventlens.result import Review
from tests.live.sources import HEADER, Chunks, Dying, Killed
from tests.live.stories import MACHINE, late, morning, net, occurrences, reviewed, set_back, text_of, told_in
from tests.logs import HOIST, at, merged, off, run

SMALL = 500
"""Lines of a last part: the morning is some of them long."""


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Looks at every step, and at the last part of a log that is a morning long."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(follow, "REST", 0.0)
        patch.setattr(follow, "AT_ONCE", 1)
        patch.setattr(follow, "WHOLE_EVERY_S", 1e9)
        patch.setattr(tail, "MOST_LINES", SMALL)
        yield


def follower(source: Any, state: Path, machine: Machine = MACHINE, **given: Any) -> Follower:
    return Follower(source, state, Profile(), machine, **given)


def followed(source: Any, state: Path, machine: Machine = MACHINE, **given: Any) -> Review:
    with closing(follower(source, state, machine, **given)) as one:
        while one.step(0.0):
            pass
        found = one.finish()
    assert found is not None
    return found


class Ending(FileSource):
    """A file that ends where it is."""

    def __init__(self, path: Path) -> None:
        super().__init__(path, every_s=0.0)

    def more(self, within_s: float) -> Batch:
        batch = super().more(within_s)
        return batch if batch.text else replace(batch, ended=True)


def small_log(extra: list[tuple[float, str, float | None]] | None = None) -> list[str]:
    """Raise, and a raise that drops out at 51 s while the button is held to 55 s; a sign of life every five seconds."""
    dropped = run(50, 51, command=(49.95, 55.0), brake=(50.1, 50.9))
    beats = [(float(second), "alive", 1.0) for second in range(0, 120, 5)]
    records = merged(off(*HOIST), run(10, 15), run(30, 35, "lower"), dropped, beats, extra or [])
    return [f"{at(second).isoformat()},{name},{value:g}\n" for second, name, value in records]


def stamped(line: str) -> float:
    """The second of a line."""
    return (datetime.fromisoformat(line.split(",")[0]) - at(0)).total_seconds()


def test_a_finding_is_told_when_it_is_settled_and_not_before(tmp_path: Path) -> None:
    lines = small_log()
    come = [line for line in lines if stamped(line) < 50]
    source = Chunks(text_of(tuple(come)), [1 << 20], ends=False)
    told: dict[float, list[str]] = {}
    with closing(follower(source, tmp_path)) as one:
        for line in lines[len(come) :]:
            source.text += line.encode()
            one.step(0.0)
            for message in told_in(tmp_path)[sum(map(len, told.values())) :]:
                told.setdefault(stamped(line), []).append(message.occurrence["pattern"])
    # it was at 51 s; what follows decides it for ten seconds, and records may come two seconds late
    assert told == {65.0: ["drop_out"]}


def test_the_delay_is_said(tmp_path: Path) -> None:
    followed(Chunks(text_of(tuple(small_log())), [100]), tmp_path)
    message = told_in(tmp_path)[0]
    assert message.occurrence["pattern"] == "drop_out"
    assert 12.0 <= message.age_s <= 29.0  # the next look after 12 s: chunks of 100 bytes may hold 15 s
    assert 0.0 <= message.program_s < 30.0
    assert not message.going_on


def test_what_goes_on_is_told_and_told_again_when_it_ends(tmp_path: Path) -> None:
    """The brake's confirmation stays on at rest from 60 s to 110 s."""
    stuck = [(60.0, "hoist.brake.released", 1.0), (110.0, "hoist.brake.released", 0.0)]
    more = [(float(second), "alive", 1.0) for second in range(120, 150, 5)]
    followed(Chunks(text_of(tuple(small_log([*stuck, *more]))), [60]), tmp_path)
    mine = [message for message in told_in(tmp_path) if message.occurrence["pattern"] == "brake_confirmed_at_rest"]
    assert [(message.told, message.going_on) for message in mine] == [("found", True), ("changed", False)]
    assert mine[1].why == "it went on"
    assert mine[1].occurrence["end"] == at(110)
    assert mine[0].occurrence["end"] < at(95)


def test_what_is_only_possible_is_told_where_it_is_asked_for(tmp_path: Path) -> None:
    text = text_of(morning(1600))
    review = followed(Chunks(text, [1 << 20]), tmp_path / "certain")
    followed(Chunks(text, [1 << 20]), tmp_path / "possible", possible=True)
    certain, every = net(told_in(tmp_path / "certain")), net(told_in(tmp_path / "possible"))
    assert certain == occurrences(review, possible=False)
    assert every == occurrences(review, possible=True)
    assert len(every) > len(certain) > 5


def test_late_records_are_put_in_place_within_the_wait_and_reported_beyond_it(tmp_path: Path) -> None:
    lines = small_log()
    place = next(at for at, line in enumerate(lines) if "hoist.raise.contactor,0" in line and stamped(line) > 50)
    lines.insert(place + 3, lines.pop(place))  # it comes behind the record of 55 s
    text = text_of(tuple(lines))
    found = {}
    for wait_s in (10.0, 1.0):
        state = tmp_path / str(wait_s)
        review = followed(Chunks(text, [200]), state, wait_s=wait_s)
        found[wait_s] = {message.occurrence["pattern"] for message in told_in(state)}
        assert review.log.reordered == (wait_s == 10.0)
    assert found[10.0] == {"drop_out"}
    assert "clock_step" in found[1.0]


@settings(max_examples=4, deadline=None)
@given(
    sizes=st.lists(st.integers(1, 40_000), min_size=1, max_size=4),
    by_s=st.sampled_from([0.0, 1.9]),
    seed=st.integers(1, 3),
    possible=st.booleans(),
    back_s=st.sampled_from([0.0, 300.0, 7200.0]),
)
def test_it_is_the_review_of_the_whole_log(
    sizes: list[int], by_s: float, seed: int, possible: bool, back_s: float
) -> None:
    sizes = [size + 6000 for size in sizes]  # a look takes a while
    text = text_of(set_back(late(morning(1600), by_s, seed), 900, back_s))
    with TemporaryDirectory() as folder:
        review = followed(Chunks(text, sizes), Path(folder) / "state", possible=possible)
        whole = reviewed(text, Path(folder))
        assert review.to_json() == whole.to_json()
        assert net(told_in(Path(folder) / "state")) == occurrences(whole, possible=possible)


@settings(max_examples=3, deadline=None)
@given(
    deaths=st.lists(st.integers(1, 40), min_size=1, max_size=4), sizes=st.lists(st.integers(9000, 40_000), min_size=1)
)
def test_a_kill_at_any_step_loses_and_doubles_nothing(deaths: list[int], sizes: list[int]) -> None:
    text = text_of(morning(1600))
    with TemporaryDirectory() as name:
        folder = Path(name)
        for death in (*deaths, None):
            findings = Lines(folder / "findings.jsonl")
            one = None
            try:
                one = follower(Chunks(text, sizes), folder / "state", listeners=[findings], step=Dying(death))
                while one.step(0.0):
                    pass
                one.finish()
            except Killed:
                pass
            finally:
                findings.close()
                if one is not None:
                    one.close()
        whole = reviewed(text, folder)
        assert net(told_in(folder / "state")) == occurrences(whole, possible=False)
        assert (folder / "findings.jsonl").read_bytes() == (folder / "state" / "told.jsonl").read_bytes()


@settings(max_examples=3, deadline=None)
@given(
    cuts=st.lists(st.integers(100, 1500), min_size=1, max_size=3, unique=True),
    copied=st.booleans(),
    restart=st.booleans(),
)
def test_a_rotated_file_is_the_review_of_its_parts(cuts: list[int], copied: bool, restart: bool) -> None:
    lines = morning(1600)
    borders = [0, *sorted(cuts), len(lines)]
    with TemporaryDirectory() as name:
        path = Path(name) / "log.csv"
        one = follower(FileSource(path, every_s=0.0), Path(name) / "state")
        for number, (begin, end) in enumerate(itertools.pairwise(borders)):
            path.write_bytes(text_of(lines[begin:end])[:-1])
            for _ in range(8):
                one.step(0.0)
            with path.open("ab") as file:
                file.write(b"\n")
            if end < len(lines):
                old = path.with_name(f"log.csv.{number}")
                old.write_bytes(path.read_bytes()) if copied else path.rename(old)
            if restart:
                one.close()
                one = follower(FileSource(path, every_s=0.0), Path(name) / "state")
        for _ in range(8):
            one.step(0.0)
        review = one.finish()
        one.close()
        assert review is not None
        ours, whole = json.loads(review.to_json()), json.loads(reviewed(text_of(lines), Path(name)).to_json())
        files = ours.pop("source")["files"]
        assert len(files) == 1 or restart  # whoever has looked at a file knows the head of the next
        del whole["source"]
        assert ours == whole
        assert net(told_in(Path(name) / "state")) == occurrences(review, possible=False)


def test_most_looks_go_to_the_last_part_and_need_no_second_thought(tmp_path: Path) -> None:
    text = text_of(morning(1600))
    looks: list[bool] = []
    with closing(follower(Chunks(text, [9000]), tmp_path)) as one:
        at_part = one._looks.at_part

        def counted(paths: Sequence[Path]) -> Seen | None:
            seen = at_part(paths)
            looks.append(seen is not None)
            return seen

        one._looks.at_part = counted  # type: ignore[method-assign]
        while one.step(0.0):
            pass
        one.finish()
    assert sum(looks) > 2
    assert {message.why for message in told_in(tmp_path)} <= {"", "it went on"}


def test_it_goes_on_after_its_end(tmp_path: Path) -> None:
    lines = morning(1600)
    for part in (lines[:800], lines):
        review = followed(Chunks(text_of(part), [30_000]), tmp_path / "state")
    assert net(told_in(tmp_path / "state")) == occurrences(review, possible=False)
    assert review.to_json() == reviewed(text_of(lines), tmp_path).to_json()


def test_findings_of_another_record_are_no_place_to_go_on(tmp_path: Path) -> None:
    followed(Chunks(text_of(tuple(small_log())), [1 << 20]), tmp_path / "one", listeners=[Lines(tmp_path / "f.jsonl")])
    findings = Lines(tmp_path / "f.jsonl")
    with closing(findings), pytest.raises(EventlensError, match="findings of this record"):
        follower(Chunks(b"", [1]), tmp_path / "other", listeners=[findings])


@pytest.mark.parametrize(
    ("text", "got"),
    [
        (b"\x1f\x8b\x08\0\0\0\0\0\0\x03abcdef\n", "packed"),
        (b"SQLite format 3\0" + b"\0" * 100 + b"\n", "SQLite"),
        (b'[\n{"time": "2026-03-02T06:00:00Z", "tag": "K11", "state": 1}\n', "one JSON document"),
        (b"\0\x01\x02\x03\n\xff\xfe\x00" * 50, "binary"),
    ],
)
def test_what_cannot_grow_line_by_line_is_refused(text: bytes, got: str, tmp_path: Path) -> None:
    with closing(follower(Chunks(text, [1 << 20]), tmp_path)) as one, pytest.raises(EventlensError, match=got):
        one.step(0.0)


def test_what_is_no_log_yet_is_waited_for_and_said_once(tmp_path: Path) -> None:
    notes: list[str] = []
    lines = small_log()
    source = Chunks(HEADER.encode(), [1 << 20], ends=False)
    with closing(follower(source, tmp_path, note=notes.append)) as one:
        one.step(0.0)
        one.step(0.0)
        assert len(notes) == 1
        assert "only a header" in notes[0]
        source.text += "".join(lines).encode()
        one.step(0.0)
        assert [message.occurrence["pattern"] for message in told_in(tmp_path)] == ["drop_out"]


def test_nothing_came(tmp_path: Path) -> None:
    with closing(follower(Chunks(b"", [1]), tmp_path)) as one:
        assert one.finish() is None


def test_an_archive_gets_every_line_once(tmp_path: Path) -> None:
    lines = morning(1600)
    machine = tmp_path / "machine.toml"
    machine.write_text('[machine]\nid = "DOCK-5"\ngroup = "M3"\n')
    for part in (lines[:1000], lines):
        keeper = Keeper(str(tmp_path / "history"), str(machine))
        followed(Chunks(text_of(part), [20_000]), tmp_path / "state", keeper=keeper)
    archive = eventlens.Archive(tmp_path / "history")
    kept = json.loads(archive.review("DOCK-5").to_json())
    whole = json.loads(reviewed(text_of(lines), tmp_path).to_json())
    assert len(kept.pop("source")["files"]) > 1
    del whole["source"]
    assert kept == whole


def test_files_with_another_head_are_files_of_their_own(tmp_path: Path) -> None:
    path, lines = tmp_path / "log.csv", small_log()
    with closing(follower(FileSource(path, every_s=0.0), tmp_path / "state")) as one:
        for number, (begin, end) in enumerate(itertools.pairwise((0, 30, 50, len(lines)))):
            head = b"" if number < 2 else b"Export of DOCK-5\n"
            path.write_bytes(head + text_of(tuple(lines[begin:end])))
            for _ in range(6):
                one.step(0.0)
            path.rename(path.with_name(f"log.csv.{number}"))
        review = one.finish()
    assert review is not None
    assert [file.rows for file in review.log.files] == [50, len(lines) - 50]


def test_a_line_without_an_end_is_not_glued_to_the_next_file(tmp_path: Path) -> None:
    """It ended there for a while, and was rotated when it went on."""
    path, lines = tmp_path / "log.csv", small_log()
    path.write_bytes(text_of(tuple(lines[:40]))[:-1])
    followed(Ending(path), tmp_path / "state")
    with closing(follower(FileSource(path, every_s=0.0), tmp_path / "state")) as one:
        one.step(0.0)  # it has looked: it knows the head of the next
        path.rename(tmp_path / "log.csv.1")
        path.write_bytes(text_of(tuple(lines[40:])))
        for _ in range(6):
            one.step(0.0)
        review = one.finish()
    assert review is not None
    assert [(file.rows, file.rejected) for file in review.log.files] == [(len(lines), 0)]


def test_a_state_is_that_of_one_source(tmp_path: Path) -> None:
    followed(Chunks(text_of(tuple(small_log())), [1 << 20]), tmp_path / "state")
    with pytest.raises(EventlensError, match="a record of 'chunks'"):
        follower(FileSource(tmp_path / "log.csv"), tmp_path / "state")
