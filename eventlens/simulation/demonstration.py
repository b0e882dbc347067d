"""The demonstration: Harrow Quay Stoneworks, six hoists over twelve weeks, invented from end to end.

    python -m eventlens.simulation.demonstration DIR             everything
    python -m eventlens.simulation.demonstration --samples DIR   the small sample logs: one week of three machines

Each machine has its story, told in `yard`. A week is simulated by itself, from Monday 00:00, with the traits of its
machine; weekends are idle.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

import polars as pl

from eventlens import schema
from eventlens.simulation import truth as truths
from eventlens.simulation.dialects import DIALECTS
from eventlens.simulation.logger import Recording
from eventlens.simulation.scenario import Simulated, simulate
from eventlens.simulation.yard import FIRST_DAY, STEP_S, STORIES, Story

SEED: Final = 1907
"""Seed of the demonstration and of the sample logs."""

RATED: Final = {"contactor_ac3": 1_200_000, "contactor_ac4": 30_000, "brake_stops": 1_000_000, "relay": 500_000}
"""What the wearing parts of the yard are rated for, in operations: invented, in the order of magnitude that data sheets
give (the contactor: a published table for sintered tips)."""

Progress = Callable[[str], None]

SAMPLES: Final = (("SAW-3", 7), ("SLAB-1", 7), ("DOCK-5", 7))
"""Machine and week of the sample logs: one in each layout."""


def write(directory: str | Path, *, weeks: int = 12, seed: int = SEED, progress: Progress | None = None) -> list[Path]:
    """Write the demonstration logs: for each machine a weekly dump, its profile, machine file and truth.

    weeks: how many, from 2026-W10 on. progress is told of each dump as it begins. The same seed gives the same
    bytes. Returns the files written.
    """
    directory = Path(directory)
    written = []
    for number in range(len(STORIES)):
        written += write_machine(directory, number, range(1, weeks + 1), seed, progress)
    return [*written, _write_readme(directory, f"{weeks} weeks from 2026-W10 on", STORIES)]


def write_samples(directory: str | Path, *, progress: Progress | None = None) -> list[Path]:
    """Write the small sample logs: one week of three machines, the same bytes as in the demonstration."""
    directory = Path(directory)
    written, chosen = [], []
    for name, week in SAMPLES:
        number = next(at for at, story in enumerate(STORIES) if story.machine.id == name)
        chosen.append(STORIES[number])
        written += write_machine(directory, number, range(week, week + 1), SEED, progress)
    return [*written, _write_readme(directory, "one week of each machine", tuple(chosen))]


def week_of(number: int, week: int, seed: int = SEED) -> Simulated:
    """One week (from 1) of one machine (its place in STORIES)."""
    story = STORIES[number]
    scenario = replace(story.tell(story.machine, week), start=FIRST_DAY + timedelta(weeks=week - 1))
    return simulate(scenario, seed=seed * 100_000 + number * 1000 + week, days=7, step_s=STEP_S)


def write_machine(
    directory: Path, number: int, weeks: range, seed: int = SEED, progress: Progress | None = None
) -> list[Path]:
    """Write these weeks (from 1) of one machine (its place in STORIES), the same bytes as in the demonstration."""
    story = STORIES[number]
    dialect, home, zone = DIALECTS[story.dialect], directory / story.machine.id, story.machine.timezone
    home.mkdir(parents=True, exist_ok=True)
    written, parts = [], []
    for week in weeks:
        year, iso_week, _ = (FIRST_DAY + timedelta(weeks=week - 1)).isocalendar()
        path = home / f"{year}-W{iso_week:02}.csv"
        if progress:
            progress(f"{story.machine.id} {path.stem}")
        simulated = week_of(number, week, seed)
        recording, truth = simulated.recording, simulated.truth
        if week == story.clock_set_back_week:
            recording, truth = set_back(recording, truth, simulated.start + timedelta(days=3, hours=13), 2820.0)
        wrapped = recording.records.height // 5 if week == story.wrapped_week else 0
        written.append(dialect.write(recording, path, zone, oldest_line=wrapped))
        parts.append(truth)
    profile = home / "profile.toml"
    profile.write_text(dialect.profile(recording, zone), "utf-8", newline="\n")
    return [*written, profile, _write_plate(home, story), truths.write(pl.concat(parts), home / "truth.json")]


def set_back(recording: Recording, truth: pl.DataFrame, at: datetime, seconds: float) -> tuple[Recording, pl.DataFrame]:
    """The clock is set back at an instant: later records, and what is true of them, carry the new time [s earlier].

    The truth gains the step itself, at the last record by the old clock.
    """
    back = timedelta(seconds=seconds)
    last: datetime = recording.records.filter(pl.col("time") <= at)["time"].max()  # type: ignore[assignment]
    moved = recording.records.with_columns(
        pl.when(pl.col("time") > at).then(pl.col("time") - back).otherwise("time").alias("time")
    )
    step = pl.DataFrame(
        {"pattern": ["clock_step"], "motion": [None], "start": [last], "end": [last], "margin_s": [None]},
        schema=truth.schema,
    ).with_columns(pl.col("start", "end").cast(schema.TIME))
    shifted = truth.with_columns(
        pl.when(pl.col(end) > at).then(pl.col(end) - back).otherwise(end).alias(end) for end in ("start", "end")
    )
    return replace(recording, records=moved), pl.concat([shifted, step])


def _write_plate(home: Path, story: Story) -> Path:
    machine = story.machine
    path = home / "machine.toml"
    assumed = "" if "load.kg" in machine.signals else 'load_spectrum = "L2"\nrecording = "counter_spectrum_estimated"\n'
    rated = "".join(f"{name} = {operations}\n" for name, operations in RATED.items())
    path.write_text(
        f'[machine]\nid = "{machine.id}"\nrated_load_kg = {machine.rated_kg:g}\ngroup = "{machine.group}"\n\n'
        f"[life]\nused_before_h = {story.used_before_h}\n{assumed}\n"
        f"[parts]\n{rated}contactor_before = {story.operations_before}\nbrake_before = {story.stops_before}\n"
        f"relay_before = {story.operations_before}\n",
        "utf-8",
        newline="\n",
    )
    return path


def _write_readme(directory: Path, extent: str, stories: tuple[Story, ...]) -> Path:
    lines = [
        "Harrow Quay Stoneworks: a stone yard that does not exist. Machines, people, loads and faults are invented;",
        f"the logs come from eventlens' own simulation ({extent}). Nothing here was measured on a real machine.",
        "",
        "Each folder holds weekly dumps, the profile that reads them, the machine file, and truth.json: what the",
        "simulated machine really did, as a list of pattern, motion, start and end (UTC).",
        "",
        *(f"{story.machine.id}  ({story.dialect}): {story.about}." for story in stories),
    ]
    path = directory / "README.txt"
    path.write_text("\n".join(lines) + "\n", "utf-8", newline="\n")
    return path


def main(arguments: list[str]) -> int:
    """Write the demonstration, or with --samples the sample logs, to a directory."""
    samples = "--samples" in arguments
    places = [argument for argument in arguments if argument != "--samples"]
    if len(places) != 1:
        print("usage: python -m eventlens.simulation.demonstration [--samples] DIR", file=sys.stderr)
        return 2
    tell: Progress = lambda text: print(text, file=sys.stderr)  # noqa: E731  # one line, used once
    (write_samples if samples else write)(places[0], progress=tell)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
