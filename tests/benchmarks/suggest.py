"""How often proposed signals are right: simulated logs whose names are taken away, or written in seven languages.

    python -m tests.benchmarks.suggest --seeds 100

First table: names are I0.0, I0.1, ... in one of the three layouts; some signals are absent, some contacts inverted,
some bits have nothing to do with the machine (random toggles, a sign of life, bits of another machine). Right, wrong
and left open are counted over all signals, and over those that can be told at all (`decidable`): not bits that never
change, not which travel is trolley or bridge and left or right, not which direction is raise without load, overload or
tested limit, not command or contactor alone. Second table: the same logs with names of the trade.
"""

from __future__ import annotations

import argparse
import random
import sys
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

import polars as pl

import eventlens
from eventlens.signals import MEASURES, MOTIONS
from eventlens.simulation import HELD_OUT, ORDINARY, Faults, Scenario, Simulated, signals_of, simulate
from eventlens.simulation.dialects import TAGS, column_of

CARRIED: Final = ("everything", "commands", "contactors", "most", "some", "three")
LAYOUTS: Final = ("changes", "samples", "words")
DAYS: Final = 2
RANGES: Final = {"ordinary": ORDINARY, "held out": HELD_OUT}
EVENTS_ENOUGH: Final = 2
FAULTS: Final = (
    Faults(),
    Faults(),
    Faults(loose_relay={"hoist.raise": 0.03}, dead_relay={"hoist.raise": 0.03, "trolley.left": 0.03}, fast_dead=0.05),
    Faults(confirm_missing=0.02, brake_stuck=0.01, confirm_lost=0.05, lining_wear_s=0.15),
    Faults(timer_missing=0.1, timer_short=0.05, trip_level=0.8),
    Faults(holes_per_day=3.0, supply_dips_per_h=0.5),
)
"""A third of the machines is in order; the others have the faults that a review is for."""


@dataclass(frozen=True)
class Dump:
    """A log whose names are other ones."""

    records: pl.DataFrame
    """time, name, value: the changes of every signal and stranger, under the names of the dump."""
    truth: Mapping[str, str | None]
    """Name -> signal; None: it has nothing to do with the machine."""
    inverted: frozenset[str]
    decidable: frozenset[str]
    """Names of signals that can be told."""


def choose(simulated: Simulated, carried: str, rng: random.Random) -> list[str]:
    """The signals that the dump carries."""
    everything = list(simulated.recording.carried)
    runs = [name for name in everything if name.endswith((".command", ".contactor"))]
    if carried == "everything":
        return everything
    if carried in ("commands", "contactors"):
        other = ".contactor" if carried == "commands" else ".command"
        return [name for name in everything if not name.endswith(other)]
    if carried == "three":
        triples = [
            ("hoist.raise.contactor", "hoist.lower.contactor", "hoist.brake.released"),
            ("hoist.raise.contactor", "hoist.lower.contactor", "hoist.fast.contactor"),
            ("hoist.raise.command", "hoist.lower.command", "hoist.fast.command"),
            ("hoist.raise.command", "hoist.raise.contactor", "hoist.brake.released"),
            tuple(rng.sample(runs, 3)),
        ]
        return list(rng.choice(triples))
    share = 0.8 if carried == "most" else 0.5
    return [name for name in everything if rng.random() < share] or everything[:3]


def changes_of(simulated: Simulated, names: Sequence[str]) -> pl.DataFrame:
    """time, name, value: the records of some signals."""
    return simulated.recording.records.filter(pl.col("name").is_in(list(names))).select("time", "name", "value")


def neighbour(simulated: Simulated) -> Simulated:
    """Another machine, in the same days."""
    seed = simulated.seed + 5000
    return simulate(simulated.scenario, seed=seed, days=DAYS, step_s=simulated.recording.step_s)


def strangers(simulated: Simulated, other: Simulated, rng: random.Random) -> pl.DataFrame:
    """Bits that belong to no signal of the machine: toggles, a sign of life, a few bits of another machine."""
    frame = changes_of(simulated, ["heartbeat"])
    start, end = frame["time"].min(), frame["time"].max()
    length_s = (end - start).total_seconds()  # type: ignore[operator]
    step = simulated.recording.step_s
    parts = []
    for number in range(rng.randint(1, 3)):
        count = rng.choice([6, 60, 600])
        at = sorted({round(rng.uniform(0, length_s) / step) for _ in range(count)})
        parts.append(_bit(f"toggle {number}", start, at, step, [float(i % 2) for i in range(len(at))]))
    beats = range(0, int(length_s / step), round(10.0 / step))
    parts.append(_bit("sign of life", start, list(beats), step, [float(i % 2) for i in range(len(beats))]))
    chosen = rng.sample([name for name in other.recording.carried if name not in MEASURES], rng.randint(0, 4))
    parts.append(changes_of(other, chosen).with_columns(name=pl.lit("other ") + pl.col("name")))
    return pl.concat(parts)


def _bit(name: str, start: object, ticks: Sequence[int], step: float, values: Sequence[float]) -> pl.DataFrame:
    micro = round(step * 1e6)
    return pl.DataFrame({"tick": ticks, "value": values}).select(
        time=pl.lit(start).cast(pl.Datetime("us", "UTC")) + pl.duration(microseconds=pl.col("tick") * micro),
        name=pl.lit(name),
        value="value",
    )


def make(
    simulated: Simulated,
    carried: str,
    rng: random.Random,
    *,
    named: Mapping[str, str] | None = None,
    other: Simulated | None = None,
) -> Dump:
    """A dump of some of its signals; `named`: signal -> name, else names say nothing and strangers are mixed in, also
    of the `other` machine."""
    names = choose(simulated, carried, rng)
    if named is not None:
        names = [name for name in names if name in named]
    frame = changes_of(simulated, names)
    if named is None:
        frame = pl.concat([frame, strangers(simulated, other or neighbour(simulated), rng)])
    every = sorted(frame["name"].unique().to_list())
    rng.shuffle(every)
    places = [name for name in every if name not in MEASURES] + [name for name in every if name in MEASURES]
    called = {name: f"I{at // 8}.{at % 8}" if named is None else named[name] for at, name in enumerate(places)}
    passive = [n for n in names if n.endswith((".limit", ".slowdown", ".hot")) or n.startswith(("overload", "stop"))]
    inverted = {name for name in passive if rng.random() < 0.5}
    value = pl.when(pl.col("name").is_in(list(inverted))).then(1.0 - pl.col("value")).otherwise("value")
    records = frame.with_columns(value=value, name=pl.col("name").replace_strict(called)).sort("time", "name")
    told = decidable(simulated, names)
    return Dump(
        records,
        {called[name]: name if name in names else None for name in every},
        frozenset(called[name] for name in inverted),
        frozenset(called[name] for name in told),
    )


def decidable(simulated: Simulated, names: Sequence[str]) -> set[str]:
    """Signals that behaviour alone can tell, by what the log carries of them."""
    have = set(names)
    counts = Counter(changes_of(simulated, names)["name"].to_list())
    live = {name for name in have if counts[name] > 1}
    runs = {f"{motion}.{way}": motion for motion, pair in MOTIONS.items() for way in pair}
    twins = any({f"{run}.command", f"{run}.contactor"} <= live for run in runs)
    fasts = {name.rsplit(".", 1)[1] for name in live if ".fast." in name}

    def ran(way: str) -> bool:
        return bool({f"hoist.{way}.command", f"hoist.{way}.contactor"} & live)

    both = ran("raise") and ran("lower")
    follower = bool({"hoist.fast.command", "hoist.fast.contactor", "hoist.brake.released"} & live)
    if not (both and follower):
        return set()
    contactors = {"hoist.raise.contactor", "hoist.lower.contactor"} <= live
    trips = [at for at, on in simulated.tracks["overload.trip"] if on]
    cut = [run for run in simulated.runs["hoist"] if run[3] == "overload" and run[2] - run[1] < 4.0]
    tripped = contactors and "overload.trip" in live and len(trips) >= EVENTS_ENOUGH and len(cut) >= 1
    switches = {name for name in live if name in ("hoist.raise.limit", "hoist.raise.slowdown")}
    limit = "hoist.raise.limit" in switches and (contactors or len(switches) == 2)
    raising = "load.kg" in live or tripped or limit
    hoist = raising or "hoist.brake.released" in live
    found = {"hoist.brake.released"} & live
    if hoist:
        found |= {name for name in live if name.startswith("hoist.fast.")}
    if raising:
        for way in ("raise", "lower"):
            pair = {f"hoist.{way}.command", f"hoist.{way}.contactor"} & live
            if len(pair) == 2 or (not twins and len(fasts) == 1):
                found |= pair
        found |= {"hoist.raise.limit"} & live if limit else set()
        found |= {"hoist.raise.slowdown"} & live if len(switches) == 2 else set()
        found |= {"load.kg"} & live
    return found | ({"overload.trip"} if tripped else set())


def write(dump: Dump, layout: str, path: Path) -> dict[str, str]:
    """The dump as a file; gives each name as the file shows it (bits of words are called word.bit)."""
    stamp = pl.col("time").dt.strftime("%Y-%m-%d %H:%M:%S%.3f")
    value = pl.when(pl.col("value") == pl.col("value").round(0)).then(pl.col("value").cast(pl.Int64).cast(pl.String))
    text = value.otherwise(pl.col("value").cast(pl.String))
    if layout == "changes":
        dump.records.select(Time=stamp, Tag="name", State=text).write_csv(path, separator=";")
        return {name: name for name in dump.truth}
    wide = dump.records.pivot(on="name", index="time", values="value", aggregate_function="last").sort("time")
    names = [name for name in dump.truth if name in wide.columns]
    wide = wide.with_columns(pl.col(names).forward_fill().backward_fill())
    if layout == "samples":
        wide.select(stamp.alias("Time"), *(pl.col(name).cast(pl.Int64) for name in names)).write_csv(path)
        return {name: name for name in names}
    states = [name for name in names if dump.truth[name] not in MEASURES]
    measures = [name for name in names if name not in states]
    words, shown = {}, {name: name for name in measures}
    for number, at in enumerate(range(0, len(states), 16)):
        part = states[at : at + 16]
        words[f"MW{20 + 2 * number}"] = pl.sum_horizontal(pl.col(n).cast(pl.Int64) * 2**b for b, n in enumerate(part))
        shown |= {name: f"MW{20 + 2 * number}.{bit}" for bit, name in enumerate(part)}
    wide.select(stamp.alias("Time"), *(pl.col(name).cast(pl.Int64) for name in measures), **words).write_csv(path)
    return shown


Score = Counter[str]


def score(dump: Dump, shown: Mapping[str, str], proposals: Sequence[eventlens.reading.suggest.Proposal]) -> Score:
    """Right, wrong and open over all signals, over the decidable ones, and strangers that were taken for signals."""
    by_name = {one.name: one for one in proposals}
    found: Score = Counter()
    for name, signal in dump.truth.items():
        one = by_name.get(shown.get(name, name))
        got = one.signal if one else None
        if signal is None:
            found["strangers"] += 1
            found["strangers taken"] += got is not None
            continue
        outcome = "open" if got is None else "right" if got == signal else "wrong"
        if outcome == "right" and one is not None and signal not in MEASURES and one.invert != (name in dump.inverted):
            outcome = "wrong"
        found["signals"] += 1
        found[outcome] += 1
        if got is None and one is not None and signal in one.candidates:
            found["kind known"] += len({c.rsplit(".", 1)[1] for c in one.candidates}) == 1
        if name in dump.decidable:
            found["decidable"] += 1
            found[f"decidable {outcome}"] += 1
    return found


def unlabelled(seeds: Sequence[int], ranges: str, step_s: float, folder: Path) -> dict[str, Score]:
    """Scores of logs whose names say nothing, by what they carry."""
    scores: dict[str, Score] = defaultdict(Counter)
    for seed in seeds:
        rng = random.Random(f"suggest {ranges} {seed}")
        carried_signals = signals_of(load=rng.random() < 0.5)
        scenario = Scenario(signals=carried_signals, ranges=RANGES[ranges], faults=rng.choice(FAULTS))
        simulated = simulate(scenario, seed=seed, days=DAYS, step_s=step_s)
        other = neighbour(simulated)
        for number, carried in enumerate(CARRIED):
            dump = make(simulated, carried, rng, other=other)
            layout = LAYOUTS[(seed + number) % 3]
            path = folder / "dump.csv"
            shown = write(dump, layout, path)
            scores[carried] += score(dump, shown, eventlens.inspect(path).proposals)
    return scores


LANGUAGES: Final = ("English", "German", "French", "Spanish", "Italian", "Portuguese", "Polish")
_WAYS: Final = {
    "hoist.raise": ("Hoist up", "Heben", "Montée", "Subir", "Salita", "Subida", "Podnoszenie"),
    "hoist.lower": ("Hoist down", "Senken", "Descente", "Bajar", "Discesa", "Descida", "Opuszczanie"),
    "hoist.fast": ("Hoist fast", "Hubwerk schnell", "Levage GV", "Elevación rápida", "Sollevamento veloce",
                   "Elevação rápido", "Wciągnik szybko"),
    "trolley.left": ("Trolley left", "Katze links", "Chariot gauche", "Carro izquierda", "Carrello sinistra",
                     "Carro esquerda", "Wózek lewo"),
    "trolley.right": ("Trolley right", "Katze rechts", "Chariot droite", "Carro derecha", "Carrello destra",
                      "Carro direita", "Wózek prawo"),
    "trolley.fast": ("Trolley fast", "Katze schnell", "Chariot GV", "Carro rápido", "Carrello veloce",
                     "Carrinho rápido", "Wózek szybko"),
    "bridge.forward": ("Bridge forward", "Kran vorwärts", "Pont avant", "Puente adelante", "Ponte avanti",
                       "Ponte frente", "Most przód"),
    "bridge.reverse": ("Bridge reverse", "Kran rückwärts", "Pont arrière", "Puente atrás", "Ponte indietro",
                       "Ponte trás", "Most tył"),
    "bridge.fast": ("Bridge fast", "Kran schnell", "Pont GV", "Puente rápido", "Ponte veloce", "Ponte rápido",
                    "Most szybko"),
}  # fmt: skip
_KINDS: Final = {
    "command": ("button", "Taster", "ordre", "pulsador", "pulsante", "botão", "przycisk"),
    "contactor": ("contactor", "Schütz", "contacteur", "contactor", "contattore", "contator", "stycznik"),
    "limit": ("limit", "Endschalter", "fin de course", "final de carrera", "finecorsa", "fim de curso",
              "wyłącznik krańcowy"),
    "slowdown": ("slow-down", "Vorendschalter", "ralentissement", "deceleración", "rallentamento", "redução",
                 "zwalnianie"),
}  # fmt: skip
_WHOLE: Final = {
    "hoist.brake.released": ("Hoist brake released", "Bremse gelüftet", "Frein desserré", "Freno liberado",
                             "Freno sbloccato", "Freio liberado", "Hamulec zwolniony"),
    "hoist.motor.hot": ("Hoist motor thermistor", "Kaltleiter Hubmotor", "Sonde thermique levage",
                        "Termistor elevación", "Termistore sollevamento", "Termistor elevação", "Termistor wciągnik"),
    "overload.trip": ("Overload", "Überlast", "Surcharge", "Sobrecarga", "Sovraccarico", "Sobrecarga", "Przeciążenie"),
    "stop.emergency": ("Emergency stop", "Not-Aus", "Arrêt d'urgence", "Parada de emergencia", "Arresto di emergenza",
                       "Parada de emergência", "Stop awaryjny"),
    "supply.control": ("Control voltage", "Steuerspannung", "Tension de commande", "Tensión de mando",
                       "Tensione ausiliari", "Tensão de comando", "Napięcie sterowania"),
    "load.kg": ("Load kg", "Last kg", "Charge kg", "Carga kg", "Carico kg", "Carga kg", "Obciążenie kg"),
}  # fmt: skip


def names_in(language: str) -> dict[str, str]:
    """Signal -> name in a language of the trade, or in one of the simulation's own dialects."""
    if language == "tags":
        return dict(TAGS)
    if language == "columns":
        return {signal: column_of(signal) for signal in TAGS}
    at = LANGUAGES.index(language)
    found = {signal: texts[at] for signal, texts in _WHOLE.items()}
    for signal in TAGS:
        way, _, kind = signal.rpartition(".")
        if way in _WAYS and kind in _KINDS:
            found[signal] = f"{_WAYS[way][at]} {_KINDS[kind][at]}"
    return found


def labelled(seeds: Sequence[int], step_s: float, folder: Path) -> dict[str, Score]:
    """Scores of logs whose names are words of the trade, by language."""
    scores: dict[str, Score] = defaultdict(Counter)
    for seed in seeds:
        rng = random.Random(f"named {seed}")
        simulated = simulate(Scenario(signals=signals_of(load=True)), seed=seed, days=1, step_s=step_s)
        for language in (*LANGUAGES, "tags", "columns"):
            named = names_in(language)
            dump = make(simulated, "most", rng, named=named)
            path = folder / "dump.csv"
            shown = write(dump, ("changes", "samples")[seed % 2], path)
            scores[language] += score(dump, shown, eventlens.inspect(path).proposals)
    return scores


def table(scores: Mapping[str, Score], title: str) -> str:
    """The scores as text."""
    lines = [title, f"{'':22}{'signals':>8}{'right':>8}{'wrong':>8}{'open':>8}{'kind':>7}"
             f"{'decidable':>11}{'right':>8}{'wrong':>8}{'open':>8}{'strangers taken':>17}"]  # fmt: skip
    total: Score = Counter()
    for one in scores.values():
        total += one
    for name, one in (*scores.items(), ("all", total)):
        shares = [_share(one[key], one["signals"]) for key in ("right", "wrong", "open", "kind known")]
        told = [_share(one[f"decidable {key}"], one["decidable"]) for key in ("right", "wrong", "open")]
        lines.append(
            f"{name:22}{one['signals']:>8}{shares[0]:>8}{shares[1]:>8}{shares[2]:>8}{shares[3]:>7}"
            f"{one['decidable']:>11}{told[0]:>8}{told[1]:>8}{told[2]:>8}"
            f"{one['strangers taken']:>9} of {one['strangers']:<5}"
        )
    return "\n".join(lines)


def _share(part: int, whole: int) -> str:
    return f"{part / whole:.1%}" if whole else "-"


def main(arguments: Sequence[str]) -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, default=20)
    parser.add_argument("--steps", type=float, nargs="+", default=[0.01])
    options = parser.parse_args(arguments)
    with TemporaryDirectory() as name:
        folder = Path(name)
        for step in options.steps:
            for ranges in RANGES:
                print(table(unlabelled(range(options.seeds), ranges, step, folder), f"{ranges}, step {step:g} s"))
        print(table(labelled(range(max(options.seeds // 5, 2)), 0.01, folder), "names of the trade"))


if __name__ == "__main__":
    main(sys.argv[1:])
