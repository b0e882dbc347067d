"""Which bits belong to one motion: its two directions, fast and brake, told from how their edges lie.

A contactor follows its command within some tens of milliseconds and ends just after it; a brake is released 50 to 400
ms after either direction has begun and falls after its end; fast lies within the runs of both directions. Times: common
practice for contactor hoists.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import combinations
from typing import Final

import numpy as np

from eventlens.reading.suggest.bits import Bit
from eventlens.reading.suggest.edges import Relation, exclusive, next_after, relation
from eventlens.reading.suggest.parts import Channel, Group, Relations
from eventlens.reading.suggest.roles import group_of, halves_of

FEWEST_RUNS: Final = 6
LONGEST_RUN_US: Final = 600_000_000
BUSIEST: Final = 0.6
"""Share of the time above which a bit is no motion's."""
TWIN_RISE_S: Final = 0.09
TWIN_FALL_S: Final = 0.06
HELD: Final = 0.93
"""Share of a follower's starts that must lie within the runs of the two directions."""
EACH: Final = 0.08
QUICK_S: Final = 0.8
"""A reversal within this is one person's correction of one motion."""


def is_active(bit: Bit) -> bool:
    """Whether a bit may be part of a motion: it comes and goes, for seconds, and rests most of the time."""
    if bit.count < FEWEST_RUNS or not 0 < bit.share <= BUSIEST:
        return False
    if float(np.median(bit.end - bit.start)) > LONGEST_RUN_US:
        return False
    gaps = np.diff(bit.start)
    return not float(np.quantile(gaps, 0.75)) <= 1.05 * float(np.quantile(gaps, 0.25)) + 1  # a sign of life


def find_groups(bits: Sequence[Bit], step_s: float) -> list[Group]:
    """The motions among active bits, the busiest first."""
    by_name = {bit.name: bit for bit in bits}
    relations = {(a.name, b.name): relation(a, b) for a in bits for b in bits if a is not b}
    twins = _twins(list(by_name), relations, step_s)
    channels = [*twins, *((name,) for name in by_name if not any(name in twin for twin in twins))]
    channels = sorted(channels)
    pairs = _pairs(channels, by_name, relations, step_s)
    used = {name for pair in pairs for channel in (pair[0], pair[1]) for name in channel}
    used |= {name for pair in pairs for name in pair[2]}
    rest = [channel for channel in channels if not set(channel) & used]
    pairs += [(x, y, ()) for x, y in _reversing(rest, by_name)]
    used |= {name for pair in pairs for channel in (pair[0], pair[1]) for name in channel}
    groups = [group_of(x, y, z, by_name, relations, step_s) for x, y, z in pairs]
    rest = [channel for channel in channels if not set(channel) & used]
    groups += halves_of(rest, by_name, relations, step_s)
    _same_layer(groups)
    return sorted(groups, key=lambda group: -sum(part.bit.count for part in group.parts))


def _twins(names: Sequence[str], relations: Relations, step_s: float) -> list[Channel]:
    """Commands with their contactors, the closest first."""
    close: list[tuple[float, str, str]] = []
    for a in names:
        for b in names:
            if a != b and _is_twin(relations[a, b], step_s):
                close.append((relations[a, b].rise.mean + relations[a, b].fall.mean, a, b))
    found: list[Channel] = []
    taken: set[str] = set()
    for _, a, b in sorted(close):
        if not {a, b} & taken:
            found.append((a, b))
            taken |= {a, b}
    return found


def _is_twin(r: Relation, step_s: float) -> bool:
    """Whether b is the contactor of the command a."""
    fine = step_s / 10
    return (
        r.into >= 0.95
        and r.answered >= 0.6
        and r.covers >= 0.6
        and fine / 10 < r.rise.mean <= TWIN_RISE_S
        and -fine <= r.fall.mean <= TWIN_FALL_S
        and r.rise.median <= TWIN_RISE_S
    )


def _into(x: Channel, z: str, relations: Relations) -> float:
    return max(relations[name, z].into for name in x)


Pair = tuple[Channel, Channel, tuple[str, ...]]


def _pairs(channels: Sequence[Channel], bits: Mapping[str, Bit], relations: Relations, step_s: float) -> list[Pair]:
    """Two directions that never overlap and between them hold all starts of some other bit, with these bits."""
    held: list[tuple[float, Channel, Channel, tuple[str, ...]]] = []
    for x, y in combinations(channels, 2):
        if not exclusive(bits[x[-1]], bits[y[-1]]):
            continue
        followers = []
        for z in bits:
            if z in x or z in y:
                continue
            shares = _into(x, z, relations), _into(y, z, relations)
            if min(shares) >= EACH and sum(shares) >= HELD and _comes_after(x, y, z, relations, step_s):
                followers.append(z)
        if followers:
            best = sum(_into(x, z, relations) + _into(y, z, relations) for z in followers)
            held.append((best, x, y, tuple(followers)))
    found: list[Pair] = []
    taken: set[str] = set()
    for _, x, y, followed in sorted(held, key=lambda one: -one[0]):
        if not taken & {*x, *y, *followed}:
            found.append((x, y, followed))
            taken |= {*x, *y, *followed}
    return found


def _comes_after(x: Channel, y: Channel, z: str, relations: Relations, step_s: float) -> bool:
    """Whether z starts after the beginning of the runs that hold it, never with them."""
    lags = [relations[channel[0], z].rise.mean for channel in (x, y)]
    return all(lag >= 0.02 for lag in lags)


def _reversing(channels: Sequence[Channel], bits: Mapping[str, Bit]) -> list[tuple[Channel, Channel]]:
    """Pairs of directions without any follower: they follow each other at once, and nothing else does."""
    quick: dict[tuple[Channel, Channel], int] = {}
    for x, y in combinations(channels, 2):
        a, b = bits[x[-1]], bits[y[-1]]
        if exclusive(a, b):
            there, back = next_after(a.end, b.start) <= QUICK_S, next_after(b.end, a.start) <= QUICK_S
            quick[x, y] = int(min(there.sum(), back.sum()) + (there.sum() + back.sum()) // 4)
    found: list[tuple[Channel, Channel]] = []
    for (x, y), count in sorted(quick.items(), key=lambda item: -item[1]):
        others = [c for pair, c in quick.items() if pair != (x, y) and (x in pair or y in pair)]
        free = not any(x in pair or y in pair for pair in found)
        if free and count >= 3 and count >= 4 * max(others, default=0):
            found.append((x, y))
    return found


def _same_layer(groups: Sequence[Group]) -> None:
    """Where the log holds no command together with its contactor, all its runs are of the kind that its fast bits are.

    A logger that carries the fast output and not the fast command is one of outputs (common practice).
    """
    roles = [part.role for group in groups for part in group.parts]
    kinds = {role.split(".")[1] for role in roles if role.startswith("fast.")} - {"run"}
    if len(kinds) != 1 or any(role.startswith(("x.", "y.")) and not role.endswith(".run") for role in roles):
        return
    kind = kinds.pop()
    for group in groups:
        for at, part in enumerate(group.parts):
            if part.role in ("x.run", "y.run"):
                reason = f"{part.reason}; taken as {kind}, as the fast bits of this log are"
                group.parts[at] = replace(part, role=part.role.replace("run", kind), sure=0.85, reason=reason)
