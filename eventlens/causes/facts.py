"""Loads what is known about causes: the project's own files, and one of the user's that replaces or adds to it.

A user's file has the same tables: [causes.NAME], [evidence.NAME], [checks.NAME], [cautions.NAME], [undecided.NAME] and
[strengths]. Tables are merged key by key, so that a file may hold a single prior; lists are replaced as a whole.
"""

from __future__ import annotations

import tomllib
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any, Final, NamedTuple

from eventlens import settings
from eventlens.causes.models import Cause, Caution, Check, Evidence, Knowledge, Strengths, Undecided
from eventlens.causes.verify import Place, verify
from eventlens.errors import KnowledgeError, nearest

FILES: Final = ("causes", "evidence", "checks", "cautions")
SECTIONS: Final[dict[str, type[settings.Settings]]] = {
    "cautions": Caution,
    "checks": Check,
    "evidence": Evidence,
    "causes": Cause,
    "undecided": Undecided,
}
KNOWN: Final = (*SECTIONS, "strengths")


class _Source(NamedTuple):
    """A file with what it holds."""

    file: Path
    text: str
    content: dict[str, Any]


def load_knowledge(extra: Path | str | None = None) -> Knowledge:
    """What is known about causes, with what a user's file replaces and adds.

    The project's own is loaded once. Raises KnowledgeError, naming file, line, key and remedy, for anything that is
    unknown, out of range or does not fit together.
    """
    return _default() if extra is None else _built([*_own(), _users(Path(extra))])


@cache
def _default() -> Knowledge:
    return _built(list(_own()))


@cache
def _own() -> tuple[_Source, ...]:
    folder = resources.files("eventlens.causes") / "knowledge"
    texts = {f"{name}.toml": (folder / f"{name}.toml").read_text("utf-8") for name in FILES}
    return tuple(_Source(Path(name), text, tomllib.loads(text)) for name, text in texts.items())


def _users(path: Path) -> _Source:
    content, text = settings.read(path, KnowledgeError)
    for section, entries in content.items():
        inside = entries if isinstance(entries, dict) else {}
        line = settings.line_of(text, [section]) or settings.line_of(text, [section, *list(inside)[:1]])
        if section not in KNOWN:
            raise KnowledgeError("a known table", f"'{section}'", nearest(section, KNOWN), file=path, line=line)
        whole = section == "strengths"
        wrong = [] if whole else [key for key, entry in inside.items() if not isinstance(entry, dict)]
        if not isinstance(entries, dict) or wrong:
            example = "[strengths]" if whole else f"[{section}.NAME]"
            line = settings.line_of(text, [section, *wrong[:1]])
            raise KnowledgeError(
                f"tables {example}", f"something else in '{section}'", "write it as such", file=path, line=line
            )
    return _Source(path, text, content)


def _built(sources: list[_Source]) -> Knowledge:
    merged: dict[str, Any] = {}
    replaced: list[str] = []
    added: list[str] = []
    for source in sources:
        replaced, added = [], []  # only the last source can be the user's, and the own files share no key
        _merge(merged, source.content, "", replaced, added)
    places = {
        (section, key): source for source in sources for section in source.content for key in source.content[section]
    }

    def place(section: str, key: str, *path: str) -> Place:
        source = places.get((section, key), sources[0])
        return Place(source.file, settings.line_of(source.text, [section, key, *path]))

    knowledge = Knowledge(
        **{section: _entries(merged, section, places) for section in SECTIONS},
        strengths=_strengths(merged["strengths"], sources),
        replaced=tuple(replaced),
        added=tuple(added) if len(sources) > len(FILES) else (),
    )
    verify(knowledge, place)
    return knowledge


def _entries(merged: dict[str, Any], section: str, places: dict[tuple[str, str], _Source]) -> dict[str, Any]:
    return {
        key: settings.parse(
            entry,
            SECTIONS[section],
            KnowledgeError,
            file=places[section, key].file,
            text=places[section, key].text,
            at=(section, key),
        )
        for key, entry in merged[section].items()
    }


def _strengths(content: dict[str, Any], sources: list[_Source]) -> Strengths:
    last = next(source for source in reversed(sources) if "strengths" in source.content)
    return settings.parse(content, Strengths, KnowledgeError, file=last.file, text=last.text, at=("strengths",))


def _merge(into: dict[str, Any], new: dict[str, Any], path: str, replaced: list[str], added: list[str]) -> None:
    """Puts `new` into `into`, table by table, and notes the paths of values replaced and of what was not there."""
    for key, value in new.items():
        here = f"{path}.{key}" if path else key
        if key not in into:
            into[key] = _copy(value)
            added.append(here)
        elif isinstance(into[key], dict) and isinstance(value, dict):
            _merge(into[key], value, here, replaced, added)
        elif into[key] != value:
            into[key] = value
            replaced.append(here)


def _copy(value: Any) -> Any:
    return {key: _copy(inner) for key, inner in value.items()} if isinstance(value, dict) else value
