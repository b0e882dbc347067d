"""What can be followed: one module for each kind of source; `_base` says what a source is."""

from __future__ import annotations

from eventlens.live.sources._base import Batch, Position, Source

__all__ = ["Batch", "Position", "Source"]
