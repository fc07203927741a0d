"""Which pairs of devices get a page of their own: those an article names, and for each device its nearest.

Nearest are the two neighbours in the middle window of its largest group and its predecessor of the same maker:
about three pairs a device, whatever the size of the catalogue.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from itertools import combinations

from builder.comparisons.bench import Bench, current_firmware
from builder.comparisons.cells import Group
from builder.comparisons.ranking import Ranking

Pair = tuple[str, str]  # two device ids in order
Ranked = Callable[[Group, str], Ranking]

_BANDS = {"5": 0, "6": 1, "2.4": 2}


def prepared_pairs(
    bench: Bench, named: Iterable[Sequence[str]], *, largest: Mapping[str, Group], ranked: Ranked
) -> list[Pair]:
    """All prepared pairs of a catalogue, in order.

    named    the devices each article is about
    largest  `largest_groups`
    ranked   the ranking of a group over a window
    """
    found: set[Pair] = set()
    for devices in named:
        found |= {_pair(a, b) for a, b in combinations(dict.fromkeys(devices), 2)}
    for device in bench.devices:
        found |= {_pair(device, other) for other in nearest(bench, device, largest=largest, ranked=ranked)}
    return sorted(pair for pair in found if all(bench.cells_of.get(device) for device in pair))


def nearest(bench: Bench, device: str, *, largest: Mapping[str, Group], ranked: Ranked) -> list[str]:
    """A device's two neighbours in the middle window of its largest group, then its predecessor."""
    group = largest.get(device)
    found: list[str] = []
    if group is not None:
        order = [entry.who.device for entry in ranked(group, "middle").ranked]
        if device in order:
            place = order.index(device)
            around = sorted((i for i in range(len(order)) if i != place), key=lambda i: (abs(i - place), i))
            found += [order[i] for i in around[:2]]
    before = predecessor(bench, device)
    if before is not None and before not in found:
        found.append(before)
    return found


def largest_groups(bench: Bench) -> dict[str, Group]:
    """Device -> the group in which its current firmware was measured at most places.

    Of equals the most usual: 5 GHz, then 6, then 2.4, downlink first; then the one with most devices, so that there
    is something to compare with. A device without a measured attenuation has none.
    """
    devices = company(bench)
    found: dict[str, Group] = {}
    for device in bench.devices:
        places = _places(bench, device)
        if places:
            found[device] = min(places, key=lambda g: (-len(places[g]), usual(g), -devices[g], g.sort_key))
    return found


def _places(bench: Bench, device: str) -> dict[Group, set[float]]:
    """Attenuations at which the current firmware was measured, by group that can be ranked. [dB]"""
    current = current_firmware(bench, device)
    places: dict[Group, set[float]] = defaultdict(set)
    for cell in bench.cells_of.get(device, ()):
        measured = cell.firmware == current and cell.mean is not None
        if measured and cell.attenuation_db is not None and bench.constants.window(cell.group.band, "middle"):
            places[cell.group].add(cell.attenuation_db)
    return dict(places)


def company(bench: Bench) -> dict[Group, int]:
    """How many devices have results in each group. [1]"""
    devices: dict[Group, set[str]] = defaultdict(set)
    for cell in bench.cells:
        if cell.mean is not None:
            devices[cell.group].add(cell.device)
    return {group: len(found) for group, found in devices.items()}


def usual(group: Group) -> tuple[int, str]:
    """Sort key of groups by how usual they are: 5 GHz before 6 and 2.4, downlink before uplink."""
    return _BANDS.get(group.band, len(_BANDS)), group.direction


def predecessor(bench: Bench, device: str) -> str | None:
    """The device of the same maker that was first tested last before this one."""
    begun = {other: first_tested(bench, other) for other in bench.devices}
    own = begun[device]
    if own is None:
        return None
    earlier = [
        (date, other)
        for other, date in begun.items()
        if date is not None and date < own and bench.devices[other].maker == bench.devices[device].maker
    ]
    return max(earlier)[1] if earlier else None


def first_tested(bench: Bench, device: str) -> str | None:
    """Date of a device's first session; None without results."""
    return min((cell.date for cell in bench.cells_of.get(device, ())), default=None)


def _pair(a: str, b: str) -> Pair:
    return (a, b) if a < b else (b, a)
