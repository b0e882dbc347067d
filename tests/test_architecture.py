"""Guards the shape of the program: arrows one way, siblings apart, importing cheap, the top level clean.

Imports are read with `ast`, those inside functions and under TYPE_CHECKING too.
"""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import pytest

import eventlens

ROOT = Path(__file__).resolve().parent.parent

LAYERS: tuple[tuple[set[str], ...], ...] = (
    ({"errors"}, {"threads"}, {"spill"}, {"allocator"}, {"json_text"}),
    ({"signals"}, {"limits"}, {"settings"}),
    ({"schema"}, {"machine"}),
    ({"reading.log"},),
    ({"reading"}, {"statistics"}, {"simulation"}),
    ({"motion"},),
    ({"duty"},),
    ({"life"},),
    ({"patterns"},),
    ({"causes"},),
    ({"result", "contract", "cautions"},),
    ({"wiring"},),
    ({"comparison"},),
    ({"trends"},),
    ({"archive"},),
    ({"fleet", "live"},),
    ({"__init__"},),
    ({"report"},),
    ({"cli"},),
)
"""Units of eventlens from the ground up. A unit imports itself and units of lower layers; members of one set are one
unit, the sets of one layer do not know each other. `reading.log` is what reading hands on, known to the simulation
too; `__init__` is the public face: it names everything below the reports."""

FAMILIES = ("eventlens.reading.formats", "eventlens.reading.layouts", "eventlens.patterns")
"""Packages whose public modules never import each other."""

HEAVY = (
    "paho",
    "asyncua",
    "deltalake",
    "dash",
    "plotly",
    "sklearn",
    "pandas",
    "scipy.stats",
    "matplotlib",
    "typst",
    "jinja2",
    "distributed",
)


class Import(NamedTuple):
    """One import: which module, on which line, imports what (a module, or a name in one)."""

    module: str
    line: int
    target: str

    def __str__(self) -> str:
        return f"{self.module}, line {self.line}: imports {self.target}"


def module_name(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imports_in(source: str, module: str, package: str) -> Iterator[Import]:
    """Every import of a source text; `from a import b` is the import of a.b."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield Import(module, node.lineno, alias.name)
        elif isinstance(node, ast.ImportFrom):
            base = package.split(".")[: len(package.split(".")) - node.level + 1] if node.level else []
            prefix = ".".join([*base, *([node.module] if node.module else [])])
            for alias in node.names:
                yield Import(module, node.lineno, f"{prefix}.{alias.name}")


def imports_under(folder: str) -> list[Import]:
    found: list[Import] = []
    for path in sorted((ROOT / folder).rglob("*.py")):
        name = module_name(path)
        package = name if path.name == "__init__.py" else name.rpartition(".")[0]
        found += imports_in(path.read_text("utf-8"), name, package)
    return found


def unit_of(name: str) -> str | None:
    """The part of eventlens a module or name belongs to; None outside it, '__init__' for the public face."""
    parts = name.split(".")
    if parts[0] != "eventlens":
        return None
    if parts[1:3] == ["reading", "log"]:
        return "reading.log"
    inside = ROOT / "eventlens"
    if len(parts) > 1 and ((inside / parts[1]).is_dir() or (inside / f"{parts[1]}.py").is_file()):
        return parts[1]
    return "__init__"


def rank_of(unit: str) -> int:
    return next(rank for rank, layer in enumerate(LAYERS) if any(unit in group for group in layer))


LEADS_UP = {("eventlens.result", "eventlens.report.document")}
"""`Review.to_report` alone leads up, and only when it is called: whoever holds a review may ask for its report."""


def goes_up(found: Import) -> bool:
    """Whether an import inside eventlens points at the same layer or a higher one."""
    if (found.module, found.target) in LEADS_UP:
        return False
    here, there = unit_of(found.module), unit_of(found.target)
    if here is None or there is None or here == there:
        return False
    together = any({here, there} <= group for layer in LAYERS for group in layer)
    return not together and rank_of(there) >= rank_of(here)


def joins_siblings(found: Import) -> bool:
    """Whether a public module of a family imports another public module of it."""
    for family in FAMILIES:
        here, there = (name.removeprefix(f"{family}.") for name in (found.module, found.target))
        inside = found.module.startswith(f"{family}.") and found.target.startswith(f"{family}.")
        if inside and not here.startswith("_") and not there.startswith("_"):
            sibling = there.split(".")[0]
            is_module = (ROOT / family.replace(".", "/") / f"{sibling}.py").is_file()
            if is_module and sibling != here.split(".")[0]:
                return True
    return False


def breaks_out(found: Import) -> bool:
    """Whether eventlens knows the pages, or something in them outside the folder dashboards.data knows eventlens."""
    here, there = found.module.split(".")[0], found.target.split(".")[0]
    if here == "eventlens":
        return there == "dashboards"
    knows = found.module == "dashboards.data" or found.module.startswith("dashboards.data.")
    return here == "dashboards" and there == "eventlens" and not knows


def check(rule: object, found: list[Import]) -> list[str]:
    assert callable(rule)
    return [str(item) for item in found if rule(item)]


def test_every_part_of_eventlens_has_its_layer() -> None:
    placed = {unit for layer in LAYERS for group in layer for unit in group}
    inside = ROOT / "eventlens"
    parts = {path.stem for path in inside.glob("*.py")} | {path.parent.name for path in inside.glob("*/__init__.py")}
    assert parts - placed == set(), "give it a place in LAYERS"
    assert placed - parts == {"reading.log"}, "it is gone: take it out of LAYERS"


def test_arrows_point_one_way() -> None:
    assert check(goes_up, imports_under("eventlens")) == []


def test_siblings_do_not_know_each_other() -> None:
    assert check(joins_siblings, imports_under("eventlens")) == []


def test_pages_and_program_meet_in_one_module() -> None:
    assert check(breaks_out, imports_under("eventlens") + imports_under("dashboards")) == []


@pytest.mark.parametrize(
    ("rule", "module", "source", "caught"),
    [
        (goes_up, "eventlens.duty.counts", "from eventlens.patterns import jogging", True),
        (goes_up, "eventlens.patterns.jogging", "from eventlens.duty import starts", False),
        (goes_up, "eventlens.patterns.jogging", "def f():\n    import eventlens.wiring", True),
        (goes_up, "eventlens.statistics.rates", "from eventlens import reading", True),  # same layer, other unit
        (goes_up, "eventlens.simulation.hoist", "from eventlens.reading.log import Log", False),
        (goes_up, "eventlens.simulation.hoist", "from eventlens.reading import read", True),
        (goes_up, "eventlens.reading.log", "from eventlens.reading import clock", True),
        (goes_up, "eventlens.motion.runs", "from eventlens.motion import kinds", False),
        (goes_up, "eventlens.motion.runs", "from .kinds import is_jog", False),
        (goes_up, "eventlens.motion.runs", "from ..report import text", True),
        (goes_up, "eventlens.result", "def f():\n    from eventlens.report import document", False),
        (goes_up, "eventlens.result", "from eventlens.report import text", True),
        (goes_up, "eventlens.contract", "from eventlens.result import Review", False),  # one unit
        (goes_up, "eventlens.causes.facts", "from eventlens.patterns import catalogue", False),
        (goes_up, "eventlens.patterns.jogging", "from eventlens.causes import facts", True),
        (goes_up, "eventlens.wiring", "import eventlens\nfrom eventlens import review", True),  # the public face
        (goes_up, "eventlens.cli.review", "import eventlens", False),
        (joins_siblings, "eventlens.patterns.jogging", "from eventlens.patterns import drop_out", True),
        (joins_siblings, "eventlens.patterns.jogging", "from eventlens.patterns.drop_out import find", True),
        (joins_siblings, "eventlens.patterns.jogging", "from eventlens.patterns._base import Pattern", False),
        (joins_siblings, "eventlens.wiring", "from eventlens.patterns import jogging", False),
        (breaks_out, "eventlens.cli.dashboard", "import dashboards", True),
        (breaks_out, "dashboards.pages.week", "import eventlens", True),
        (breaks_out, "dashboards.data", "import eventlens", False),
        (breaks_out, "dashboards.data.week", "from eventlens import patterns", False),
        (breaks_out, "dashboards.database", "import eventlens", True),
    ],
)
def test_the_rules_themselves(rule: object, module: str, source: str, caught: bool) -> None:
    found = list(imports_in(source, module, module.rpartition(".")[0]))
    assert found
    assert bool(check(rule, found)) == caught


def test_public_names_are_sorted_and_resolve() -> None:
    assert eventlens.__all__ == sorted(eventlens.__all__)
    for name in eventlens.__all__:
        assert getattr(eventlens, name) is not None
    with pytest.raises(AttributeError, match="no_such_name"):
        eventlens.no_such_name  # noqa: B018 - the access is what is tested


@pytest.mark.parametrize(
    ("statement", "banned"),
    [
        ("import eventlens.fleet.process", (*HEAVY, "polars", "numpy", "scipy")),
        ("import eventlens.fleet.run, eventlens.fleet.pool, eventlens.fleet.cluster", HEAVY),
        ("import eventlens", (*HEAVY, "polars", "numpy", "scipy")),
        ("import eventlens.cli", (*HEAVY, "polars", "numpy", "scipy", "pydantic", "waitress")),
        ("import eventlens.report.text, eventlens.wiring", HEAVY),
        ("from eventlens.live import open_source, telling\nopen_source('saw-3.csv')", HEAVY),
    ],
)
def test_importing_stays_cheap(statement: str, banned: tuple[str, ...]) -> None:
    code = f"{statement}\nimport sys\nprint([name for name in {banned!r} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert (done.stdout.strip(), done.stderr) == ("[]", "")


def test_top_level_holds_only_what_is_allowed() -> None:
    command = ["git", "ls-files", "--cached", "--others", "--exclude-standard"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
    top = {line.split("/")[0] for line in done.stdout.splitlines()}
    allowed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "eventlens", "dashboards", "sample_logs", "tests"}
    assert "pyproject.toml" in top
    assert {name for name in top - allowed if not name.startswith(".")} == set()
