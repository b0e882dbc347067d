"""Evidence read from the log: one module for each family, each with its small tests, corrected for exposure.

A module offers `signs(complaint)`, which yields what the log says of the family's evidence for one complaint. What the
log cannot show is not yielded: unknown is not absent.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from types import MappingProxyType
from typing import Final

from eventlens.causes.complaints import Complaint
from eventlens.causes.evidence import (
    brake,
    commands,
    contactors,
    limits,
    losses,
    motor,
    overload,
    place,
    record,
    speed,
    supply,
    time,
    use,
)
from eventlens.causes.signs import Sign

FAMILIES: Final = MappingProxyType(
    {
        "losses": losses.signs,
        "commands": commands.signs,
        "brake": brake.signs,
        "contactors": contactors.signs,
        "speed": speed.signs,
        "overload": overload.signs,
        "limits": limits.signs,
        "use": use.signs,
        "motor": motor.signs,
        "supply": supply.signs,
        "place": place.signs,
        "time": time.signs,
        "record": record.signs,
    }
)
"""Family -> what reads it from a log."""


def signs_of(complaint: Complaint) -> dict[str, Sign]:
    """Everything that the log says for one complaint, by evidence."""
    families: Iterable[Callable[[Complaint], Iterator[Sign]]] = FAMILIES.values()
    return {sign.key: sign for family in families for sign in family(complaint)}
