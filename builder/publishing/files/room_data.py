"""What the "my room" page works with: for each group the lines of all devices, and how strongly they seem to send."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from builder import addresses, wording
from builder.bench.bench import Bench, Subject, subject
from builder.bench.bounds import PORT_LIMITS
from builder.bench.cells import Group
from builder.bench.naming import device_name
from builder.bench.tracks import Track
from builder.pages.contents import Results
from builder.pages.my_room import room_key
from builder.pairs.pairing import line_of
from builder.registers.eirp import OTHER_ADAPTER_DB, ImpliedEirp, implied_eirps
from builder.windows.line_points import SAMPLED_AT, LineIntervals, line_intervals
from catalog.method import MAX_GAP_DB

_DECIMALS = 4  # far below what is printed, and equal on every machine


def room_data(results: Results, groups: Sequence[Group]) -> dict[str, dict[str, Any]]:
    """Key -> devices with their lines, and (device, client, its name, EIRP [dBm]) for readers who know a level."""
    if not groups:
        return {}
    bench = results.bench
    subjects = [subject(bench, device) for device in bench.devices]
    strengths = {who.device: implied_eirps(bench, who) for who in subjects}
    return {room_key(group): _room(bench, group, subjects, strengths) for group in groups}


def _room(
    bench: Bench, group: Group, subjects: Sequence[Subject], strengths: Mapping[str, Sequence[ImpliedEirp]]
) -> dict[str, Any]:
    lines = [(who, line) for who in subjects if (line := line_of(bench, who, group, match="attenuation")) is not None]
    return {
        "gap": MAX_GAP_DB,
        "at": SAMPLED_AT,
        "otherAdapterDb": OTHER_ADAPTER_DB,
        "devices": [
            _device(bench, who, line, intervals)
            for (who, line), intervals in zip(lines, line_intervals(bench, [line for _, line in lines]), strict=True)
        ],
        "eirp": [
            entry
            for place, (who, _) in enumerate(lines)
            for entry in _strengths(bench, strengths[who.device], group, place)
        ],
    }


def _device(bench: Bench, who: Subject, track: Track, intervals: LineIntervals) -> dict[str, Any]:
    line = track.line
    at_port = {knot for cell, knot in zip(track.cells, line.member.tolist(), strict=True) if cell.limit in PORT_LIMITS}
    held = {"held": wording.held_by_port(bench.limits.ports[who.device])} if at_port else {}
    return {
        "id": who.device,
        "name": device_name(bench, who.device),
        "firmware": who.firmware,
        "href": addresses.device(who.device),
        **held,
        "line": {
            "x": [round(x, 10) for x in line.x.tolist()],  # a knot is told from a place beside it by 1e-9 dB
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


def _strengths(bench: Bench, known: Sequence[ImpliedEirp], group: Group, place: int) -> list[list[Any]]:
    """The group's own clients first: the level of another one is a wider guess."""
    found = [e for e in known if (e.band, e.width_mhz) == (group.band, group.width_mhz)]
    several = {e.client for e in found if sum(other.client == e.client for other in found) > 1}
    found.sort(key=lambda e: bench.clients[e.client].series != group.series)
    return [
        [
            place,
            f"{e.client}~{e.driver}" if e.driver else e.client,
            bench.clients[e.client].name + (f", driver {e.driver}" if e.client in several and e.driver else ""),
            _short(e.mean),
        ]
        for e in found
    ]


def _short(value: float) -> float | int | None:
    if math.isnan(value):
        return None
    short = round(value, _DECIMALS)
    return int(short) if short == int(short) else short
