"""Where whole lines end in bytes that are still coming."""

from __future__ import annotations

from typing import Final

LONGEST_LINE: Final = 1 << 16
"""Bytes of a line that is only half there which are waited for; more of it is no line (common practice, no source)."""


def end_of_lines(text: bytes, head: bytes, before: int) -> int:
    """How many bytes of `text` are whole lines.

    head: the first bytes of the file, which show characters of two bytes; before: bytes of the file before `text`.
    """
    if len(text) > LONGEST_LINE and b"\n" not in text[-LONGEST_LINE:]:
        return len(text)
    if wide(head):
        mark = b"\n\0" if head[1:2] == b"\0" or head.startswith(b"\xff\xfe") else b"\0\n"
        end = len(text)
        while (at := text.rfind(mark, 0, end)) >= 0 and (at + before) % 2:
            end = at + 1
        return at + 2 if at >= 0 else 0
    return max(text.rfind(b"\n"), -1 if b"\n" in text else text.rfind(b"\r")) + 1


def wide(head: bytes) -> bool:
    """Whether a text that begins so has characters of two bytes: it says so, or every other byte is mostly 0."""
    empty = [2 * side.count(0) > len(side) for side in (head[::2], head[1::2])]
    return head.startswith((b"\xff\xfe", b"\xfe\xff")) or empty[0] != empty[1]
