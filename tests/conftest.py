"""What holds for all tests."""

import os

if "PYTEST_XDIST_WORKER" in os.environ:
    # there are as many workers as cores: threads of one would only wait for those of another. Read by the libraries
    # when they are loaded, here and in the processes that tests begin; tests/test_pieces.py asks for several
    for name in ("POLARS_MAX_THREADS", "OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        os.environ.setdefault(name, "1")

from pathlib import Path

import pytest
from hypothesis import settings

# how long an example takes says how busy the machine is, nothing about the program
settings.register_profile("eventlens", deadline=None)
settings.load_profile("eventlens")


@pytest.fixture(scope="session")
def common(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder that all workers of this run have together (tests.shared)."""
    own = tmp_path_factory.getbasetemp()
    return own.parent if "PYTEST_XDIST_WORKER" in os.environ else own
