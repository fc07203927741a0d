"""What the "my room" page works with: for each group the lines of all devices, and how strongly they seem to send."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from builder import addresses, wording
from builder.bench.bench import Bench, Subject, subject_named
from builder.bench.bounds import PORT_LIMITS
from builder.bench.cells import Group
from builder.bench.naming import device_name
from builder.bench.tracks import Track
from builder.pages.contents import Results
from builder.pages.my_room import room_key
from builder.pairs.pairing import line_of
from builder.registers.eirp import OTHER_ADAPTER_DB, implied_eirps
from builder.windows.line_points import SAMPLED_AT, LineIntervals, line_intervals
from catalog.method import MAX_GAP_DB

_DECIMALS = 4  # far below what is printed, and equal on every machine


@dataclass(frozen=True, slots=True)
class Level:
    """How strongly a device seems to send, as a client setup reads it. [dBm]"""

    client: str
    driver: str | None
    mean: float


# By device.
Levels = Mapping[str, Sequence[Level]]


def room_levels(results: Results, groups: Sequence[Group]) -> list[tuple[Group, Levels]]:
    """Each group with the levels of its devices at its band and width.

    They come from other groups, too. A room gets them as an argument, so that it does not depend on all those cells.
    """
    bench = results.bench
    known = {device: implied_eirps(bench, subject_named(bench, device)) for device in bench.devices}
    return [
        (
            group,
            {
                device: [
                    Level(one.client, one.driver, one.mean)
                    for one in known[device]
                    if (one.band, one.width_mhz) == (group.band, group.width_mhz)
                ]
                for device in bench.cells_in[group]
            },
        )
        for group in groups
    ]


def room_data(results: Results, group: Group, levels: Levels) -> dict[str, dict[str, Any]]:
    """The file of one group: devices with their lines, and (device, client, its name, EIRP [dBm]) of `room_levels`."""
    bench = results.bench
    subjects = [subject_named(bench, device) for device in bench.devices]
    lines = [
        (side, line) for side in subjects if (line := line_of(bench, side, group, match="attenuation")) is not None
    ]
    data = {
        "gap": MAX_GAP_DB,
        "at": SAMPLED_AT,
        "otherAdapterDb": OTHER_ADAPTER_DB,
        "devices": [
            _device(bench, side, line, intervals)
            for (side, line), intervals in zip(lines, line_intervals(bench, [line for _, line in lines]), strict=True)
        ],
        "eirp": [
            entry
            for place, (side, _) in enumerate(lines)
            for entry in _levels(bench, levels[side.device], group, place)
        ],
    }
    return {room_key(group): data}


def _device(bench: Bench, side: Subject, track: Track, intervals: LineIntervals) -> dict[str, Any]:
    line = track.line
    at_port = {knot for cell, knot in zip(track.cells, line.member.tolist(), strict=True) if cell.limit in PORT_LIMITS}
    held = {"held": wording.held_by_port(bench.limits.ports[side.device])} if at_port else {}
    return {
        "id": side.device,
        "name": device_name(bench, side.device),
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
    short = round(value, _DECIMALS)
    return int(short) if short == int(short) else short
