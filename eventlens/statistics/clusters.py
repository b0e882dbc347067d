"""Groups of points that stay narrow, and how far apart groups stand.

Points are joined step by step so that the sum of squares within groups grows least (Ward, 1963); the mean silhouette
says how much nearer points lie to their own group than to the next (Rousseeuw, 1987). Both for some hundred points:
every distance is worked out. To load scipy's or scikit-learn's takes many times as long as all of this.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from eventlens.statistics.arrays import Floats

IntArray: TypeAlias = NDArray[np.int64]


class _Join(NamedTuple):
    """Two groups that become one. Points are groups from 0, and each join makes another one behind them."""

    one: int
    other: int
    height: float
    """Grows with the sum of squares: of two points their distance."""


def ward_groups(points: Floats, numbers: Sequence[int]) -> list[IntArray]:
    """For each number of groups the group of each point, from 0, in the order of the first point of each.

    The highest joins are undone, of equally high ones the later one first.
    """
    if not numbers:
        return []
    count, joins = len(points), _numbered(_joined(points), len(points))
    members = [[at] for at in range(count)]
    for join in joins:
        members.append(members[join.one] + members[join.other])
    downwards = [len(members) - 1]  # from the group of all, so that nothing is undone before what it is a part of
    for group in downwards:
        downwards += [part for part in _parts(group, joins, count) if part >= count]
    highest = sorted(downwards, key=lambda group: -joins[group - count].height)
    found = []
    for number in numbers:
        undone = highest[: number - 1]
        parts = {len(members) - 1, *(part for group in undone for part in _parts(group, joins, count))}
        labels = np.empty(count, np.int64)
        for label, own in enumerate(sorted(sorted(members[part]) for part in parts.difference(undone))):
            labels[own] = label
        found.append(labels)
    return found


def _parts(group: int, joins: Sequence[_Join], count: int) -> tuple[int, int]:
    """The groups that were joined to one, the later one first."""
    join = joins[group - count]
    return join.other, join.one


def _joined(points: Floats) -> list[_Join]:
    """All joins, each named by a point of either group, in the order in which they are found.

    Two groups that are each the nearest of the other are joined at once, whatever else is nearer elsewhere: by no join
    does anything come nearer to them. They are found along a chain of nearest groups (Murtagh, 1983, from memory).
    """
    apart = np.sqrt(((points[:, None, :] - points) ** 2).sum(axis=2))
    np.fill_diagonal(apart, np.inf)
    size, chain, joins = np.ones(len(points)), list[int](), list[_Join]()
    while len(joins) < len(points) - 1:
        chain = chain or [int(np.flatnonzero(size)[0])]
        while True:
            near = apart[chain[-1]]
            nearest = int(near.argmin())
            if len(chain) > 1 and near[chain[-2]] <= near[nearest]:
                break
            chain.append(nearest)
        one, other = sorted((chain.pop(), chain.pop()))
        height = float(apart[one, other])
        joins.append(_Join(one, other, height))
        share = 1 / (size[one] + size[other] + size)  # what is gone has no size, and stays infinitely far away
        grown = (size + size[one]) * share * apart[one] * apart[one]
        grown += (size + size[other]) * share * apart[other] * apart[other]
        grown = np.sqrt(grown - size * share * height * height)
        size[one], size[other] = 0, size[one] + size[other]
        grown[other] = np.inf
        apart[other], apart[:, other] = grown, grown
        apart[one], apart[:, one] = np.inf, np.inf
    return joins


def _numbered(joins: Sequence[_Join], count: int) -> list[_Join]:
    """The joins, the lowest first, with the numbers of the groups that they join in place of points."""
    group, found = np.arange(count), list[_Join]()
    for join in sorted(joins, key=lambda join: join.height):
        one, other = sorted((int(group[join.one]), int(group[join.other])))
        group[(group == one) | (group == other)] = count + len(found)
        found.append(_Join(one, other, join.height))
    return found


def silhouette(points: Floats, labels: Any) -> float:
    """Mean silhouette of points in two groups or more, -1 to 1; a point alone in its group counts 0."""
    squares = (points**2).sum(axis=1)
    apart = np.sqrt(np.maximum(squares[:, None] + squares - 2 * points @ points.T, 0.0))
    np.fill_diagonal(apart, 0.0)
    sizes = np.bincount(labels)
    sums = np.column_stack([apart[:, labels == label].sum(axis=1) for label in range(len(sizes))])
    row = np.arange(len(points))
    own = sums[row, labels] / np.maximum(sizes[labels] - 1, 1)
    means = sums / sizes
    means[row, labels] = np.inf
    other = means.min(axis=1)
    longer = np.maximum(own, other)
    values = np.where((sizes[labels] > 1) & (longer > 0), (other - own) / np.where(longer > 0, longer, 1.0), 0.0)
    return float(values.mean())
