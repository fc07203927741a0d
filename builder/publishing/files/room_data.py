"""What the "my room" page works with: for each group the lines of all devices with their means over the windows, how
strongly they seem to send, and what stands between the access point and the spots."""

from __future__ import annotations

import math
import re
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from builder import addresses, wording
from builder.bench.bench import Bench, Subject, subject_named
from builder.bench.bounds import PORT_LIMITS
from builder.bench.cells import Group
from builder.bench.naming import device_name
from builder.bench.tracks import Track
from builder.pages.contents import Results
from builder.pages.my_room import room_key, windows_of
from builder.pairs.pair_parts import parts_of
from builder.pairs.pairing import line_of
from builder.registers.eirp import OTHER_ADAPTER_DB, implied_eirps
from builder.registers.spots import in_force
from builder.windows.line_points import SAMPLED_AT, LineIntervals, line_intervals
from builder.windows.ranking import Ranked
from catalog.method import MAX_GAP_DB

MOST_ABSENT = 4  # devices named that were not tested in a group
DECIMALS = 4  # far below what is printed, and equal on every machine


@dataclass(frozen=True, slots=True)
class Level:
    """How strongly a device seems to send, as a client setup reads it. [dBm]"""

    client: str
    driver: str | None
    mean: float


@dataclass(frozen=True, slots=True)
class Beside:
    """What a room has from beside its group: given as an argument, so that it does not depend on all those cells.

    levels  of its devices at its band and width, which come from other groups, too
    parts   of its devices, in whose files their pairs lie (pairs/pair_parts.py)
    absent  devices with results, none of them in this group
    """

    levels: Mapping[str, Sequence[Level]]
    parts: Mapping[str, int]
    absent: Sequence[str] = field(default=())


def beside_rooms(results: Results, groups: Sequence[Group]) -> list[tuple[Group, Beside]]:
    """Each group with what it has from beside it."""
    bench = results.bench
    known = {device: implied_eirps(bench, subject_named(bench, device)) for device in bench.devices}
    tested = sorted(device for device in bench.devices if bench.cells_of.get(device))
    parts = parts_of(tested)
    return [
        (
            group,
            Beside(
                levels={
                    device: [
                        Level(one.client, one.driver, one.mean)
                        for one in known[device]
                        if (one.band, one.width_mhz) == (group.band, group.width_mhz)
                    ]
                    for device in bench.cells_in[group]
                },
                parts={device: parts[device] for device in bench.cells_in[group]},
                absent=tuple(device for device in tested if device not in bench.cells_in[group]),
            ),
        )
        for group in groups
    ]


def room_data(results: Results, group: Group, beside: Beside) -> dict[str, dict[str, Any]]:
    """The file of one group.

    windows  (name, from, to [dB])
    spots    (id, what stands between, its name, attenuation [dB]), the nearest first
    absent   who was not tested in it, in words
    devices  with their lines, and their means over the windows
    eirp     (device, client, its name, EIRP [dBm])
    """
    bench = results.bench
    subjects = [subject_named(bench, device) for device in bench.devices]
    lines = [
        (side, line) for side in subjects if (line := line_of(bench, side, group, match="attenuation")) is not None
    ]
    labels, means = _labels(bench, [side.device for side, _ in lines]), _means(results, group)
    data = {
        "gap": MAX_GAP_DB,
        "at": SAMPLED_AT,
        "otherAdapterDb": OTHER_ADAPTER_DB,
        "windows": [[name, *low_high] for name, low_high in windows_of(bench, group).items()],
        "spots": _spots(bench, group),
        "absent": wording.listing_of_many([device_name(bench, device) for device in beside.absent], MOST_ABSENT),
        "devices": [
            _device(bench, side, line, intervals)
            | {
                "label": labels[side.device],
                "part": beside.parts[side.device],
                "means": means.get(side.device, {}),
            }
            for (side, line), intervals in zip(lines, line_intervals(bench, [line for _, line in lines]), strict=True)
        ],
        "eirp": [
            entry
            for place, (side, _) in enumerate(lines)
            for entry in _levels(bench, beside.levels[side.device], group, place)
        ],
    }
    return {room_key(group): data}


def _device(bench: Bench, side: Subject, track: Track, intervals: LineIntervals) -> dict[str, Any]:
    line = track.line
    at_port = {knot for cell, knot in zip(track.cells, line.member.tolist(), strict=True) if cell.limit in PORT_LIMITS}
    held = {"held": wording.held_by_port(bench.limits.ports[side.device])} if at_port else {}
    return {
        "id": side.device,
        "maker": bench.devices[side.device].maker,
        "model": bench.devices[side.device].model,
        "firmware": side.firmware,
        "href": addresses.device(side.device),
        **held,
        "line": {
            "x": [round(x, 10) for x in line.x.tolist()],  # scripts take a place within 1e-9 dB of a knot for the knot
            "y": [_short(y) for y in line.y.tolist()],
            "bound": [int(bound) for bound in line.bound],
            **({"port": [int(knot in at_port) for knot in range(len(line.x))]} if at_port else {}),
            "half": [_short(half) for half in intervals.at_knots.tolist()],
            "between": [
                None if math.isnan(sum(samples)) else [_short(half) for half in samples]
                for samples in intervals.between.tolist()
            ],
        },
    }


def _labels(bench: Bench, devices: Sequence[str]) -> dict[str, str]:
    """The shortest name of each device that no other one has: its model, with its maker, or with its id."""
    records = [bench.devices[device] for device in devices]
    models = Counter(record.model for record in records)
    both = Counter((record.maker, record.model) for record in records)
    labels: dict[str, str] = {}
    for device, record in zip(devices, records, strict=True):
        names = record.model, device_name(bench, device), f"{device_name(bench, device)} ({device})"
        labels[device] = names[(models[record.model] > 1) + (both[record.maker, record.model] > 1)]
    return labels


def _means(results: Results, group: Group) -> dict[str, dict[str, list[float | int | None]]]:
    """Device -> window -> value, half-width [Mbit/s] or None, whether it is a lower bound, whether its port held it, best
    rank.
    """
    means: dict[str, dict[str, list[float | int | None]]] = defaultdict(dict)
    for name in windows_of(results.bench, group):
        ranking = results.rankings.get((group, name))
        for entry in ranking.ranked if ranking else ():
            means[entry.subject.device][name] = _mean(entry)
    return means


def _mean(entry: Ranked) -> list[float | int | None]:
    half = None if entry.high is None else _short(entry.high - entry.value)
    return [_short(entry.value), half, int(entry.bound), int(entry.port is not None), entry.best]


def _spots(bench: Bench, group: Group) -> list[list[Any]]:
    """Spots of the houses with what stands between, at the group's band, the nearest first."""
    epochs = in_force([epoch for readings in bench.epochs.values() for epoch in readings])
    known = [epoch for epoch in epochs if epoch.band == group.band and epoch.obstacles]
    return [
        [f"{epoch.house}~{epoch.spot}", _between(epoch.obstacles), epoch.spot, round(epoch.attenuation_db, DECIMALS)]
        for epoch in sorted(known, key=lambda epoch: (epoch.attenuation_db, epoch.house, epoch.spot))
    ]


def _between(obstacles: str | None) -> str:
    """What stands between, in a sentence: "one brick wall"; "none" is "nothing"."""
    return re.sub(r"^none\b", "nothing", obstacles or "", flags=re.IGNORECASE)


def _levels(bench: Bench, levels: Sequence[Level], group: Group, place: int) -> list[list[Any]]:
    """Those of one device; the group's own clients first, because another client's level is less certain."""
    drivers = Counter(level.client for level in levels)
    return [
        [
            place,
            f"{level.client}~{level.driver}" if level.driver else level.client,
            bench.clients[level.client].name
            + (f", driver {level.driver}" if drivers[level.client] > 1 and level.driver else ""),
            _short(level.mean),
        ]
        for level in sorted(levels, key=lambda level: bench.clients[level.client].series != group.series)
    ]


def _short(value: float) -> float | int | None:
    if math.isnan(value):
        return None
    short = round(value, DECIMALS)
    return int(short) if short == int(short) else short
