"""Parts that never change, handed to the browser as one component."""

from __future__ import annotations

from typing import Any

from dash.development.base_component import Component


class Fixed(Component):
    """Parts without ids and callbacks, drawn at one stroke (assets/fixed.js).

    The library looks at every component of a page whenever anything changes; some hundred texts and cells would take
    the browser longer than the answer to what the reader did. Of these it looks at one.
    """

    _namespace = "dashboards"
    _type = "Fixed"

    def __init__(self, *parts: Any) -> None:
        self._prop_names = ["parts"]
        self._valid_wildcard_attributes = []
        super().__init__(parts=list(parts))  # type: ignore[no-untyped-call]
