"""A small lab made of records, so that comparisons can be tested without a database."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import pytest

from builder.bench.bench import Bench, Subject, bench_of, subject_named
from catalog.method import Constants
from catalog.records import Ceiling, Client, Device, Firmware, House, Port, Run, Unit

RUN = Run(
    run_id=0,
    at_utc="2025-05-12T08:00:00Z",
    at_typed="2025-05-12 10:00",
    device="",
    unit="A",
    firmware="1.0",
    client="wrenlet-u2",
    driver=None,
    series="wrenlet-u2",
    session="s1",
    house="house-a",
    date="2025-05-12",
    band="5",
    channel=36,
    width_mhz=80,
    direction="down",
    protocol=None,
    flows=None,
    security=None,
    method=1,
    spot=None,
    spot_since=None,
    epoch_id=None,
    kit="kit of house-a",
    attenuation_db=None,
    attenuation_typed=True,
    readings=None,
    readings_sd_db=None,
    level_dbm=None,
    repeat=1,
    throughput_mbit_s=None,
    throughput_typed="",
    outcome="finished",
    seconds=None,
    link_rate_mbit_s=None,
    dfs_event=None,
    log_path=None,
    note=None,
    batch_id="b",
    source_file="runs.csv",
    source_row=2,
)


def published(name: str) -> list[dict[str, str]]:
    """Rows of a table of tests/published."""
    path = Path(__file__).parents[1] / "published" / f"{name}.csv"
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@dataclass
class Lab:
    """Runs typed in by a test; every device mentioned has unit A and the firmware its runs name."""

    runs: list[Run] = field(default_factory=list)
    ceilings: list[Ceiling] = field(default_factory=list)
    ports: dict[str, float] = field(default_factory=dict)
    houses: dict[str, str] = field(default_factory=dict)  # house -> reference device
    labs: dict[str, float] = field(default_factory=dict)  # house -> what its server and switch carry
    declared: dict[str, Any] = field(
        default_factory=lambda: {
            "attenuation_sigma_db": 0.0,
            "placement_sigma_db": 0.0,
            "calibration_sigma_db": 0.0,
            "level_sigma_db": 0.0,
            "session_spread": 0.0,
        }
    )

    def add(self, device: str, values: Sequence[tuple[float | None, float | Sequence[float]]], **fields: Any) -> None:
        """Cells of *device*: (attenuation [dB], one value or its repeats [Mbit/s])."""
        for attenuation, value in values:
            repeats = [value] if isinstance(value, (int, float)) else list(value)
            for number, one in enumerate(repeats, start=1):
                run = replace(
                    RUN,
                    run_id=len(self.runs) + 1,
                    device=device,
                    attenuation_db=attenuation,
                    repeat=number,
                    throughput_mbit_s=float(one),
                )
                self.runs.append(replace(run, **fields))

    def ceiling(self, client: str, mbit_s: float) -> None:
        """Ceiling evidence for a client at 5 GHz, 80 MHz, down."""
        fields = {"client": client, "band": "5", "width_mhz": 80, "direction": "down", "throughput_mbit_s": mbit_s}
        self.ceilings.append(_record(Ceiling, **fields))

    def bench(self) -> Bench:
        names = sorted({r.device for r in self.runs})
        houses = sorted({r.house for r in self.runs} | self.houses.keys())
        return bench_of(
            devices=[self._device(n) for n in names],
            clients=[
                _record(Client, client_id=client, name=client, series=series)
                for client, series in sorted({(r.client, r.series) for r in self.runs})
            ],
            houses=[
                _record(
                    House, house_id=h, name=h, reference_device=self.houses.get(h), lab_limit_mbit_s=self.labs.get(h)
                )
                for h in houses
            ],
            ceilings=self.ceilings,
            runs=self.runs,
            constants=Constants(**self.declared),
        )

    def _device(self, name: str) -> Device:
        versions = sorted({r.firmware for r in self.runs if r.device == name})
        return _record(
            Device,
            device_id=name,
            maker="Maker",
            model=name,
            amendment="802.11ax",
            units=tuple(
                _record(Unit, device_id=name, unit_id=u, origin="bought")
                for u in sorted({r.unit for r in self.runs if r.device == name})
            ),
            firmware=tuple(_record(Firmware, device_id=name, version=v, released=None, public=True) for v in versions),
            ports=(_record(Port, device_id=name, name="LAN", speed_mbit_s=self.ports[name], power="none"),)
            if name in self.ports
            else (),
        )

    def subjects(self, *texts: str) -> tuple[Bench, list[Subject]]:
        bench = self.bench()
        return bench, [subject_named(bench, t) for t in texts]


def _record(kind: type[Any], **values: Any) -> Any:
    """A record with the given fields; the others None, or empty where they hold several things."""
    fields = kind.__dataclass_fields__
    blank = {n: () if "tuple" in str(f.type) else None for n, f in fields.items()}
    return kind(**(blank | {k: v for k, v in values.items() if k in fields}))


@pytest.fixture
def lab() -> Lab:
    return Lab()
