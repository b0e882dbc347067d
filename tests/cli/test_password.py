"""Guards the password of a server that others can reach: only a hash is written, for its owner alone."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest
from typer.testing import CliRunner
from werkzeug.security import check_password_hash

from eventlens.cli import app
from eventlens.cli.password import LEAST_LENGTH, hash_in, hash_of
from eventlens.errors import EventlensError

WORD = "slow brake, warm coil"


def test_writes_a_hash_that_only_the_owner_reads(tmp_path: Path) -> None:
    file = tmp_path / "pages.hash"
    done = CliRunner().invoke(app, ["password", str(file)], input=f"{WORD}\n{WORD}\n")
    assert done.exit_code == 0, done.output
    assert WORD not in file.read_text()
    assert check_password_hash(hash_in(file), WORD)
    if os.name == "posix":
        assert stat.S_IMODE(file.stat().st_mode) == 0o600


def test_two_different_ones_write_nothing(tmp_path: Path) -> None:
    file = tmp_path / "pages.hash"
    done = CliRunner().invoke(app, ["password", str(file)], input=f"{WORD}\n{WORD}!\n")
    assert done.exit_code != 0
    assert not file.exists()


def test_a_short_one_is_refused() -> None:
    assert hash_of("x" * LEAST_LENGTH).startswith("scrypt:")
    with pytest.raises(EventlensError, match=f"at least {LEAST_LENGTH}"):
        hash_of("x" * (LEAST_LENGTH - 1))


def test_the_same_password_has_another_hash_each_time() -> None:
    assert hash_of(WORD) != hash_of(WORD)


@pytest.mark.parametrize("text", ["", WORD, "scrypt:1", "scrypt:1$a$b\nsecond"])
def test_a_file_with_something_else_is_refused(text: str, tmp_path: Path) -> None:
    file = tmp_path / "pages.hash"
    file.write_text(text)
    with pytest.raises(EventlensError, match="make one with eventlens password"):
        hash_in(file)


def test_no_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(EventlensError, match="make one with eventlens password"):
        hash_in(tmp_path / "gone")
