"""Random damage against one reader: anything but a whole log or a ReadingError is a fault of the program.

    python -m tests.benchmarks.fuzz --reader sqlite --inputs 20000
    python -m tests.benchmarks.fuzz --reader all --seconds 300

Each input is a small good log of the reader's kind that is cut, doubled, shuffled, overwritten with NULs or random
bytes, or mixed with another kind; half of them are packed before or after the damage. Checked for each: no exception
but ReadingError, the accounts balance, lines lie inside the file, and no input takes longer than `SLOWEST_S`. Readers
run in a child process, so that one that takes the process down is caught too. Inputs that fail are kept in a folder.
"""

from __future__ import annotations

import argparse
import bz2
import faulthandler
import gzip
import io
import lzma
import multiprocessing
import random
import sys
import tempfile
import time
import zipfile
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "reading"))

import zstandard
from containers import WRITERS, Row, sample

SLOWEST_S = 10.0
"""One damaged input of a few thousand bytes must not take longer (common practice, no source)."""
_BATCH = 500

Damage = Callable[[bytes, random.Random], bytes]


def cut(data: bytes, rng: random.Random) -> bytes:
    return data[: rng.randrange(len(data) + 1)]


def headless(data: bytes, rng: random.Random) -> bytes:
    return data[rng.randrange(len(data) + 1) :]


def hole(data: bytes, rng: random.Random) -> bytes:
    at = rng.randrange(len(data) + 1)
    return data[:at] + data[at + rng.randrange(200) :]


def doubled(data: bytes, rng: random.Random) -> bytes:
    at, size = rng.randrange(len(data) + 1), rng.randrange(300)
    return data[: at + size] + data[at:]


def nulls(data: bytes, rng: random.Random) -> bytes:
    return overwritten(data, rng, b"\0" * rng.randrange(1, 64))


def noise(data: bytes, rng: random.Random) -> bytes:
    return overwritten(data, rng, rng.randbytes(rng.randrange(1, 16)))


def overwritten(data: bytes, rng: random.Random, piece: bytes) -> bytes:
    at = rng.randrange(len(data) + 1)
    return data[:at] + piece + data[at + len(piece) :]


def flipped(data: bytes, rng: random.Random) -> bytes:
    out = bytearray(data)
    for _ in range(rng.randrange(1, 5)):
        if out:
            out[rng.randrange(len(out))] ^= 1 << rng.randrange(8)
    return bytes(out)


def shuffled(data: bytes, rng: random.Random) -> bytes:
    size = rng.choice((1, 16, 100, 512))
    pieces = [data[at : at + size] for at in range(0, len(data), size)]
    begin = rng.randrange(len(pieces) + 1)
    some = pieces[begin : begin + 8]
    rng.shuffle(some)
    return b"".join([*pieces[:begin], *some, *pieces[begin + 8 :]])


def lines_shuffled(data: bytes, rng: random.Random) -> bytes:
    lines = data.split(b"\n")
    rng.shuffle(lines)
    return b"\n".join(lines)


def marks(data: bytes, rng: random.Random) -> bytes:
    """Marks that mean something to some reader, anywhere."""
    found = (
        b'"',
        b"{",
        b"[" * rng.randrange(1, 3000),
        b"<",
        b"]]>",
        b"&x;",
        b"\r",
        b"\\",
        b"=",
        b"-",
        b"\xff\xfe",
        b"9" * 400,
    )
    at = rng.randrange(len(data) + 1)
    return data[:at] + rng.choice(found) + data[at:]


def mixed(data: bytes, rng: random.Random) -> bytes:
    other = rng.choice([writer for kinds in WRITERS.values() for writer in kinds.values()])(sample(4))
    return rng.choice((data + other, other + data, data[: len(data) // 2] + other))


DAMAGES: tuple[Damage, ...] = (
    cut, headless, hole, doubled, nulls, noise, flipped, shuffled, lines_shuffled, marks, mixed,
)  # fmt: skip


def zipped(data: bytes) -> bytes:
    sink = io.BytesIO()
    with zipfile.ZipFile(sink, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("dump", data)
    return sink.getvalue()


PACKERS: tuple[Callable[[bytes], bytes], ...] = (
    lambda data: gzip.compress(data, 1, mtime=0), bz2.compress, lzma.compress, zstandard.compress, zipped,
)  # fmt: skip


def rows_of(rng: random.Random) -> list[Row]:
    return sample(rng.choice((1, 2, 12, 40)))


def damaged(reader: str, seed: int) -> bytes:
    """The input of a reader for a seed: the same one at any time."""
    rng = random.Random(f"{reader} {seed}")
    kinds = WRITERS[reader]
    data = kinds[rng.choice(sorted(kinds))](rows_of(rng))
    packer = rng.choice(PACKERS) if rng.random() < 0.2 else None
    pack_first = rng.random() < 0.5
    if packer and pack_first:
        data = packer(data)
    elif reader == "spreadsheet" and rng.random() < 0.7:
        return _inside(data, rng)
    for _ in range(rng.choice((1, 1, 1, 2, 4))):
        data = rng.choice(DAMAGES)(data, rng)
    return packer(data) if packer and not pack_first else data


def _inside(data: bytes, rng: random.Random) -> bytes:
    """Damage to one part of a zipped document: damage to the archive itself is found by its check sums."""
    sink = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(sink, "w", zipfile.ZIP_DEFLATED) as new:
        names = old.namelist()
        victims = [n for n in names if n.startswith("xl/")]
        victim = rng.choice(victims)
        for name in names:
            part = old.read(name)
            new.writestr(name, rng.choice(DAMAGES)(part, rng) if name == victim else part)
    return sink.getvalue()


def check(path: Path) -> str:
    """Reads one input: 'read' or 'refused'; anything else raises."""
    from eventlens.errors import ReadingError
    from eventlens.reading.files import read_raws
    from eventlens.reading.profile import Profile

    try:
        raws = read_raws([path], Profile())
    except ReadingError as fault:
        if len(str(fault).splitlines()) > 1:
            return "an error of several lines"
        return "refused"
    for raw in raws:
        assert raw.rows == raw.frame.height + raw.rejected.height + raw.blank
        assert len(raw.lines) == raw.frame.height
        for lines in (raw.lines, raw.rejected["row"]):
            if len(lines):
                assert raw.first_line <= int(lines.min()), "a line before the first"  # type: ignore[call-overload]
                assert int(lines.max()) <= max(raw.last_line, 1), "a line after the last"  # type: ignore[call-overload]
    return "read"


def run(reader: str, seeds: range, folder: Path, found: multiprocessing.Queue[tuple[int, str, float]]) -> None:
    """In the child process: one message for each input."""
    faulthandler.enable()
    path = folder / "dump"
    for seed in seeds:
        path.write_bytes(damaged(reader, seed))
        begin = time.monotonic()
        try:
            outcome = check(path)
        except BaseException as fault:
            outcome = f"{type(fault).__name__}: {str(fault)[:200]}"
        found.put((seed, outcome, time.monotonic() - begin))


def fuzz(reader: str, inputs: int, seconds: float, keep: Path, first: int = 0) -> tuple[dict[str, int], list[str]]:
    """Counts of outcomes, and a line for each fault."""
    context = multiprocessing.get_context("spawn")
    counts = {"read": 0, "refused": 0, "failed": 0}
    faults: list[str] = []
    begin, seed, end = time.monotonic(), first, first + inputs
    while seed < end and time.monotonic() - begin < seconds:
        with tempfile.TemporaryDirectory() as folder:
            queue: multiprocessing.Queue[tuple[int, str, float]] = context.Queue()
            seeds = range(seed, min(seed + _BATCH * 20, end))
            child = context.Process(target=run, args=(reader, seeds, Path(folder), queue))
            child.start()
            for expected in seeds:
                try:
                    _, outcome, took = queue.get(timeout=SLOWEST_S + (20 if expected == seeds[0] else 0))
                except Exception:
                    outcome, took = ("hang" if child.is_alive() else f"process died ({child.exitcode})"), SLOWEST_S
                if outcome in counts and took <= SLOWEST_S:
                    counts[outcome] += 1
                else:
                    counts["failed"] += 1
                    keep.mkdir(parents=True, exist_ok=True)
                    (keep / f"{reader.replace(' ', '_')}_{expected}").write_bytes(damaged(reader, expected))
                    faults.append(f"{reader} seed {expected}: {outcome} ({took:.1f} s)")
                seed = expected + 1
                if outcome.startswith(("hang", "process died")) or time.monotonic() - begin > seconds:
                    break
            child.kill()
            child.join()
    return counts, faults


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--reader", required=True, choices=[*WRITERS, "all"])
    parser.add_argument("--inputs", type=int, default=1_000_000)
    parser.add_argument("--seconds", type=float, default=1e9)
    parser.add_argument("--first", type=int, default=0, help="the first seed")
    parser.add_argument("--keep", type=Path, default=Path(tempfile.gettempdir()) / "eventlens-fuzz")
    given = parser.parse_args()
    failed = False
    for reader in WRITERS if given.reader == "all" else [given.reader]:
        counts, faults = fuzz(reader, given.inputs, given.seconds, given.keep, given.first)
        print(f"{reader}: {sum(counts.values())} inputs, " + ", ".join(f"{n} {what}" for what, n in counts.items()))
        print("".join(f"  {line}\n" for line in faults[:20]), end="", flush=True)
        failed = failed or bool(faults)
    raise SystemExit(int(failed))


if __name__ == "__main__":
    main()
