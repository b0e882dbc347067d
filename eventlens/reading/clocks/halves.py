"""Markers of the two halves of a twelve-hour clock, before or after the time, in the languages that consoles speak.

Spellings from memory of common locales; a marker that is not listed leaves its stamp not understood.
"""

from __future__ import annotations

import re
from typing import Final

import polars as pl

_FIRST: Final = (
    "am a.m. a.m a. a vorm. vorm vormittags fm f.m. ap. ap dop. dop de. de d.e. öö ö.ö. sa πμ π.μ. μεσ. "
    "上午 午前 오전 ص पूर्वाह्न før. pr. priješ pd p.d. п.п. midnight mattino matin mañana manhã"
)
"""Before noon."""
_SECOND: Final = (
    "pm p.m. p.m p. p nachm. nachm nachmittags em e.m. ip. ip odp. odp du. du d.u. ös ö.s. ch μμ μ.μ. "
    "下午 午後 오후 م अपराह्न ett. pop. popod md m.d. noon pomeriggio après-midi soir tarde noche noite"
)
"""After noon."""


def _spelling(word: str) -> str:
    """A pattern for a marker: 'a.m.' is also written 'a. m.'."""
    return r"\.[\s\x{a0}\x{202f}]?".join(re.escape(part) for part in word.split(".")).removesuffix(
        r"[\s\x{a0}\x{202f}]?"
    )


def _any_of(words: str) -> str:
    return "|".join(_spelling(word) for word in sorted(words.split(), key=len, reverse=True))


FIRST: Final = f"(?i:{_any_of(_FIRST)})"
SECOND: Final = f"(?i:{_any_of(_SECOND)})"
BEFORE: Final = f"(?i:{_any_of('am pm a.m. p.m. 上午 下午 午前 午後 오전 오후 de. du. πμ μμ ص م')})"
"""Markers that stand before the time; Sa and Mi there are weekdays."""
ANY: Final = f"(?i:{_any_of(_FIRST + ' ' + _SECOND)})"
"""Any marker, as a pattern without groups."""


def is_second(marker: pl.Expr) -> pl.Expr:
    """Whether a marker stands for the half after noon."""
    return marker.str.contains(f"^{SECOND}$")
