"""What a device's wired ports promise and what it draws: does a switch of that class feed it?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import cast

from builder import wording
from builder.metrics.heat import least_poe_class, power_contradiction
from catalog.records import Device, Power
from catalog.standards import POE_CLASSES, Side

SIDE_WORDS = {"supply": "at the supply", "device": "at the device"}


@dataclass(frozen=True, slots=True)
class Reading:
    """One power reading as the class limits see it.

    needed         smallest class that allows it; None: none does
    contradiction  the sentence where it exceeds the promised class; "" where it does not or nothing is promised
    """

    power: Power
    needed: int | None
    contradiction: str


def readings(device: Device, found: Sequence[Power]) -> list[Reading]:
    """The device's readings against the class it promises."""
    promised = promised_class(device)
    return [
        Reading(power, None if needed is None else needed.number, _contradiction(power, promised))
        for power in found
        for needed in (least_poe_class(power.watts, cast(Side, power.side)),)
    ]


def promised_class(device: Device) -> int | None:
    """The lowest class of a port that takes power; None where no port does, or none is promised."""
    return min((p.power_class for p in device.ports if p.power == "in" and p.power_class is not None), default=None)


def contradictions(device: Device, found: Sequence[Power]) -> tuple[str, ...]:
    """A sentence for every reading that exceeds the promised class."""
    return tuple(r.contradiction for r in readings(device, found) if r.contradiction)


def fit_sentence(device: Device, found: Sequence[Power]) -> str:
    """What is promised, and whether the highest reading fits it; `contradictions` say where one does not."""
    promised = promised_class(device)
    takes_power = any(p.power == "in" for p in device.ports)
    if not takes_power:
        return "It takes no power over its network cable."
    if promised is None:
        return "It takes power over its network cable; the maker names no class."
    limits = POE_CLASSES[promised]
    promise = (
        f"The maker promises class {promised}: up to {wording.watts(limits.device_w)} at the device, "
        f"{wording.watts(limits.supply_w)} at the supply."
    )
    if not found:
        return f"{promise} Nothing was measured."
    if contradictions(device, found):
        return promise
    most = max(found, key=lambda p: p.watts)
    return f"{promise} The highest reading, {wording.watts(most.watts)} {SIDE_WORDS[most.side]} ({most.state}), fits."


def _contradiction(power: Power, promised: int | None) -> str:
    if promised is None:
        return ""
    found = power_contradiction(power.watts, cast(Side, power.side), promised)
    if found is None:
        return ""
    needed = f"class {found.needed.number} is needed" if found.needed else "no class allows that"
    return (
        f"Contradiction: {wording.watts(found.watts)} {SIDE_WORDS[power.side]} ({power.state}) is more than class "
        f"{promised} allows there ({wording.watts(found.limit_w)}); {needed}."
    )
