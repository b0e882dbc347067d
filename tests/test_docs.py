"""The documentation is run: commands, files and settings that README and DEVELOPERS.md name are real."""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from eventlens.machine import load_machine
from eventlens.reading import load_profile
from eventlens.wiring import known_limits
from tests.readme import renewed

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text("utf-8")
GUIDE = (ROOT / "DEVELOPERS.md").read_text("utf-8")


def blocks(kind: str) -> list[str]:
    """The fenced blocks of a kind in the README."""
    return re.findall(rf"```{kind}\n(.*?)```", README, flags=re.DOTALL)


def test_there_are_two_set_up_commands_of_one_line_each() -> None:
    commands = blocks("sh")
    assert len(commands) == 2
    assert all(command.count("\n") == 1 for command in commands)


def test_ci_calls_the_readmes_test_command_and_nothing_cleverer() -> None:
    script = [line for line in (ROOT / ".ci/run").read_text().splitlines() if line and not line.startswith("#")]
    assert script[-1] == blocks("sh")[1].strip()
    assert all(line.startswith(("set ", "cd ")) for line in script[:-1])


def test_the_sample_command_reviews_files_that_are_there() -> None:
    words = shlex.split(blocks("sh")[0])
    begin, end = words.index("review"), words.index("echo") - 1
    named = [word for word in words[begin:end] if word.startswith("sample_logs/")]
    assert len(named) == 3
    assert all((ROOT / name).is_file() for name in named)
    arguments = [word for word in words[begin:end] if word != "review.json"]
    arguments[arguments.index("--json") :] = ["--json", "-"]
    done = subprocess.run(
        [sys.executable, "-m", "eventlens.cli", *arguments], cwd=ROOT, capture_output=True, check=True, text=True
    )
    assert '"contract": 1' in done.stdout


@pytest.mark.parametrize(("kind", "load"), [("[log]", load_profile), ("[live]", load_profile), ("[machine]", None)])
def test_the_settings_that_it_shows_are_accepted(kind: str, load: object, tmp_path: Path) -> None:
    text = next(block for block in blocks("toml") if block.startswith(kind))
    path = tmp_path / "settings.toml"
    path.write_text(text, "utf-8")
    assert load_profile(path) if load else load_machine(path, known_limits()).machine.id == "SAW-3"


def test_every_command_of_the_readme_has_a_help() -> None:
    for name in sorted(set(re.findall(r"`eventlens ([a-z]+)", README))):
        done = subprocess.run(
            [sys.executable, "-m", "eventlens.cli", name, "--help"], capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, name
        assert "Example" in done.stdout, name


def test_modules_that_the_guide_runs_are_there() -> None:
    for module in re.findall(r"python -m ((?:tests|eventlens)[\w.]*)", GUIDE + README):
        path = ROOT / module.replace(".", "/")
        assert path.with_suffix(".py").is_file() or (path / "__main__.py").is_file(), module


def test_pinned_versions_are_names_and_versions_only() -> None:
    for line in (ROOT / ".ci/constraints.txt").read_text().splitlines():
        assert re.fullmatch(r"[A-Za-z0-9_.-]+==[A-Za-z0-9_.+!-]+", line), line


def test_generated_parts_are_up_to_date() -> None:
    assert renewed(README) == README, "run: python -m tests.readme"


def test_the_first_paragraph_states_the_job() -> None:
    first = README.split("\n\n")[1]
    for word in ("hoist", "brake", "overload", "starts per hour", "lines of the dump"):
        assert word in first.replace("\n", " ")
