"""The words in a name -> concepts of the trade: phrases, compounds, abbreviations and misspellings too."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from functools import cache
from typing import Final

from eventlens.reading.suggest.vocabulary import WORDS

ABBREVIATED: Final = 0.9
MISSPELT: Final = 0.88
SHORTEST_FUZZY: Final = 5
ALIKE: Final = 84.0
"""Share of equal letters [%] from which a word counts as misspelt (common practice for short words)."""
LONGEST_PHRASE: Final = 4
OTHERWISE: Final = frozenset({"horn", "lamp", "light", "hupe", "leuchte", "licht", "door", "tuer", "fan", "luefter"})
"""Words that make a name another thing."""
_SPECIAL: Final = str.maketrans({"ł": "l", "Ł": "L", "ß": "ss", "ø": "o", "Ø": "O", "æ": "ae"})


def fold(text: str) -> str:
    """Lower case without accents: 'Gelüftet' -> 'geluftet', 'Wózek' -> 'wozek'."""
    plain = unicodedata.normalize("NFKD", text.translate(_SPECIAL))
    return "".join(letter for letter in plain if not unicodedata.combining(letter)).lower()


def tokens(name: str) -> list[str]:
    """The words and numbers of a name: 'HoistUp_cmd2' -> hoist, up, cmd, 2."""
    parted = re.sub(r"(?<=[a-zäöüß])(?=[A-Z])", " ", name)
    return re.findall(r"[a-z]+|\d+", fold(parted))


@cache
def _phrases() -> dict[tuple[str, ...], tuple[str, ...]]:
    """Words and phrases as tuples -> their concepts; phrases also written as one word."""
    found: dict[tuple[str, ...], set[str]] = {}
    for concept, text in WORDS.items():
        for entry in text.split("|") if "|" in text else text.split():
            parts = tuple(entry.replace("_", " ").split())
            parts = tuple(re.findall(r"[a-z]+|\d+", " ".join(parts)))
            for key in {parts, ("".join(parts),)}:
                found.setdefault(key, set()).add(concept)
    return {key: tuple(sorted(concepts)) for key, concepts in found.items()}


@cache
def _single() -> tuple[str, ...]:
    return tuple(sorted(key[0] for key in _phrases() if len(key) == 1))


def concepts_of(name: str) -> dict[str, float]:
    found: dict[str, float] = {}
    parts, at = tokens(name), 0
    while at < len(parts):
        for length in range(min(LONGEST_PHRASE, len(parts) - at), 0, -1):
            concepts = _phrases().get(tuple(parts[at : at + length]))
            if concepts:
                _add(found, concepts, 1.0)
                at += length
                break
        else:
            for concepts, strength in _parts_of(parts[at]):
                _add(found, concepts, strength)
            at += 1
    return found


def _add(found: dict[str, float], concepts: Iterable[str], strength: float) -> None:
    for concept in concepts:
        found[concept] = max(found.get(concept, 0.0), strength)


@cache
def _parts_of(word: str) -> tuple[tuple[tuple[str, ...], float], ...]:
    """A word that is in no list: a compound, an abbreviation or a misspelling of words that are."""
    if len(word) < 3 or word.isdecimal() or word in OTHERWISE:
        return ((("other",), 1.0),) if word in OTHERWISE else ()
    if parts := _split(word):
        return tuple((_phrases()[(part,)], 0.95) for part in parts)
    starts = {_phrases()[(one,)] for one in _single() if len(word) >= 4 and one.startswith(word)}
    if len(starts) == 1:
        return ((next(iter(starts)), ABBREVIATED),)
    return _misspelt(word)


def _misspelt(word: str) -> tuple[tuple[tuple[str, ...], float], ...]:
    if len(word) < SHORTEST_FUZZY:
        return ()
    from rapidfuzz import fuzz, process

    near = process.extract(word, _single(), scorer=fuzz.ratio, score_cutoff=ALIKE, limit=3)
    best = [one for one, score, _ in near if len(one) >= SHORTEST_FUZZY and score == near[0][1]]
    meant = {_phrases()[(one,)] for one in best}
    return ((next(iter(meant)), MISSPELT),) if len(meant) == 1 else ()


def _split(word: str) -> tuple[str, ...]:
    """A compound as its words, all of at least three letters, joined by nothing, 's', 'n' or 'en'; else empty."""
    known = set(_single())

    def rest(at: int) -> tuple[str, ...] | None:
        if at == len(word):
            return ()
        for end in range(len(word), at + 2, -1):
            if word[at:end] in known:
                for joint in ("", "s", "n", "en"):
                    if word.startswith(joint, end) and (found := rest(end + len(joint))) is not None:
                        return (word[at:end], *found)
        return None

    return rest(0) or ()
