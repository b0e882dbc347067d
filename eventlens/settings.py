"""Loads a TOML settings file into a checked model; every fault is one sentence with file, line and remedy."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ConfigDict, ValidationError

from eventlens.errors import EventlensError, nearest


class Settings(BaseModel):
    """Base of all settings: unknown keys are errors, values are never changed after loading."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=False)


M = TypeVar("M", bound=Settings)


def load(path: str | Path, model: type[M], error: type[EventlensError]) -> M:
    """The settings in a TOML file, or `error` naming file, line and remedy."""
    content, text = read(path, error)
    return parse(content, model, error, file=Path(path), text=text)


def read(path: str | Path, error: type[EventlensError]) -> tuple[dict[str, Any], str]:
    """What a TOML file holds, and its text; or `error` naming file, line and remedy."""
    path = Path(path)
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except OSError as fault:
        raise error("a settings file", fault.strerror or str(fault), "check the path", file=path) from None
    except UnicodeDecodeError:
        raise error("a text file in UTF-8", "other bytes", "save it as UTF-8", file=path) from None
    try:
        return tomllib.loads(text), text
    except tomllib.TOMLDecodeError as fault:
        found = re.search(r"at line (\d+)", str(fault))
        line = int(found.group(1)) if found else None
        raise error("TOML", str(fault), "correct this line", file=path, line=line) from None


def parse(
    content: dict[str, Any],
    model: type[M],
    error: type[EventlensError],
    *,
    file: Path | None = None,
    text: str = "",
    at: tuple[str, ...] = (),
) -> M:
    """The settings in a dictionary, checked against the model; `at` is where in the file the dictionary stands."""
    try:
        return model.model_validate(content)
    except ValidationError as fault:
        # a mistyped key explains the one that is missing, not the other way round
        first = min(fault.errors(), key=lambda one: one["type"] != "extra_forbidden")
        where = [*at, *(str(part) for part in first["loc"])]
        line = line_of(text, where)
        key = where[-1] if where else "?"
        if first["type"] == "extra_forbidden":
            known = _keys_at(model, where[len(at) : -1])
            inside = f" in [{'.'.join(where[:-1])}]" if where[:-1] else ""
            raise error(f"a known key{inside}", f"'{key}'", nearest(key, known), file=file, line=line) from None
        if first["type"] == "missing":
            line = line_of(text, where[:-1])
            raise error(f"'{'.'.join(where)}'", "nothing", "add it", file=file, line=line) from None
        got = first["input"]
        raise error(
            f"'{'.'.join(where)}' as {_plain(first['msg'])}",
            repr(got) if not isinstance(got, dict) else "a table",
            "correct the value",
            file=file,
            line=line,
        ) from None


def line_of(text: str, where: list[str]) -> int | None:
    """The line of a TOML text on which the key of a path stands (its table is looked for first).

    Tables of a list are counted from 0: the third [[a.b]] is the path a, b, 2.
    """
    section: list[str] = []
    fallback = None
    listed: dict[str, int] = {}
    for number, raw in enumerate(text.splitlines(), 1):
        line = raw.strip()
        if head := re.match(r"(\[+)\s*([^\]]+?)\s*\]+", line):
            section = [part.strip().strip("\"'") for part in re.findall(r'"[^"]*"|[^.]+', head.group(2))]
            if head.group(1) == "[[":
                listed[head.group(2)] = listed.get(head.group(2), -1) + 1
                section.append(str(listed[head.group(2)]))
            if section == where:
                return number
        elif found := re.match(r"(\"[^\"]*\"|'[^']*'|[^=]+?)\s*=", line):
            key = found.group(1).strip().strip("\"'")
            path = [*section, key]
            if path == where or (len(where) > len(path) and where[: len(path)] == path):
                return number
            if where and key == where[-1]:
                fallback = fallback or number
    return fallback


def _keys_at(model: type[BaseModel], where: list[str]) -> set[str]:
    """The keys that a model knows at a path."""
    for part in where:
        if part.isdigit():  # the place in a list: its model was taken with the list
            continue
        field = model.model_fields.get(part)
        named = (field.annotation, *get_args(field.annotation)) if field else ()
        inner = next((one for one in named if isinstance(one, type) and issubclass(one, BaseModel)), None)
        if inner is None:
            return set(model.model_fields)
        model = inner
    return {field.alias or name for name, field in model.model_fields.items()}


def _plain(message: str) -> str:
    return re.sub(r"^(Value error, |Input should be )", "", message)
