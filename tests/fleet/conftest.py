"""The archive that the tests copy: made once in a process, for adding takes longer than reviewing."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from eventlens import Archive
from tests.fleet import stories


@pytest.fixture(scope="package")
def original(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An archive without reviews."""
    return stories.make(tmp_path_factory.mktemp("fleet"))


@pytest.fixture(scope="package")
def one_by_one(original: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same, its weeks reviewed one after the other in this process."""
    place = tmp_path_factory.mktemp("single") / "history"
    shutil.copytree(original, place)
    Archive(place).bring_up_to_date()
    return place


@pytest.fixture
def place(original: Path, tmp_path: Path) -> Path:
    """A copy without reviews."""
    return Path(shutil.copytree(original, tmp_path / "history"))
