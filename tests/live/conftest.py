"""What tests of followed sources share."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.live.following import Follow, Followed


@pytest.fixture
def follow(tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Follow]:
    """Follows an address into a folder of the test, by the PROFILE of its module; closed afterwards."""
    opened: list[Followed] = []

    def begin(address: str, profile: str | None = request.module.PROFILE, wait_s: float = 0.0) -> Followed:
        opened.append(Followed(address, tmp_path / "followed", profile, wait_s))
        return opened[-1]

    yield begin
    for one in opened:
        one.close()
