"""How patterns of machines are called on the pages, and their keys in addresses."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from eventlens import patterns


def key_of(row: Mapping[str, Any]) -> str:
    """Key of a pattern at a place, as 'drop_out/hoist' or 'emergency_stop_running'."""
    return f"{row['pattern']}/{row['motion']}" if row["motion"] else str(row["pattern"])


def parts_of(key: str) -> tuple[str, str | None]:
    """Pattern and motion of a key."""
    pattern, _, motion = key.partition("/")
    return pattern, motion or None


def series_name(row: Mapping[str, Any]) -> str:
    """A pattern at a place in words."""
    title = patterns.catalogue()[row["pattern"]].title
    return f"{row['motion']}: {title}" if row["motion"] else title
