"""Following a machine as it runs: more of a record comes as time goes by, findings appear as they become certain.

Whoever follows must in the end say what a review of the whole record says. So there is no second implementation of
anything: what came is kept as it came, and looks are reviews of its last part or of all of it.
"""

from __future__ import annotations

from eventlens.live.board import Board
from eventlens.live.follow import Follower
from eventlens.live.journal import Lines, Listener, as_json
from eventlens.live.keep import Keeper, machine_in
from eventlens.live.sources import Batch, Following, Position, Source, open_source
from eventlens.live.telling import listener
from eventlens.live.told import Message
from eventlens.live.wait import profile_with, wait_of

__all__ = [
    "Batch",
    "Board",
    "Follower",
    "Following",
    "Keeper",
    "Lines",
    "Listener",
    "Message",
    "Position",
    "Source",
    "as_json",
    "listener",
    "machine_in",
    "open_source",
    "profile_with",
    "wait_of",
]
