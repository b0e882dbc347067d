"""Writes the generated parts of README.md anew: what stands between a pair of marks comes from the program.

python -m tests.readme
"""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Final

from eventlens.report import catalogue

README: Final = Path(__file__).parent.parent / "README.md"
PARTS: Final[dict[str, Callable[[], str]]] = {"catalogue": catalogue.markdown}
"""Name of a mark -> the text between its pair."""


def renewed(text: str) -> str:
    """The text with every generated part as the program writes it today. ValueError where marks are missing."""
    for name, write in PARTS.items():
        part = re.compile(rf"(<!-- {name} -->\n).*?(<!-- end of {name} -->)", flags=re.DOTALL)
        if not part.search(text):
            raise ValueError(f"wanted the marks of '{name}' in README.md, got none; put them back")
        text = part.sub(lambda found: f"{found[1]}{write()}{found[2]}", text)  # noqa: B023 -- used at once
    return text


if __name__ == "__main__":
    README.write_text(renewed(README.read_text("utf-8")), "utf-8")
