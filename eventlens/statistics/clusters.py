"""Groups of points that stay narrow, and how far apart groups stand.

Points are joined step by step so that the sum of squares within groups grows least (Ward, 1963, in scipy); the mean
silhouette says how much nearer points lie to their own group than to the next (Rousseeuw, 1987). Both for some hundred
points: every distance is worked out. scikit-learn, which has both too, takes most of a second to load, as long as the
rest of a short review.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from eventlens.statistics.arrays import Floats

IntArray: TypeAlias = NDArray[np.int64]


def ward_groups(points: Floats, numbers: Sequence[int]) -> list[IntArray]:
    """For each number of groups the group of each point, from 0."""
    if not numbers:
        return []
    from scipy.cluster.hierarchy import cut_tree, ward  # loaded only when asked for

    return list(cut_tree(ward(points), numbers).T)


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
