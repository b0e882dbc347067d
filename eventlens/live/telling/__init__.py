"""Where messages about findings go, besides files (`live.journal.Lines`): one module for each kind of address.

eventlens follow saw-3.csv --findings mqtt://broker.example/quay/saw-3/findings
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from eventlens.live.journal import Lines, Listener
from eventlens.live.telling.mqtt import SCHEMES, BrokerListener

__all__ = ["BrokerListener", "is_address", "listener"]


def is_address(text: str) -> bool:
    """Whether a text is an address that findings can be told to, not the path of a file."""
    return text.partition("://")[0] in SCHEMES and "://" in text


def listener(where: str, state: Path, note: Callable[[str], None] = lambda sentence: None) -> Listener:
    """Who is told at an address or in a file. state: the folder of what must survive; note: is told what happens."""
    return BrokerListener(where, state, note) if is_address(where) else Lines(Path(where))
