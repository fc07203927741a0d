"""Runs with several clients at once as a test types them: machines, where they stood, and every request's waiting time."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from builder.under_load.mix_comparisons import MixComparison, mix_comparisons
from builder.under_load.mixes import MixResult, judged_mixes, mix_subject, mixes_of
from builder.under_load.workloads import WorkloadResult, workload_results
from catalog.digesting.digests import request_digest
from catalog.digesting.logs import FAILED, FINISHED, Log
from catalog.records import Client, Radio, Role, Station, Workload

Waits = NDArray[np.float64]  # of each request [ms]; infinite where no answer came

MARK_MS = 100.0
FILM = Role("film", "stream", MARK_MS, 0.95, {"rate_mbit_s": 8, "segment_s": 2})
CALL = Role("call", "voice", MARK_MS, 0.95, {"packet_ms": 20})
PAGES = Role("pages", "pages", MARK_MS, 0.95, {"resources": 27})
RADIOS = (Radio("5", 2, 160), Radio("2.4", 2, 40))
CLIENTS = ("laptop", "laptop-2", "tablet", "slate", "tower")


def in_time(on_time: int, planned: int, *, seed: int = 1) -> Waits:
    """So many requests within the mark, in no particular order."""
    rng = np.random.default_rng([seed, on_time, planned])
    waits = np.where(np.arange(planned) < on_time, rng.uniform(5, 95, planned), rng.uniform(105, 900, planned))
    return rng.permutation(waits)


def in_a_row(rng: np.random.Generator, planned: int, share: float, lag_one: float) -> Waits:
    """Waits of a two-state chain: *share* of them in time, and each like the one before it with correlation *lag_one*."""
    late = np.empty(planned, dtype=bool)
    late[0] = rng.random() > share
    for n in range(1, planned):
        late[n] = rng.random() < (1 - share) * (1 - lag_one) + lag_one * late[n - 1]
    return np.where(late, rng.uniform(105, 900, planned), rng.uniform(5, 95, planned))


class BusyHouse:
    """Runs are entered in the order in which they are typed."""

    def __init__(self, lab: Any, roles: Sequence[Role] = (FILM, CALL)) -> None:
        self.lab = lab
        self.plans = {("evening", 1): tuple(roles)}
        self.stations: list[Station] = []
        self.digests: dict[tuple[str, int], dict[str, float]] = {}

    def version(self, number: int, *roles: Role, workload: str = "evening") -> None:
        self.plans[workload, number] = roles

    def run(
        self,
        device: str,
        seats: Sequence[tuple[str, float | None, dict[str, Waits | None]]],
        *,
        mix: str = "",
        workload: str = "evening",
        version: int = 1,
        firmware: str = "1.0",
        outcome: str = "finished",
        ended_at_s: float | None = None,
        planned: int | None = None,
        planned_s: float = 900.0,
        **fields: Any,
    ) -> str:
        """One run. seats: client, loss [dB] or None where nobody wrote down a place, and each role with its waits."""
        mix = mix or f"{device}-{len(self.stations)}"
        plan = {role.role_id: role for role in self.plans[workload, version]}
        for client, loss, roles in seats:
            for role_id, waits in roles.items():
                number, role = len(self.stations) + 1, plan[role_id]
                station = Station(
                    batch_id="b",
                    source_file="stations.csv",
                    source_row=number,
                    station_id=number,
                    mix=mix,
                    workload=workload,
                    workload_version=version,
                    role=role_id,
                    kind=role.kind,
                    at_utc="2025-07-01T14:00:00Z",
                    at_typed="",
                    device=device,
                    unit="A",
                    firmware=firmware,
                    client=client,
                    driver=None,
                    session="s1",
                    house="h",
                    date="2025-07-01",
                    channel=None,
                    spot=None,
                    spot_since=None,
                    attenuation_db=loss,
                    planned_s=planned_s,
                    planned_requests=planned,
                    outcome=outcome,
                    ended_at_s=ended_at_s,
                    ended_by=None,
                    log_path=None if waits is None else "x.csv",
                    note=None,
                    **{"band": "5", "width_mhz": 80, "level_dbm": None} | fields,
                )
                self.stations.append(station)
                if waits is not None:
                    self.digests["station", number] = digest(waits, role, planned or len(waits))
        if not any(r.device == device and r.firmware == firmware for r in self.lab.runs):
            self.lab.add(device, [(60, 500)], firmware=firmware)
        return mix

    def judged(self) -> list[MixResult]:
        plans = [
            Workload("b", "batch.toml", 1, workload, version, "An evening", 900.0, roles)
            for (workload, version), roles in self.plans.items()
        ]
        clients = [
            Client(
                "b",
                "batch.toml",
                1,
                name,
                f"the {name}",
                None,
                None,
                "802.11ax",
                None,
                name.removesuffix("-2"),
                None,
                RADIOS,
            )
            for name in CLIENTS
        ]
        return judged_mixes(self.stations, plans, self.digests, clients, series={})

    def workloads(self) -> list[WorkloadResult]:
        return workload_results(self.lab.bench(), self.judged())

    def compared(self, device: str, *others: str) -> list[MixComparison]:
        """The device's comparisons, with the given other devices or all."""
        bench, results = self.lab.bench(), self.judged()
        side = mix_subject(bench, results, device)
        by_device: dict[str, list[MixResult]] = defaultdict(list)
        for result in results:
            if result.mix.device != side.device and (not others or result.mix.device in others):
                by_device[result.mix.device].append(result)
        return mix_comparisons(bench, side, mixes_of(results, side), by_device)


def digest(waits: Waits, role: Role, planned: int) -> dict[str, float]:
    """The figures that entering a log of these waits would keep."""
    answered = np.isfinite(waits)
    log = Log(
        "requests",
        np.arange(len(waits)) * 2_000_000,
        latency_us=np.where(answered, np.where(answered, waits, 0) * 1e3, -1).astype(np.int64),
        outcome=np.where(answered, FINISHED, FAILED).astype(np.int8),
    )
    return request_digest(log, planned=planned, role={"kind": role.kind, "target_ms": role.target_ms, "recipe": "{}"})
