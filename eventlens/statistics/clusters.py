"""Groups of points that stay narrow, and how far apart groups stand.

Points are joined step by step so that the sum of squares within groups grows least (Ward, 1963, in scipy); the mean
silhouette says how much nearer points lie to their own group than to the next (Rousseeuw, 1987). Both for some hundred
points: every distance is worked out. scikit-learn, which has both too, takes most of a second to load, as long as the
rest of a short review.
"""

from __future__ import annotations

import heapq
from typing import Any

import numpy as np

from eventlens.statistics.arrays import Floats


def ward_tree(points: Floats) -> Any:
    """The pairs that are joined, one after the other: (points - 1, 2); what a step joins gets the next number."""
    from scipy.cluster.hierarchy import ward  # loaded only when asked for

    return ward(points)[:, :2].astype(int)


def cut(tree: Any, number: int) -> Any:
    """The group of each point, from 0, where the tree is cut into so many groups: the last joins are undone."""
    points = len(tree) + 1
    nodes = [-(2 * points - 2)]  # a heap gives the least first: the join that was made last
    for _ in range(number - 1):
        first, second = tree[-nodes[0] - points]
        heapq.heappush(nodes, -first)
        heapq.heappushpop(nodes, -second)
    labels = np.zeros(2 * points - 1, int)
    for label, node in enumerate(nodes):
        below = [-node]
        while below:
            at = below.pop()
            labels[at] = label
            if at >= points:
                below += list(tree[at - points])
    return labels[:points]


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
