"""Guards what a name alone says: words of seven languages, letter codes, spelling, and what must stay unsaid."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eventlens import signals
from eventlens.reading.suggest.names import read_names
from eventlens.reading.suggest.wording import fold, tokens


def best(name: str, *others: str) -> dict[str, float]:
    """The signals that a name most likely stands for, with their shares; `others` are the log's other names."""
    weights = read_names([name, *others])[name].weights
    top = max(weights.values(), default=0.0)
    return {signal: share for signal, share in weights.items() if share == top}


# Words: common usage of the trade in each language (from memory).
@pytest.mark.parametrize(
    ("name", "signal"),
    [
        ("Hoist up contactor", "hoist.raise.contactor"),
        ("Schütz Heben", "hoist.raise.contactor"),
        ("Contacteur descente", "hoist.lower.contactor"),
        ("Pulsador subir", "hoist.raise.command"),
        ("Pulsante discesa", "hoist.lower.command"),
        ("Botão descida", "hoist.lower.command"),
        ("Przycisk podnoszenie", "hoist.raise.command"),
        ("Taster Katze links", "trolley.left.command"),
        ("Pont avant ordre", "bridge.forward.command"),
        ("Wózek szybko stycznik", "trolley.fast.contactor"),
        ("Kran schnell Schütz", "bridge.fast.contactor"),
        ("Bremse gelüftet", "hoist.brake.released"),
        ("Bremse auf", "hoist.brake.released"),
        ("Frein desserré", "hoist.brake.released"),
        ("brake released", "hoist.brake.released"),
        ("Hamulec zwolniony", "hoist.brake.released"),
        ("Überlast", "overload.trip"),
        ("Ueberlast Vorwarnung", "overload.warning"),
        ("Overload device fault", "overload.fault"),
        ("Sobrecarga", "overload.trip"),
        ("Endschalter oben", "hoist.raise.limit"),
        ("Fin de course haut", "hoist.raise.limit"),
        ("upper limit", "hoist.raise.limit"),
        ("lower limit", "hoist.lower.limit"),
        ("Vorendschalter Senken", "hoist.lower.slowdown"),
        ("Not-Aus", "stop.emergency"),
        ("NOTAUS", "stop.emergency"),
        ("E-Stop", "stop.emergency"),
        ("Arrêt d'urgence", "stop.emergency"),
        ("Stop awaryjny", "stop.emergency"),
        ("Schlaffseil", "rope.slack"),
        ("Steuerspannung", "supply.control"),
        ("Phasenausfall", "supply.phase_fault"),
        ("Kaltleiter Hubmotor", "hoist.motor.hot"),
        ("Quittieren", "fault.reset"),
        ("Last kg", "load.kg"),
        ("Hubwerk Motorstrom", "hoist.motor.current_a"),
    ],
)
def test_words_of_the_trade(name: str, signal: str) -> None:
    assert set(best(name)) == {signal}


@pytest.mark.parametrize(
    "name",
    ["HOIST_RAISE_CONTACTOR", "HoistRaiseContactor", "hoist.raise.contactr", "hoist raise contact",
     "Hubwerk-Heben-Schuetz", "HubwerkHeben Schütz", "HUBWERK HEBEN SCHUTZ"],
)  # fmt: skip
def test_separators_case_accents_typos_and_compounds(name: str) -> None:
    assert set(best(name)) == {"hoist.raise.contactor"}


def test_a_bare_direction_leaves_command_and_contactor_open() -> None:
    assert set(best("Heben")) == {"hoist.raise.command", "hoist.raise.contactor"}
    assert set(best("Senken")) == {"hoist.lower.command", "hoist.lower.contactor"}


def test_fast_alone_is_the_hoist_only_where_nothing_travels() -> None:
    assert set(best("Schnell", "Heben")) == {"hoist.fast.command", "hoist.fast.contactor"}
    assert {signals.motion_of(s) for s in best("Schnell", "Heben", "Katze links")} == {"hoist", "trolley", "bridge"}


@pytest.mark.parametrize(
    ("name", "allowed", "refused"),
    [
        ("K11", "hoist.raise.contactor", "hoist.raise.command"),
        ("-K11", "hoist.lower.contactor", "hoist.lower.limit"),
        ("S7", "hoist.raise.limit", "hoist.raise.contactor"),
        ("SQ2", "hoist.raise.limit", "hoist.raise.command"),
        ("B3", "hoist.brake.released", "hoist.raise.contactor"),
        ("F5", "hoist.motor.hot", "hoist.raise.command"),
    ],
)
def test_a_letter_code_gives_a_kind_and_no_direction(name: str, allowed: str, refused: str) -> None:
    """Letter codes: IEC 81346-2 and EN 60750."""
    reading = read_names([name])[name]
    assert reading.weights == {}
    assert reading.allows(allowed) == 1.0
    assert reading.allows(refused) < 0.2


@pytest.mark.parametrize("name", ["I0.3", "Q0.1", "MW20.3", "RUN", "TRIP", "HB", "STW", "", "17", "column_3", "Motor"])
def test_names_that_say_nothing(name: str) -> None:
    reading = read_names([name])[name]
    assert reading.weights == {}
    assert reading.allows("hoist.raise.command") == 1.0


@pytest.mark.parametrize("name", ["Horn", "Hupe", "Hoist lamp", "Brake contactor", "Bremse Schütz"])
def test_names_of_other_things_are_no_signal(name: str) -> None:
    assert read_names([name])[name].weights == {}


@pytest.mark.parametrize(
    ("name", "invert"),
    [
        ("Not-Aus OK", True),
        ("Upper limit NC", True),
        ("Bremse zu", True),
        ("Bremse gelüftet", False),
        ("Not-Aus", None),
    ],
)
def test_names_that_turn_their_meaning_round(name: str, invert: bool | None) -> None:
    assert read_names([name])[name].invert is invert


def test_tokens_and_folding() -> None:
    assert tokens("HoistUp_cmd2") == ["hoist", "up", "cmd", "2"]
    assert fold("Gelüftet Wózek Prędkość Straße") == "geluftet wozek predkosc strasse"


@given(st.lists(st.text(max_size=30), max_size=8, unique=True))
def test_any_text_is_read_and_shares_stay_shares(names: list[str]) -> None:
    found = read_names(names)
    assert list(found) == names
    for reading in found.values():
        assert set(reading.weights) <= set(signals.ALL)
        assert sum(reading.weights.values()) <= 1.0 + 1e-9
