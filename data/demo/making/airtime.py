"""Several clients share the air: a small queueing model that makes request logs with believable tails.

Each band has its own air. In steps of 20 ms the free airtime is shared by the transfers under way; a
neighbour switches on and off and takes most of it. Small packets wait behind a part of the others'
buffers, more of it on a device that queues badly.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from random import Random

from making.dice import dice
from making.workloads import Role

STEP_MS = 20.0
NEIGHBOUR_ON = {"2.4": 0.007, "5": 0.0025, "6": 0.0004}  # chance to start, each step
NEIGHBOUR_OFF = 0.05  # chance to stop, each step: 0.4 s on average
NEIGHBOUR_SHARE = 0.75
# How long a full queue of another transfer is, by the kind of its role. [ms]
BUFFER_MS = {
    "fetch": (10.0, 240.0),
    "stream": (2.0, 60.0),
    "pages": (1.0, 30.0),
    "upload": (0.0, 40.0),  # most of it waits in the sending client
    "voice": (0.0, 1.0),
    "game": (0.0, 1.0),
}
# What a transfer takes of the air over its fair share on a device that queues badly: how far a full queue, or a
# client that always has something to send, crowds others out. [1]
CROWDING = {"fetch": 6.0, "upload": 3.0}
PAGE_TRIPS = 7  # twenty-seven resources, four at a time
GIVE_UP_MS = 400.0  # a small packet later than this is lost
LAST_BREATHS_S = 20.0  # a device about to collapse grows slow first
BITS_IN_MIB = 8 * 1024 * 1024


@dataclass(frozen=True)
class Request:
    """One logged request: start [s], time taken [ms], None when it failed."""

    t_s: float
    ms: float | None


@dataclass
class _Transfer:
    started_ms: float
    left_mbit: float
    rate_mbit_s: float
    overhead_ms: float


@dataclass(frozen=True)
class Work:
    """What one machine does in one of its roles.

    name         what its log is called
    machine      its client; a client is one machine
    rate_mbit_s  what its link could carry alone [Mbit/s]
    """

    name: str
    machine: str
    role: Role
    band: str
    rate_mbit_s: float


@dataclass
class _Station:
    work: Work
    chance: Random
    due_ms: float
    transfer: _Transfer | None = None
    log: list[Request] = field(default_factory=list)

    @property
    def role(self) -> Role:
        return self.work.role

    def size_mbit(self) -> float:
        """What one request of this role carries. [Mbit]"""
        role = self.role
        if role.kind == "stream":
            return role.rate_mbit_s * role.segment_s * self.chance.uniform(0.8, 1.2)
        if role.kind == "pages":
            return role.resources * role.resource_kib * 8 * 1024 / 1e6 * self.chance.uniform(0.7, 1.3)
        return role.file_mib * BITS_IN_MIB / 1e6

    def next_due(self, *, now_ms: float) -> float:
        """When its next request starts, counted from the end of the one before. [ms]"""
        role = self.role
        if role.kind == "stream":
            return max(now_ms, self.due_ms + role.segment_s * 1000)
        if role.kind == "pages":
            return now_ms + self.chance.uniform(*role.pause_s) * 1000
        return now_ms + self.chance.uniform(200, 900)


def _round_trip_ms(chance: Random, others: list[Role], *, neighbour: bool, queueing: float, gasp: float) -> float:
    wait = queueing * sum(chance.uniform(*BUFFER_MS[other.kind]) for other in others)
    wait += chance.expovariate(1 / 28) if neighbour else 0.0
    if chance.random() < 0.004:
        wait += chance.expovariate(1 / 35)  # the client looked at another channel
    return (4.0 + chance.expovariate(1 / 2.2) + wait) * gasp


def _step_band(stations: list[_Station], *, now_ms: float, neighbour: bool, queueing: float, gasp: float) -> None:
    busy = [s for s in stations if s.transfer is not None]
    for station in stations:
        role, chance = station.role, station.chance
        others = [other.role for other in busy if other is not station]
        if role.packet_ms:
            while station.due_ms < now_ms + STEP_MS:
                trip = _round_trip_ms(chance, others, neighbour=neighbour, queueing=queueing, gasp=gasp)
                loss = 0.0006 + (0.03 if neighbour else 0.0) + 0.01 * queueing * max(0, len(others) - 1)
                answered = None if chance.random() < loss or trip > GIVE_UP_MS else trip
                station.log.append(Request(station.due_ms / 1000, answered))
                station.due_ms += role.packet_ms
        elif station.transfer is None and station.due_ms <= now_ms:
            trips = sum(
                _round_trip_ms(chance, others, neighbour=neighbour, queueing=queueing, gasp=gasp)
                for _ in range(PAGE_TRIPS if role.kind == "pages" else 2)
            )
            server_ms = chance.lognormvariate(4.6, 0.45) if role.kind == "pages" else chance.uniform(8, 30)
            started = max(station.due_ms, now_ms)
            rate = station.work.rate_mbit_s * chance.uniform(0.85, 1.05)
            station.transfer = _Transfer(started, station.size_mbit(), rate, trips + server_ms)
    busy = [s for s in stations if s.transfer is not None]
    free_ms = STEP_MS * (1 - NEIGHBOUR_SHARE if neighbour else 1.0) / gasp
    # A machine has one fair share, however many transfers it runs at once.
    at_once = Counter(s.work.machine for s in busy)
    weights = [1 / at_once[s.work.machine] + CROWDING.get(s.role.kind, 0.0) * queueing for s in busy]
    total = sum(weights)
    for station, weight in zip(busy, weights, strict=True):
        transfer = station.transfer
        assert transfer is not None
        sent = free_ms * weight / total / 1000 * transfer.rate_mbit_s
        transfer.left_mbit -= sent
        if transfer.left_mbit <= 0:
            took = now_ms + STEP_MS * (1 + transfer.left_mbit / sent) - transfer.started_ms + transfer.overhead_ms
            station.log.append(Request(transfer.started_ms / 1000, took))
            station.transfer = None
            station.due_ms = station.next_due(now_ms=transfer.started_ms + took)


def _stations(work: Work, purpose: str) -> list[_Station]:
    """One for each request that the role has under way at once."""
    stations = []
    for number in range(work.role.at_once):
        chance = dice("role", purpose, work.name, *([number + 1] if number else []))
        first_ms = 0.0 if work.role.packet_ms else chance.uniform(0, 900) // STEP_MS * STEP_MS
        stations.append(_Station(work, chance, first_ms))
    return stations


def request_logs(
    works: Iterable[Work], *, duration_s: int, queueing: float, collapse_s: float | None, purpose: str
) -> dict[str, list[Request]]:
    """The log of each role of one run, by its name, in order of start.

    queueing      how much of the others' buffers a packet waits behind [0..1]
    collapse_s    when the device fell over, or None; requests under way then failed [s]
    """
    by_band: dict[str, list[_Station]] = {}
    for work in works:
        by_band.setdefault(work.band, []).extend(_stations(work, purpose))
    end_ms = 1000 * (duration_s if collapse_s is None else collapse_s)
    for band, stations in by_band.items():
        air = dice("air", purpose, band)
        neighbour = False
        now_ms = 0.0
        while now_ms < end_ms:
            neighbour = air.random() > NEIGHBOUR_OFF if neighbour else air.random() < NEIGHBOUR_ON[band]
            dying = collapse_s is not None and now_ms > end_ms - LAST_BREATHS_S * 1000
            gasp = 1 + 9 * (1 - (end_ms - now_ms) / (LAST_BREATHS_S * 1000)) if dying else 1.0
            _step_band(stations, now_ms=now_ms, neighbour=neighbour, queueing=queueing, gasp=gasp)
            now_ms += STEP_MS
        for station in stations:
            if collapse_s is not None and station.transfer is not None:
                station.log.append(Request(station.transfer.started_ms / 1000, None))
    logs: dict[str, list[Request]] = {}
    for station in (station for group in by_band.values() for station in group):
        logs.setdefault(station.work.name, []).extend(station.log)
    return {
        name: [
            r
            for r in sorted(log, key=lambda r: r.t_s)
            if r.t_s * 1000 < end_ms and (r.ms is None or r.t_s * 1000 + r.ms <= end_ms)
        ]
        for name, log in logs.items()
    }
