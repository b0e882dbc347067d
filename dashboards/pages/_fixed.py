"""Parts that never change, handed to the browser as one component."""

from __future__ import annotations

from typing import Any

from dash.development.base_component import Component


class Fixed(Component):
    """Parts without ids and callbacks, drawn at one stroke (assets/fixed.js).

    The library looks at every component of a page whenever anything changes; some hundred texts and cells would take
    the browser longer than the answer to what the reader did. Of these it looks at one. With an id, `parts` may be the
    output of a callback; parts with a key then stay what they are when others come before them, and keep the focus.
    """

    _namespace = "dashboards"
    _type = "Fixed"

    def __init__(self, *parts: Any, part_id: str | None = None) -> None:
        self._prop_names = ["id", "parts"]
        self._valid_wildcard_attributes = []
        super().__init__(**({} if part_id is None else {"id": part_id}), parts=list(parts))  # type: ignore[no-untyped-call]
