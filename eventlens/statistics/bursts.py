"""Events that come in bursts, and how much less than their number they say.

A loose contact fails five times in a minute and then holds for a day. Such events are not independent, and an interval
that takes them for so is too narrow. Time is therefore parted into blocks, and the counts of the blocks are held
against what a rate without bursts would give them: the variance of the whole count is about the sum of (x - r n)^2 over
the blocks, with x events and n use in a block and the rate r (the ratio estimate of cluster sampling: Cochran, Sampling
Techniques, chapter 6: from memory). Over the count itself, the variance of independent events, it is the spread.

Rates stay those of all events: half of the work still means half of the events, and only the intervals widen. Counting
bursts in place of events would not do: where a fault shows in every run, a burst lasts as long as people work, and less
work in the same hours would look like a worse fault.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from eventlens.limits import limit


@dataclass(frozen=True)
class BurstParameters:
    """How long a burst may last."""

    burst_block_s: float = limit(
        3600.0,
        "s",
        "common practice, no source: what a warm coil or a shaken contact does is over within the hour",
        "raising it allows for longer bursts but knows their size less well; lowering it takes the parts of one burst "
        "for several faults, which makes chance look like a change",
    )


def spread(sides: Iterable[tuple[Sequence[int], Sequence[float]]]) -> float:
    """Variance of counts over their mean, 1 or more, from all sides of a comparison together.

    Each side: events and use of its blocks, one beside the other, each side with a rate of its own. Less than 1 counts
    as 1: faults that come more evenly than chance are not made use of. Where no block holds two events there is no
    burst, and it is 1. All events of a side with one block may be one burst.
    """
    known = list(sides)
    if max((count for counts, _ in known for count in counts), default=0) < 2:
        return 1.0
    variance = events = 0.0
    for counts, uses in known:
        count, use, blocks = sum(counts), sum(uses), len(counts)
        events += count
        if blocks < 2 or use <= 0:
            variance += count**2
        else:
            squares = sum((x - count / use * n) ** 2 for x, n in zip(counts, uses, strict=True))
            variance += squares * blocks / (blocks - 1)
    return max(1.0, variance / events)
