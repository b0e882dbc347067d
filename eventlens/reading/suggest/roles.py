"""The roles of bits within one motion: brake, fast command and fast output, commands and contactors."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from eventlens.reading.suggest.bits import Bit
from eventlens.reading.suggest.parts import Channel, Group, Part, Relations

FEWEST_RUNS: Final = 6
BRAKE_RISE_S: Final = (0.04, 0.6)
BRAKE_FALL_S: Final = (0.015, 0.6)
TIMED_S: Final = 0.3
"""The shortest usual delay from slow to fast (anti-jog 0.3 to 0.5 s, step-up of travels longer)."""
STEADY_S: Final = 0.03
"""Delays that come from a timer lie within this of each other ..."""
PILED: Final = 0.28
"""... and are at least this share of all; those of a hand spread wider (from memory)."""
SPREAD: Final = 0.24
"""Below this share a hand is certain."""
COARSE_S: Final = 0.03
"""A log step above this hides the difference."""


def group_of(
    x: Channel, y: Channel, followers: Sequence[str], bits: Mapping[str, Bit], relations: Relations, step_s: float
) -> Group:
    """The motion of two directions and the bits that follow them, each with its role."""
    group = Group()
    brakes = [z for z in followers if _is_brake(x, y, z, relations, step_s)]
    fasts = [z for z in followers if z not in brakes]
    for z in brakes[:1] if len(brakes) == 1 else ():
        rise, fall = relations[x[-1], z].rise, relations[x[-1], z].fall
        reason = (
            f"rises {rise.median:.2f} s (median of {rise.n}) after '{x[-1]}', likewise after '{y[-1]}', "
            f"and falls {fall.median:.2f} s after its end"
        )
        group.parts.append(Part(bits[z], "brake.released", 0.97, reason))
    layers = _fast_layers(x, y, fasts, relations, step_s)
    for z, (layer, reason) in layers.items():
        role = f"fast.{layer}" if layer else "fast.run"
        group.parts.append(Part(bits[z], role, 0.97, reason))
    for way, own, other in (("x", x, y), ("y", y, x)):
        group.parts += _direction(way, own, other, bits, relations)
    return group


def _is_brake(x: Channel, y: Channel, z: str, relations: Relations, step_s: float) -> bool:
    """Whether z answers nearly every run of both directions soon and falls after its end."""
    for channel in (x, y):
        r = relations[channel[-1], z]
        if r.answered < 0.75 or not BRAKE_RISE_S[0] - step_s / 10 <= r.rise.mean <= BRAKE_RISE_S[1]:
            return False
        if not BRAKE_FALL_S[0] - step_s / 10 <= r.fall.mean <= BRAKE_FALL_S[1] or r.rise.at(0.9) > 1.0 + step_s:
            return False
    return True


def _fast_layers(
    x: Channel, y: Channel, fasts: Sequence[str], relations: Relations, step_s: float
) -> dict[str, tuple[str, str]]:
    """Which of the fast bits is the command and which the output; '' where it is not known."""
    found: dict[str, tuple[str, str]] = {}
    for z in fasts:
        rise = max((relations[channel[-1], z].rise for channel in (x, y)), key=lambda lag: lag.n)
        peak, piled = rise.peak(STEADY_S + step_s)
        inside = f"lies within runs of '{x[-1]}' and '{y[-1]}' only"
        begins = f"{inside} and begins {rise.median:.2f} s (median of {rise.n}) after their start"
        coarse = step_s > COARSE_S
        if peak >= TIMED_S + (step_s if coarse else 0.0) and piled >= (0.6 if coarse else PILED + 0.5 / rise.n**0.5):
            found[z] = ("contactor", f"{begins}, {piled:.0%} of them within {STEADY_S + step_s:.2f} s, as a timer does")
        elif not coarse and (peak < TIMED_S - 0.05 or piled < SPREAD):
            found[z] = ("command", f"{begins}, spread as a hand does")
        else:
            found[z] = ("", inside)
    if len(fasts) == 2:
        a, b = fasts
        for first, second in ((a, b), (b, a)):
            r = relations[first, second]
            if r.into >= 0.95 and r.rise.mean > 0.0 and r.fall.mean >= 0.0 and not r.rise.mean < 0.02 + step_s / 10:
                inside = f"lies within runs of '{x[-1]}' and '{y[-1]}' only"
                found[first] = ("command", f"{inside}; '{second}' follows it and ends just after it")
                found[second] = ("contactor", f"{inside}, begins {r.rise.median:.2f} s (median of {r.rise.n}) after"
                                 f" '{first}' and ends {r.fall.mean:.3f} s after it")  # fmt: skip
                return found
    layers = [layer for layer, _ in found.values()]
    if len(layers) > 2 or (layers and len(set(layers)) < len(layers)):
        return {z: ("", reason) for z, (_, reason) in found.items()}
    return found


def _direction(
    way: str,
    own: Channel,
    other: Channel,
    bits: Mapping[str, Bit],
    relations: Relations,
) -> list[Part]:
    apart = f"never on together with '{other[-1]}'"
    if len(own) == 2:
        command, contactor = own
        r = relations[command, contactor]
        return [
            Part(bits[command], f"{way}.command", 0.97, f"'{contactor}' follows it {r.rise.mean:.3f} s later (mean of"
                 f" {r.rise.n}) and ends {r.fall.mean:.3f} s after it; {apart}"),
            Part(bits[contactor], f"{way}.contactor", 0.97, f"follows '{command}' {r.rise.mean:.3f} s later (mean of"
                 f" {r.rise.n}) and ends {r.fall.mean:.3f} s after it; {apart}"),
        ]  # fmt: skip
    return [Part(bits[own[0]], f"{way}.run", 0.95, f"{bits[own[0]].count} runs, {apart}")]


def halves_of(channels: Sequence[Channel], bits: Mapping[str, Bit], relations: Relations, step_s: float) -> list[Group]:
    """Directions whose counterpart is not in the log, with the bits that follow them."""
    groups: list[Group] = []
    singles = [channel[0] for channel in channels if len(channel) == 1]
    taken: set[str] = set()
    for own in sorted(channels, key=lambda channel: -len(channel)):
        if set(own) & taken:
            continue
        group, name = Group(), own[-1]
        for z in singles:
            if z in own or z in taken:
                continue
            r = relations[name, z]
            steady = r.rise.n >= FEWEST_RUNS and r.rise.at(0.95) - r.rise.at(0.05) <= 0.1 + 2 * step_s
            after = BRAKE_FALL_S[0] <= r.fall.mean <= BRAKE_FALL_S[1]
            soon = r.answered >= 0.9 and steady and BRAKE_RISE_S[0] <= r.rise.mean <= BRAKE_RISE_S[1]
            if soon and after and bits[z].count > 1.25 * bits[name].count:
                reason = f"rises {r.rise.median:.2f} s (median of {r.rise.n}) after '{name}' and falls after it"
                group.parts.append(Part(bits[z], "brake.released", 0.9, reason))
                taken.add(z)
        if len(own) == 2 or group.parts:
            group.parts += _direction("x", own, own, bits, relations)
            groups.append(group)
            taken |= set(own)
    return groups
