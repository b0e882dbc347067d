"""Bits that stop a motion: limits and slow-downs, overload, emergency stop, thermistor, told from what runs with them.

A final limit comes on in runs of one direction, ends them, lets none run while it is on and goes off in a run of the
other direction. A slow-down does the same to fast alone. Overload ends one direction and goes off at rest or while the
other runs. An emergency stop ends whatever runs and lets nothing run.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from eventlens.reading.suggest.bits import Bit
from eventlens.reading.suggest.limits import Switch, limits_of, switches_of
from eventlens.reading.suggest.parts import Group, Part
from eventlens.reading.suggest.stops import Turn, find_overload, stop_of


def find_blockers(groups: Sequence[Group], bits: Sequence[Bit], turn: Turn, step_s: float) -> list[Part]:
    """Adds limits, overload and thermistor to their groups; gives the bits that stop the whole machine."""
    used = {part.bit.name for group in groups for part in group.parts}
    machine: list[Part] = []
    runs = [run for group in groups for way in ("x", "y") if (run := group.run(way)) is not None]
    starts = np.sort(np.concatenate([run.start for run in runs])) if runs else np.array([], np.int64)
    for group in [group for group in groups if group.paired]:
        switches: list[Switch] = []
        for bit in bits:
            if bit.name in used or not bit.count:
                continue
            found = [
                s
                for one in (bit, turn(bit))
                for s in switches_of(group, one, step_s)
                if s.bit.share < 0.5 and s.off_seen >= 1
            ]
            if len(found) == 1:
                switches.append(found[0])
        for part in limits_of(group, switches, starts):
            group.parts.append(part)
            used.add(part.bit.name)
        find_overload(group, bits, used, turn, step_s)
        used |= {part.bit.name for part in group.parts}
    for bit in bits:
        if bit.name in used or not bit.count:
            continue
        for one in (bit, turn(bit)):
            if stop := stop_of(groups, one, step_s):
                machine.append(stop)
                used.add(bit.name)
                break
    return machine
