"""Takes the words of those who no longer follow out of an archive, where nothing is lost with them.

A folder in ARCHIVE/following holds a word and a copy of what was told. It may go when nobody has spoken for a week and
the state folder can be read here and still begins with all that the copy says: whoever goes on then writes both anew.
Where the state folder is gone, or lies on another computer, the copy may be the last that there is, and stays.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final

from eventlens.archive.place import FOLLOWING, address, folder_of
from eventlens.errors import EventlensError
from eventlens.live import word

KEPT: Final = timedelta(days=7)
"""As long as files that the archive needs no longer (lake.Lake.sweep)."""
_BLOCK: Final = 1 << 20


def sweep(archive: str | Path, now: datetime | None = None) -> int:
    """How many files it has deleted."""
    place, now = folder_of(address(archive)), now or datetime.now(UTC)
    boards = [] if place is None else [board for board in word.boards(place) if board.parent.name == FOLLOWING]
    return sum(_cleared(board) for board in boards if _may_go(board, now))


def _may_go(board: Path, now: datetime) -> bool:
    try:
        said = word.read(board)
        return now - said.at > KEPT and _begins_with(Path(said.state) / word.TOLD, board / word.TOLD)
    except (EventlensError, OSError):
        return False


def _begins_with(journal: Path, copy: Path) -> bool:
    """Whether all of a copy stands at the head of the journal; OSError where the journal cannot be read."""
    if not copy.exists():
        return True
    with journal.open("rb") as whole, copy.open("rb") as part:
        while block := part.read(_BLOCK):
            if whole.read(len(block)) != block:
                return False
    return True


def _cleared(board: Path) -> int:
    """Files of a folder that were deleted, the word last; what somebody else has put there stays, and the folder."""
    gone = 0
    try:
        for name in (word.TOLD, f"{word.WORD}.new", word.WORD):
            if (path := board / name).exists():
                path.unlink()
                gone += 1
        board.rmdir()
    except OSError:
        pass
    return gone
