"""Which signal each name of the dump stands for: as the profile says, or because the name is a signal's own."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from eventlens import signals
from eventlens.reading.profile import Profile, Source

MappedBy = Literal["profile", "name", "unmapped"]


@dataclass(frozen=True)
class Mapped:
    """One name of the dump."""

    name: str
    source: Source | None
    by: MappedBy

    @property
    def signal(self) -> str | None:
        return self.source.signal if self.source else None

    @property
    def is_state(self) -> bool:
        return self.source is not None and self.source.signal in signals.STATES


def map_names(names: Iterable[str], profile: Profile) -> dict[str, Mapped]:
    """Each name with its signal; the profile goes before the name itself."""
    taken = {source.signal for source in profile.signals.values()}
    taken |= {source.signal for word in profile.words.values() for source in word.bits.values()}
    found: dict[str, Mapped] = {}
    for name in names:
        if name in profile.signals:
            found[name] = Mapped(name, profile.signals[name], "profile")
        elif name in signals.ALL and name not in taken:
            found[name] = Mapped(name, Source(signal=name), "name")
        else:
            found[name] = Mapped(name, None, "unmapped")
    return found
