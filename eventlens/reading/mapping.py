"""Which signals each name of the dump stands for: as the profile says, or because the name is a signal's own."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from eventlens import signals
from eventlens.reading.profile import Profile, Source, sources_of

MappedBy = Literal["profile", "name", "unmapped"]


@dataclass(frozen=True)
class Mapped:
    """One name of the dump with one of its signals."""

    name: str
    source: Source | None
    by: MappedBy
    others: tuple[Source, ...] = ()
    """Further signals that the same name tells."""

    @property
    def signal(self) -> str | None:
        return self.source.signal if self.source else None

    @property
    def is_state(self) -> bool:
        return self.source is not None and self.source.signal in signals.STATES

    def each(self) -> list[Mapped]:
        """One entry for each of its signals."""
        return [Mapped(self.name, self.source, self.by), *(Mapped(self.name, o, self.by) for o in self.others)]


def map_names(names: Iterable[str], profile: Profile) -> dict[str, Mapped]:
    """Each name with its signals; the profile goes before the name itself."""
    taken = taken_signals(profile)
    found: dict[str, Mapped] = {}
    for name in names:
        if name in profile.signals:
            first, *others = sources_of(profile.signals[name])
            found[name] = Mapped(name, first, "profile", tuple(others))
        elif name in signals.ALL and name not in taken:
            found[name] = Mapped(name, Source(signal=name), "name")
        else:
            found[name] = Mapped(name, None, "unmapped")
    return found


def taken_signals(profile: Profile) -> set[str]:
    """The signals that the profile gives to some name."""
    entries = [*profile.signals.values(), *profile.messages.values()]
    found = {source.signal for entry in entries for source in sources_of(entry)}
    return found | {source.signal for word in profile.words.values() for _, source in word.sources()}


def spread(mapped: Sequence[Mapped]) -> tuple[list[Mapped], list[tuple[int, int]]]:
    """One entry for each name and signal: first each name's first signal in the order given, then the further ones.

    Also gives the position of each further entry's name, and its own position.
    """
    entries = [Mapped(m.name, m.source, m.by) for m in mapped]
    further: list[tuple[int, int]] = []
    for at, m in enumerate(mapped):
        for other in m.others:
            further.append((at, len(entries)))
            entries.append(Mapped(m.name, other, m.by))
    return entries, further
