"""What the "my room" page works with: for each group the lines of all devices, and how strongly they seem to send."""

from __future__ import annotations

from typing import Any

from builder import addresses
from builder.comparisons.bench import Bench, Subject, subject
from builder.comparisons.cells import Group
from builder.comparisons.eirp import OTHER_ADAPTER_DB, implied_eirps
from builder.comparisons.knots import knots
from builder.comparisons.line_points import SAMPLED_AT, sampled_half_widths
from builder.comparisons.naming import device_name
from builder.comparisons.pairing import line_of
from builder.comparisons.tracks import Track
from builder.pages.material import Material
from catalog.method import MAX_GAP_DB

_DECIMALS = 4  # far below what is printed, and equal on every machine


def room_data(material: Material, group: Group) -> dict[str, Any]:
    """One group: devices with their lines, and (device, client, its name, EIRP [dBm]) for readers who know a level."""
    bench = material.bench
    lines = [
        (who, line)
        for who in (subject(bench, device) for device in bench.devices)
        if (line := line_of(bench, who, group, match="attenuation")) is not None
    ]
    return {
        "gap": MAX_GAP_DB,
        "at": SAMPLED_AT,
        "otherAdapterDb": OTHER_ADAPTER_DB,
        "devices": [_device(bench, who, line) for who, line in lines],
        "eirp": [entry for place, (who, _) in enumerate(lines) for entry in _strengths(bench, who, group, place)],
    }


def _device(bench: Bench, who: Subject, line: Track) -> dict[str, Any]:
    found = knots(bench, line, match="attenuation")
    halves = [None if k.low is None or k.high is None else (k.high - k.low) / 2 for k in found]
    return {
        "id": who.device,
        "name": device_name(bench, who.device),
        "firmware": who.firmware,
        "href": addresses.device(who.device),
        "line": {
            "x": [round(k.x, 10) for k in found],  # a knot is told from a place beside it by 1e-9 dB
            "y": [_short(k.value) for k in found],
            "bound": [int(k.bound) for k in found],
            "half": [None if half is None else _short(half) for half in halves],
            "between": [
                None if sampled is None else [_short(half) for half in sampled]
                for sampled in sampled_half_widths(bench, line)
            ],
        },
    }


def _strengths(bench: Bench, who: Subject, group: Group, place: int) -> list[list[Any]]:
    """The group's own clients first: the level of another one is a wider guess."""
    found = [e for e in implied_eirps(bench, who) if (e.band, e.width_mhz) == (group.band, group.width_mhz)]
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


def _short(value: float) -> float | int:
    short = round(value, _DECIMALS)
    return int(short) if short == int(short) else short
