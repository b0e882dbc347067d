"""Guards the statistics of trends against other programs, where they are installed (extra `outside`)."""

from __future__ import annotations

import importlib
import warnings
from typing import Any

import numpy as np
import pytest

from eventlens.statistics.drift import change_point
from eventlens.statistics.growth import power_law
from eventlens.statistics.rates import poisson_limits
from tests.statistics.test_drift import NILE
from tests.statistics.test_growth import GROWTH


def outside(name: str) -> Any:
    """The module, or the test is skipped; what it warns of on the way is not ours."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            return importlib.import_module(name)
        except ImportError:
            pytest.skip(f"{name.split('.')[0]} is not installed: pip install -e '.[outside]'")


def test_growth_of_reliability() -> None:
    assert outside("reliability.Datasets").system_growth().failures == GROWTH
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        fit = outside("reliability.Repairable_systems").reliability_growth(
            times=GROWTH, model="Crow-AMSAA", print_results=False, show_plot=False
        )
    found = power_law(GROWTH)
    assert (found.beta, found.lam) == (pytest.approx(fit.Beta), pytest.approx(fit.Lambda))
    assert (found.rate, found.mtbf) == (pytest.approx(fit.DFI_I), pytest.approx(fit.DMTBF_I))


@pytest.mark.parametrize("count", [1, 7, 100])
def test_limits_of_a_poisson_count(count: int) -> None:
    rates = outside("statsmodels.stats.rates")
    assert poisson_limits(count) == pytest.approx(rates.confint_poisson(count, 1, method="exact-c"))


def test_the_nile_is_the_nile() -> None:
    volume = outside("statsmodels.datasets").nile.load_pandas().data["volume"]
    assert volume.tolist() == NILE


def test_changes_of_pace_that_people_marked() -> None:
    datasets = outside("river.drift.datasets")
    log = datasets.RunLog()
    pace = np.array([y["Pace"] for _, y in log])
    marks = [0, *log.annotations["6"], len(pace)]
    near = 0
    for before, mark, after in zip(marks[:-2], marks[1:-1], marks[2:], strict=True):
        found = change_point(pace[before:after])
        assert found is not None
        assert found.p == 1 / 2000
        near += abs(before + found.at - mark) <= 5  # the margin of the collection that the series belong to
    assert near == len(marks) - 2
