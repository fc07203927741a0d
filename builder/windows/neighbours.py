"""Which pairs of devices get a page of their own: those an article names, and for each device its nearest.

Nearest are the two neighbours in the middle window of its largest group and its predecessor of the same maker:
about three pairs a device, whatever the size of the catalogue.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from itertools import combinations

from builder.bench.bench import Bench, current_firmware
from builder.bench.cells import Group, usual
from builder.windows.ranking import Ranking

Pair = tuple[str, str]  # two device ids in order
Ranked = Callable[[Group, str], Ranking]


def prepared_pairs(bench: Bench, named: Iterable[Sequence[str]], *, near: Mapping[str, Sequence[str]]) -> list[Pair]:
    """All prepared pairs of a catalogue, in order.

    named  the devices each article is about
    near   `all_nearest`
    """
    results: set[Pair] = set()
    for devices in named:
        results |= {_pair(a, b) for a, b in combinations(dict.fromkeys(devices), 2)}
    for device, others in near.items():
        results |= {_pair(device, other) for other in others}
    return sorted(pair for pair in results if all(bench.cells_of.get(device) for device in pair))


def all_nearest(bench: Bench, *, largest: Mapping[str, Group], ranked: Ranked) -> dict[str, list[str]]:
    """Device -> its two neighbours in the middle window of its largest group, then its predecessor.

    largest  `largest_groups`
    ranked   the ranking of a group over a window
    """
    orders = {
        group: [entry.subject.device for entry in ranked(group, "middle").ranked]
        for group in dict.fromkeys(largest.values())
    }
    before = predecessors(bench)
    results: dict[str, list[str]] = {}
    for device in bench.devices:
        order = orders.get(largest[device], []) if device in largest else []
        near: list[str] = []
        if device in order:
            place = order.index(device)
            around = sorted(range(max(0, place - 2), min(len(order), place + 3)), key=lambda i: (abs(i - place), i))
            near = [order[i] for i in around[1:3]]
        if device in before and before[device] not in near:
            near.append(before[device])
        results[device] = near
    return results


def largest_groups(bench: Bench) -> dict[str, Group]:
    """Device -> the group in which its current firmware was measured at most places.

    Of equals the most usual: 5 GHz, then 6, then 2.4, downlink first; then the one with most devices, so that there
    is something to compare with. A device without a measured attenuation has none.
    """
    devices = company(bench)
    results: dict[str, Group] = {}
    for device in bench.devices:
        places = _places(bench, device)
        if places:
            results[device] = min(places, key=lambda g: (-len(places[g]), usual(g), -devices[g], g.sort_key))
    return results


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
    results: dict[Group, int] = {}
    for group, by_device in bench.cells_in.items():
        devices = sum(any(cell.mean is not None for cell in cells) for cells in by_device.values())
        if devices:
            results[group] = devices
    return results


def predecessors(bench: Bench) -> dict[str, str]:
    """Device -> the device of the same maker that was first tested last before it; one without is left out."""
    begun: dict[str, list[tuple[str, str]]] = defaultdict(list)
    for device, record in bench.devices.items():
        date = first_tested(bench, device)
        if date is not None:
            begun[record.maker].append((date, device))
    results: dict[str, str] = {}
    for tested in begun.values():
        tested.sort()
        for date, device in tested:
            earlier = bisect_left(tested, (date, ""))
            if earlier:
                results[device] = tested[earlier - 1][1]
    return results


def first_tested(bench: Bench, device: str) -> str | None:
    """Date of a device's first session; None without results."""
    return min((cell.date for cell in bench.every_cell(device)), default=None)


def _pair(a: str, b: str) -> Pair:
    return (a, b) if a < b else (b, a)
