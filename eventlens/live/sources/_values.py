"""Values of a server as text of a cell."""

from __future__ import annotations

import math
from datetime import datetime
from enum import Enum
from typing import Any


class NotOneValueError(ValueError):
    """Why a value is none that a row may hold, for people."""


def as_text(value: Any) -> str | None:
    """A value as text; None where it is unknown: none, or not a number."""
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return None
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Enum):
        return str(value.value)
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, datetime):
        return value.isoformat()
    text = value if isinstance(value, str) else getattr(value, "Text", None)
    if not isinstance(text, str):
        raise NotOneValueError("the value is a list or a structure")
    if not text.strip():
        raise NotOneValueError("empty value")
    return text.strip()
