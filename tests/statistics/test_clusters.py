"""Groups and silhouettes against another program (scikit-learn 1.9) and against a count by hand."""

from __future__ import annotations

import numpy as np
import pytest
from sklearn.cluster import AgglomerativeClustering
from sklearn.metrics import adjusted_rand_score, silhouette_score

from eventlens.statistics.clusters import silhouette, ward_groups


@pytest.mark.parametrize("seed", range(12))
def test_groups_and_silhouette_are_those_of_another_program(seed: int) -> None:
    rng = np.random.default_rng(seed)
    points = rng.normal(size=(rng.integers(8, 200), 1 + seed % 4)) + 4 * rng.integers(0, 3, (1, 1 + seed % 4))
    if seed % 3 == 0:
        points = np.round(points)  # many points alike, many distances equal
    numbers = range(2, min(6, len(np.unique(points, axis=0)) + 1))
    for number, labels in zip(numbers, ward_groups(points, numbers), strict=True):
        assert adjusted_rand_score(labels, AgglomerativeClustering(number).fit(points).labels_) == 1.0
        assert silhouette(points, labels) == pytest.approx(silhouette_score(points, labels), abs=1e-9)


def test_silhouette_counted_by_hand() -> None:
    points = np.array([[0.0], [1.0], [10.0]])
    # 0: own 1, other 10: 0.9; 1: own 1, other 9: 8/9; 10: alone: 0
    assert silhouette(points, np.array([0, 0, 1])) == pytest.approx((0.9 + 8 / 9) / 3)


def test_points_that_are_all_alike_stand_nowhere_apart() -> None:
    assert silhouette(np.zeros((4, 1)), np.array([0, 0, 1, 1])) == 0.0


def test_a_tree_is_cut_by_undoing_its_last_joins() -> None:
    two, three = ward_groups(np.array([[0.0], [0.1], [5.0], [5.1], [20.0]]), (2, 3))
    assert [two[0] == two[at] for at in range(5)] == [True, True, True, True, False]
    assert [three[0] == three[at] for at in range(5)] == [True, True, False, False, False]
    assert three[2] == three[3] != three[4]
