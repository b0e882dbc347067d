"""Names of months, short, long and mixed, in the languages that consoles speak; a name is told by its beginning."""

from __future__ import annotations

from types import MappingProxyType
from typing import Final

import polars as pl

_NAMES: Final = (
    # English German French Spanish Italian Portuguese Polish (nominative, genitive) Dutch, from memory
    "january januar jänner janvier enero gennaio janeiro styczeń stycznia januari ene gen sty jan jän",
    "february februar feber février febrero febbraio fevereiro luty lutego februari feb fev fév lut",
    "march märz mars marzo março marzec marca maart maerz mar mär mrz mrt",
    "april avril abril aprile kwiecień kwietnia apr avr abr kwi",
    "may mai mayo maggio maio maj maja mei mag",
    "june juni juin junio giugno junho czerwiec czerwca jun giu cze",
    "july juli juillet julio luglio julho lipiec lipca jul lug lip",
    "august août agosto sierpień sierpnia augustus aug aoû ago sie aou",
    "september septembre septiembre settembre setembro wrzesień września setiembre sep sept set wrz",
    "october oktober octobre octubre ottobre outubro październik października oct okt ott out paź paz",
    "november novembre noviembre novembro listopad listopada nov lis",
    "december dezember décembre diciembre dicembre dezembro grudzień grudnia dec dez déc dic gru",
)
_PLAIN: Final = str.maketrans("äéèûçńśźöü", "aeeucnszou")
_LEAST: Final = 3


def _beginnings() -> dict[str, int]:
    """Every beginning (from three letters) of every name that belongs to one month only."""
    found: dict[str, int] = {}
    for number, names in enumerate(_NAMES, 1):
        for name in names.split():
            for length in range(_LEAST, len(name) + 1):
                for stem in {name[:length], name[:length].translate(_PLAIN)}:
                    found[stem] = number if found.get(stem, number) == number else 0
    # a whole name goes before the beginning of another one's
    found |= {name: number for number, names in enumerate(_NAMES, 1) for name in names.split()}
    return {stem: number for stem, number in found.items() if number}


MONTHS: Final = MappingProxyType(_beginnings())


def month_number(name: pl.Expr) -> pl.Expr:
    """Number of a month's name in any case (Int32), null where it is none."""
    return name.str.to_lowercase().replace_strict(dict(MONTHS), default=None, return_dtype=pl.Int32)
