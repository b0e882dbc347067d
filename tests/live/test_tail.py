"""The last part of a record says what the whole record says, where it may speak at all."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eventlens.live import tail
from eventlens.live.looks import Looks, Seen
from eventlens.patterns import catalogue
from eventlens.reading import Profile
from tests.live.stories import MACHINE, late, morning, said, text_of


def both_looks(text: bytes, folder: Path, most: int, profile: Profile | None = None) -> tuple[Seen, Seen, tail.Cut]:
    """A look at the whole and one at a last part of so many lines; the part is of the very same record."""
    path = folder / "record" / "000001" / "log.csv"
    path.parent.mkdir(parents=True)
    path.write_bytes(text)
    looks = Looks(profile or Profile(), MACHINE, folder)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(tail, "MOST_LINES", most)
        whole = looks.at_whole([path])
        assert looks.cut is not None
        cut = looks.cut
        part = looks.at_part([path])
    assert part is not None
    return whole, part, cut


def may_speak(seen: Seen, cut: tail.Cut) -> list[str]:
    """The occurrences of which a part from this cut on may say something, with their lines."""
    far = {name: pattern.look_back_s for name, pattern in catalogue().items() if pattern.settles_s <= 3600}
    found = []
    for one in seen.found.to_dicts():
        back = far.get(one["pattern"])
        if back is not None and (one["start"] - cut.begin).total_seconds() >= back:
            found.append(f"{said(one)} {one['rows']}")
    return sorted(found)


def as_samples(lines: tuple[str, ...]) -> bytes:
    """The same record as a column for each signal: a row for each instant."""
    rows = [line.strip().split(",") for line in lines]
    frame = pl.DataFrame(rows, schema=["time", "name", "value"], orient="row").with_row_index("at")
    wide = frame.pivot("name", index="time", values="value", aggregate_function="last", maintain_order=True)
    return wide.fill_null(strategy="forward").drop("heartbeat").write_csv().encode()


def as_json_lines(lines: tuple[str, ...]) -> bytes:
    rows = [line.strip().split(",") for line in lines]
    return "".join(json.dumps({"time": t, "signal": n, "value": float(v)}) + "\n" for t, n, v in rows).encode()


@settings(max_examples=8, deadline=None)
@given(most=st.integers(300, 1500), by_s=st.sampled_from([0.0, 1.9]), seed=st.integers(1, 3))
def test_a_part_says_what_the_whole_says(most: int, by_s: float, seed: int) -> None:
    text = text_of(late(morning(), by_s, seed))
    with TemporaryDirectory() as folder:
        whole, part, cut = both_looks(text, Path(folder), most)
        assert may_speak(part, cut) == may_speak(whole, cut)
        assert part.end == whole.end


def test_a_part_of_enough_lines_has_much_to_say(tmp_path: Path) -> None:
    whole, part, cut = both_looks(text_of(morning()), tmp_path, 1500)
    assert len(may_speak(part, cut)) > 10
    assert len(may_speak(whole, cut)) < whole.found.height  # and not of everything
    assert cut.row > 1000


@pytest.mark.parametrize("written", [as_samples, as_json_lines])
def test_other_layouts_and_containers(written: object, tmp_path: Path) -> None:
    assert callable(written)
    whole, part, cut = both_looks(written(morning()), tmp_path, 700)
    assert may_speak(part, cut) == may_speak(whole, cut)
    assert len(may_speak(part, cut)) > 3


def test_a_head_of_several_lines_is_repeated(tmp_path: Path) -> None:
    head = b"Export of DOCK-5\nmade by the logger\n\n"
    whole, part, cut = both_looks(head + text_of(morning()), tmp_path, 700)
    assert cut.head == len(head) + len(text_of(()))
    assert may_speak(part, cut) == may_speak(whole, cut)


def test_a_part_that_cannot_be_dated_by_itself_is_not_looked_at(tmp_path: Path) -> None:
    """Stamps without a date: midnight shows in the whole record only."""
    lines = [f"{line[11:23]}{line[line.index(',') :]}" for line in morning()]
    night = [f"{hour:02d}:{minute:02d}:00.000,heartbeat,1\n" for hour in range(24) for minute in range(60)]
    path = tmp_path / "log.csv"
    path.write_bytes(text_of((*night, *lines)))
    profile = Profile(log=Profile().log.model_copy(update={"date": date(2026, 3, 1)}))
    looks = Looks(profile, MACHINE, tmp_path)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(tail, "MOST_LINES", 700)
        seen = looks.at_whole([path])
    assert seen.found.height > 10
    assert looks.cut is None
    assert looks.at_part([path]) is None


def test_where_lines_begin(tmp_path: Path) -> None:
    path = tmp_path / "log"
    path.write_bytes(b"a\nbc\r\n\ndef")
    assert [tail.offset_of(path, line) for line in range(1, 5)] == [0, 2, 6, 7]
    assert tail.offset_of(path, 4, (2, 2)) == 7
