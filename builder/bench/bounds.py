"""Limits that are not the device's: which values are only lower bounds, and what bounds can decide.

A value at 97 % or more of the client setup's ceiling, or of a lab limit, is right-censored and printed
"≥ 925". The device's own wired port is a property of the device: exact, and labelled as such (method.md, section 4).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from catalog.method import CEILING_SHARE, PORT_CEILING_FACTOR, PORT_TOLERANCE
from catalog.records import Ceiling, Device, House
from catalog.standards import tcp_port_limit_mbit_s, tcp_port_limit_with_timestamps_mbit_s

Limit = Literal["client", "lab", "port", "port-or-client"]
CeilingKey = tuple[str, str, int, str]  # client, band, width, direction

# Means are sums of products that floats only come near to: what differs by less than this share is the same.
SAME_SHARE = 1e-12

PORT_LIMITS: frozenset[Limit] = frozenset({"port", "port-or-client"})

LIMIT_WORDS: dict[Limit, str] = {
    "client": "held back by the client",
    "lab": "held back by the lab",
    "port": "held back by its port",
    "port-or-client": "held back by its port or the client",
}


@dataclass(frozen=True)
class Limits:
    """Everything that may cap a value. [Mbit/s]"""

    ceilings: Mapping[CeilingKey, float]
    ports: Mapping[str, float]  # device -> speed of its fastest port
    labs: Mapping[str, float]  # house -> what its server and switch carry

    def limits_of(
        self,
        values: Sequence[float],
        *,
        device: str,
        client: str,
        house: str,
        band: str,
        width_mhz: int,
        direction: str,
    ) -> list[Limit | None]:
        """What capped each of the values of one cell [Mbit/s], if anything did, in their order."""
        ceiling = self.ceilings.get((client, band, width_mhz, direction))
        port, lab = self.ports.get(device), self.labs.get(house)
        if ceiling is None and port is None and lab is None:
            return [None] * len(values)
        return [_limit_of(value, ceiling, port, lab) for value in values]


def _limit_of(value: float, ceiling: float | None, port: float | None, lab: float | None) -> Limit | None:
    if port is not None and at_port_limit(value, port):
        if ceiling is None:
            return "port-or-client"
        if ceiling >= PORT_CEILING_FACTOR * tcp_port_limit_mbit_s(port):
            return "port"
    if ceiling is not None and value >= CEILING_SHARE * ceiling:
        return "client"
    if lab is not None and value >= CEILING_SHARE * lab:
        return "lab"
    return None


def limits(ceilings: Sequence[Ceiling], devices: Sequence[Device], houses: Sequence[House]) -> Limits:
    """The limits of a whole catalogue. A ceiling is the highest visible run registered as evidence."""
    highest: dict[CeilingKey, float] = {}
    for evidence in ceilings:
        key = (evidence.client, evidence.band, evidence.width_mhz, evidence.direction)
        highest[key] = max(highest.get(key, 0.0), evidence.throughput_mbit_s)
    return Limits(
        ceilings=highest,
        ports={d.device_id: max(p.speed_mbit_s for p in d.ports) for d in devices if d.ports},
        labs={h.house_id: h.lab_limit_mbit_s for h in houses if h.lab_limit_mbit_s is not None},
    )


def at_port_limit(value: float, port_mbit_s: float) -> bool:
    """Whether a value [Mbit/s] lies within 3 % of what TCP carries through a port of that speed [Mbit/s]."""
    plain, stamped = _tcp_limits(port_mbit_s)
    return abs(value - plain) <= PORT_TOLERANCE * plain or abs(value - stamped) <= PORT_TOLERANCE * stamped


@cache
def _tcp_limits(port_mbit_s: float) -> tuple[float, float]:
    """What TCP carries through a port of that speed, without and with timestamps. [Mbit/s]"""
    return tcp_port_limit_mbit_s(port_mbit_s), tcp_port_limit_with_timestamps_mbit_s(port_mbit_s)


def is_bound(limit: Limit | None) -> bool:
    """Whether a value with that limit is only a lower bound. A port's is the device's own: exact."""
    return limit in ("client", "lab")


def apart(mean_a: float | NDArray[np.float64], mean_b: float | NDArray[np.float64]) -> NDArray[np.float64]:
    """Difference of two means, or of many; 0 where they differ only as floats do. [Mbit/s]"""
    difference = np.subtract(mean_a, mean_b)
    return np.where(np.abs(difference) <= SAME_SHARE * np.maximum(mean_a, mean_b), 0.0, difference)


def bound_from(ceiling_mbit_s: float) -> float:
    """The value from which a result under that ceiling is only a lower bound. [Mbit/s]"""
    return CEILING_SHARE * ceiling_mbit_s
