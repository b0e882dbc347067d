"""Entries of the profile that contradict each other; faults name file, line and remedy."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from eventlens.reading.entries import Place, Source, sources_of

if TYPE_CHECKING:
    from eventlens.reading.profile import LogKeys, Profile

_ONLY_IN: Final = (
    # keys, layouts in which they mean something, what they are for
    (("came", "gone", "acknowledged"), ("messages",), "the states of messages"),
    (("begin", "end", "duration", "duration_unit"), ("runs",), "finished runs"),
    (("value",), ("changes", "messages"), "records with a name and a value"),
    (("name",), ("changes", "messages", "runs"), "records with a name"),
)


def check_log(log: LogKeys, place: Place) -> None:
    """Keys that contradict each other."""
    for keys, layouts, what in _ONLY_IN:
        for key in keys:
            if log.layout is not None and log.layout not in layouts and getattr(log, key):
                raise place.inside("log", key).error(
                    f"only keys of the layout {log.layout}",
                    f"'{key}', which is for {what}",
                    f'remove it, or state layout = "{layouts[0]}"',
                )
    if log.good and log.quality is None:
        raise place.inside("log", "good").error("'quality' beside 'good'", "'good' alone", "name the column in quality")
    if log.layout == "runs" and (log.begin or log.end or log.duration):
        stated = [key for key in ("begin", "end", "duration") if getattr(log, key)]
        if len(stated) < 2 and not (log.time and stated != ["begin"]):
            raise place.inside("log", stated[0]).error(
                "two of begin, end and duration", f"only '{stated[0]}'", "name the other column too"
            )
    words = [{word.strip().lower() for word in part} for part in (log.came, log.gone, log.acknowledged)]
    twice = (words[0] & words[1]) | (words[0] & words[2]) | (words[1] & words[2])
    if twice:
        raise place.inside("log", "came").error(
            "different words in came, gone and acknowledged", f"'{sorted(twice)[0]}' twice", "keep one of them"
        )


def one_name_each(profile: Profile, place: Place) -> None:
    """Two names may drive one signal only where their records themselves say on or off (`sets`)."""
    seen: dict[str, tuple[str, Source]] = {}
    entries: list[tuple[tuple[str, ...], Source]]
    entries = [(("signals", name), s) for name, entry in profile.signals.items() for s in sources_of(entry)]
    entries += [(("words", w, key), source) for w, word in profile.words.items() for key, source in word.sources()]
    entries += [(("messages", name), s) for name, entry in profile.messages.items() for s in sources_of(entry)]
    for at, source in entries:
        name, other = seen.get(source.signal, ("", None))
        if other is not None and (source.sets is None or other.sets is None):
            raise place.inside(*at).error(
                "one name for each signal",
                f"'{name}' and '{'.'.join(at[1:])}' for {source.signal}",
                "keep one of them, or give both 'sets'",
            )
        seen[source.signal] = (".".join(at[1:]), source)
