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


def readings(device: Device, results: Sequence[Power]) -> list[Reading]:
    """The device's readings against the class it promises."""
    promised = promised_class(device)
    return [
        Reading(power, None if needed is None else needed.number, _contradiction(power, promised))
        for power in results
        for needed in (least_poe_class(power.watts, cast(Side, power.side)),)
    ]


@dataclass(frozen=True, slots=True)
class Need:
    """What a device that takes power over its cable needs.

    hardest   the reading that needs the largest class; None where nothing was measured
    promised  the class the maker promises; None where none is named
    """

    hardest: Reading | None
    promised: int | None
    contradictions: tuple[str, ...]

    @property
    def known(self) -> bool:
        """Whether a class can be named: a measured one, or that which is promised."""
        return self.hardest is not None or self.promised is not None

    @property
    def needed(self) -> int | None:
        """The class a switch must give: by the hardest reading, else by the promise; None: no class allows it."""
        return self.promised if self.hardest is None else self.hardest.needed

    @property
    def words(self) -> str:
        """ "class 4", "more than any class allows"; "" where nothing is known."""
        if not self.known:
            return ""
        return "more than any class allows" if self.needed is None else f"class {self.needed}"

    @property
    def beside(self) -> str:
        """What the maker promised, beside what was measured."""
        if self.hardest is None:
            return "promised, not measured" if self.known else ""
        promised = "no class promised" if self.promised is None else f"class {self.promised} promised"
        return f"contradiction: {promised}" if self.contradictions else promised


def need(device: Device, results: Sequence[Power]) -> Need | None:
    """What a device needs from a switch; None for one that takes no power over its cable."""
    if not any(p.power == "in" for p in device.ports):
        return None
    of_device = readings(device, results)
    hardest = max(
        of_device,
        key=lambda r: (99 if r.needed is None else POE_CLASSES[r.needed].device_w, r.power.watts),
        default=None,
    )
    return Need(hardest, promised_class(device), tuple(r.contradiction for r in of_device if r.contradiction))


def need_fact(device: Device, results: Sequence[Power]) -> str:
    """What a device needs in one line, beside the word "Needs": the class by measurement first, what was promised, and what contradicts it."""
    wants = need(device, results)
    if wants is None:
        return "No power over its network cable."
    if wants.hardest is None:
        return f"Promised: {wants.words}; not measured." if wants.known else "Neither promised nor measured."
    power = wants.hardest.power
    reading = (
        f": {wording.watts(power.watts)} {SIDE_WORDS[power.side]}, {power.state}" if not wants.contradictions else ""
    )
    head = f"{wording.capital(wants.words)} (measured{reading}); "
    head += "the maker names no class." if wants.promised is None else f"class {wants.promised} is promised."
    return " ".join([head, *wants.contradictions])


def promised_class(device: Device) -> int | None:
    """The lowest class of a port that takes power; None where no port does, or none is promised."""
    return min((p.power_class for p in device.ports if p.power == "in" and p.power_class is not None), default=None)


def contradictions(device: Device, results: Sequence[Power]) -> tuple[str, ...]:
    """A sentence for every reading that exceeds the promised class."""
    return tuple(r.contradiction for r in readings(device, results) if r.contradiction)


def fit_sentence(device: Device, results: Sequence[Power]) -> str:
    """What is promised, and whether the highest reading fits it; `contradictions` say where one does not."""
    promised = promised_class(device)
    takes_power = any(p.power == "in" for p in device.ports)
    if not takes_power:
        return "No power over its network cable."
    if promised is None:
        return "It takes power over its network cable; the maker names no class."
    limits = POE_CLASSES[promised]
    promise = (
        f"The maker promises class {promised}: up to {wording.watts(limits.device_w)} at the device, "
        f"{wording.watts(limits.supply_w)} at the supply."
    )
    if not results:
        return f"{promise} Nothing was measured."
    if contradictions(device, results):
        return promise
    most = max(results, key=lambda p: p.watts)
    return f"{promise} The highest reading, {wording.watts(most.watts)} {SIDE_WORDS[most.side]} ({most.state}), fits."


def _contradiction(power: Power, promised: int | None) -> str:
    if promised is None:
        return ""
    result = power_contradiction(power.watts, cast(Side, power.side), promised)
    if result is None:
        return ""
    needed = f"class {result.needed.number} is needed" if result.needed else "no class allows that"
    return (
        f"Contradiction: {wording.watts(result.watts)} {SIDE_WORDS[power.side]} ({power.state}) is more than class "
        f"{promised} allows there ({wording.watts(result.limit_w)}); {needed}."
    )
