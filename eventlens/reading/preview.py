"""What each name of a dump did, before anybody has said what it stands for: to look at while signals are stated."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import polars as pl

from eventlens import schema
from eventlens.reading.assemble import draft
from eventlens.reading.inspection import Inspection, inspected
from eventlens.reading.profile import Profile
from eventlens.reading.suggest import Proposal, profile_text
from eventlens.reading.suggest.tracks import tracks_of

BY_HAND = "stated by hand"


@dataclass(frozen=True)
class Choice:
    """What somebody says a name stands for."""

    signal: str | None
    """None: nothing that is of use here."""
    invert: bool = False
    """1 in the dump means off."""


@dataclass(frozen=True)
class Preview:
    """A dump with the course of each of its names."""

    inspection: Inspection
    tracks: Mapping[str, pl.DataFrame]
    """Name -> (time: UTC, value: number, null where unknown), a row for each change; of the first million rows, with
    the clock's steps taken out. Messages, and lists of finished runs, have none."""

    def choices(self) -> dict[str, Choice]:
        """What would be taken for each name if nobody said anything."""
        proposed = {one.name: one for one in self.inspection.proposals}
        found = {}
        for name in self.names():
            seen = next((one.signal for one in self.inspection.names if one.name == name), None)
            one = proposed.get(name)
            found[name] = Choice(seen or (one.signal if one else None), bool(one and one.invert))
        return found

    def names(self) -> list[str]:
        """Every name for which a signal can be stated: names as they stand in the dump, bits of words by themselves."""
        words = {place[0] for place in self.inspection.places.values() if place}
        seen = [one.name for one in self.inspection.names if one.name not in words]
        return list(dict.fromkeys([*seen, *self.inspection.places]))

    def profile_text(self, choices: Mapping[str, Choice], log_keys: Mapping[str, Any] | None = None) -> str:
        """A profile (TOML) that reads the dump as the choices say; names that are left out stay as proposed.

        log_keys: further keys of [log]; those that are None state nothing.
        """
        proposed = {one.name: one for one in self.inspection.proposals}
        each, mapped = [], {}
        for name, choice in (self.choices() | dict(choices)).items():
            one = proposed.get(name) or Proposal(name, None, invert=False, confidence=1.0, reason=BY_HAND)
            if name in self.inspection.places or choice.invert:
                if (one.signal, one.invert) != (choice.signal, choice.invert):
                    one = replace(one, confidence=1.0, reason=BY_HAND)
                each.append(replace(one, signal=choice.signal, invert=choice.invert))
            elif choice.signal:
                mapped[name] = choice.signal
        keys = dict(self.inspection.log_keys) | {key: one for key, one in (log_keys or {}).items() if one is not None}
        if any(self.inspection.places.get(one.name) for one in each if one.signal) and keys.get("layout") == "samples":
            keys["layout"] = "words"
        return profile_text(keys, each, self.inspection.places, mapped, self.inspection.file)


def preview(paths: str | Path | Sequence[str | Path], profile: Profile | None = None) -> Preview:
    """A dump as it is before its signals are stated. Errors as for `inspect`."""
    given, profile = (
        [Path(paths)] if isinstance(paths, str | Path) else [Path(one) for one in paths],
        profile or Profile(),
    )
    found = draft(given, profile)
    looked = inspected(found, profile)
    layout = found.shape.layout
    tracks = tracks_of(found.stretches, profile, layout) if layout in ("changes", "samples", "words") else []
    courses = {
        one.name: pl.DataFrame(
            {"time": pl.Series(one.time).cast(schema.TIME), "value": pl.Series(one.value).fill_nan(None)}
        )
        for one in tracks
    }
    return Preview(looked, courses)
