"""What a command sets for the memory of Polars."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from eventlens.allocator import KEPT, LONG, VARIABLE, keep_freed_memory

ROOT = Path(__file__).parent.parent


def test_a_setting_of_the_user_stays() -> None:
    own = {VARIABLE: "dirty_decay_ms:0"}
    keep_freed_memory([], own)
    assert own == {VARIABLE: "dirty_decay_ms:0"}
    none: dict[str, str] = {}
    keep_freed_memory(["review", "no such file", "\0", "x" * 5000, str(ROOT)], none)
    assert none == {VARIABLE: KEPT}


def test_of_long_files_nothing_is_kept(tmp_path: Path) -> None:
    one, other = tmp_path / "one", tmp_path / "other"
    for path, size in ((one, LONG // 2), (other, LONG // 2)):
        with path.open("wb") as file:
            file.truncate(size)  # a file of holes: it takes no room
    just: dict[str, str] = {}
    keep_freed_memory(["review", str(one), str(other)], just)
    assert just == {VARIABLE: KEPT}
    with other.open("ab") as file:
        file.write(b"x")
    more: dict[str, str] = {}
    keep_freed_memory(["review", str(one), str(other)], more)
    assert more == {}


def test_a_command_sets_it_before_polars_is_loaded_and_the_allocator_understands_it() -> None:
    code = (
        "import sys, os\nfrom eventlens.cli import main\nassert 'polars' not in sys.modules\n"
        "try:\n    main(['patterns'])\nfinally:\n"
        "    import polars\n    polars.Series(range(1000)).sort()\n"
        f"    print(os.environ[{VARIABLE!r}].endswith({KEPT!r}), file=sys.stderr)"
    )
    environment = {name: value for name, value in os.environ.items() if name != VARIABLE}
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, env=environment, capture_output=True, text=True, check=True
    )
    assert done.stderr == "True\n"  # a setting that it does not understand it tells there


def test_what_one_thread_let_go_serves_the_next_which_asks_for_few_pages() -> None:
    """Sixteen tables of 4 MiB are 16384 pages of 4 KiB; the system counts those that it had to give."""
    code = (
        "import resource, threading, polars as pl\n"
        "def made():\n    [pl.repeat(1.5, 1 << 19, eager=True) for _ in range(16)]\n"
        "made()\n"
        "before = resource.getrusage(resource.RUSAGE_SELF).ru_minflt\n"
        "thread = threading.Thread(target=made)\nthread.start()\nthread.join()\n"
        "print(resource.getrusage(resource.RUSAGE_SELF).ru_minflt - before)"
    )

    def asked(setting: str) -> int:
        environment = {**os.environ, VARIABLE: setting}
        command = [sys.executable, "-c", code]
        return int(subprocess.run(command, env=environment, capture_output=True, text=True, check=True).stdout)

    kept = KEPT[KEPT.index("dirty") :]  # counted here: 1830, and 16500 where each thread has a store of its own
    assert asked(KEPT) < 5000 < 15_000 < asked(kept)
