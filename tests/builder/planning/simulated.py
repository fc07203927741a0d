"""Simulated benches whose truth is drawn by numpy alone: curves, spots, days, kit, placement, repeats.

Nothing here asks the method: what is written down is what a reviewer would have typed, what is true is the curves.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from itertools import count

import numpy as np

from builder.bench.bench import bench_of
from catalog.method import Constants
from catalog.records import Client, Device, Epoch, Firmware, House, Run, Unit

LOSSES = np.array([50.0, 56.0, 61.0, 67.0, 73.0, 79.0])
READINGS = 5
CLIENT = "wrenlet-u2"


@dataclass(frozen=True)
class Nature:
    """How a bench scatters. day and repeats: fractions; unlike: of the repeats of devices; placement, kit: dB."""

    day: float
    repeats: float
    placement: float
    kit: float
    unlike: float = 0.0
    level: float = 0.06
    older: int = 3  # repeats of the cells that are there already


def _record(kind, **values):
    fields = kind.__dataclass_fields__
    blank = {n: () if "tuple" in str(f.type) else None for n, f in fields.items()}
    return kind(**(blank | {k: v for k, v in values.items() if k in fields}))


class House_:
    """One house, its devices' true curves, and the runs written down so far."""

    def __init__(self, rng, nature, devices):
        self.rng, self.nature = rng, nature
        self.names = [f"d{i}" for i in range(devices)]
        self.curves = {
            name: (900 * max(rng.normal(1, nature.level), 0.5), rng.normal(74, 1.0), rng.normal(9, 0.4))
            for name in self.names
        }
        self.scatter = {name: nature.repeats * float(np.exp(rng.normal(0, nature.unlike))) for name in self.names}
        readings = rng.normal(0, nature.placement, (len(LOSSES), READINGS))
        self.written = LOSSES + rng.normal(0, nature.kit) + readings.mean(axis=1)
        self.readings_sd = readings.std(axis=1, ddof=1)
        self.runs, self.clock, self.days, self.repeats = [], count(), {}, Counter()

    def value(self, name, loss):
        most, half, width = self.curves[name]
        return most / (1 + np.exp((loss - half) / width))

    def mean_over(self, name, low, high):
        """The curve's own mean over a range, by its exact integral."""
        most, half, width = self.curves[name]

        def integral(x):
            return most * (x - width * np.logaddexp(0, (x - half) / width))

        return (integral(high) - integral(low)) / (high - low)

    def stand(self, name, spot, repeats, session):
        """Put the client at a spot once and measure there."""
        nature, rng = self.nature, self.rng
        if session not in self.days:
            self.days[session] = 1 + rng.normal(0, nature.day)
        here = self.value(name, LOSSES[spot] + rng.normal(0, nature.placement)) * self.days[session]
        for one in here * (1 + rng.normal(0, self.scatter[name], repeats)):
            self.write_down(name, spot, float(max(one, 1.0)), session)

    def write_down(self, name, spot, value, session):
        self.repeats[name, spot, session] += 1
        at = next(self.clock)
        self.runs.append(
            _record(
                Run,
                run_id=at + 1,
                at_utc=f"2025-05-12T{at // 3600:02d}:{at // 60 % 60:02d}:{at % 60:02d}Z",
                at_typed="",
                device=name,
                unit="A",
                firmware="1.0",
                client=CLIENT,
                series=CLIENT,
                session=session,
                house="g",
                date="2025-05-12",
                band="5",
                width_mhz=80,
                direction="down",
                method=1,
                spot=f"S{spot + 1}",
                spot_since="2025-01-01",
                kit="kit",
                attenuation_db=float(self.written[spot]),
                attenuation_typed=False,
                readings=READINGS,
                readings_sd_db=float(self.readings_sd[spot]),
                repeat=self.repeats[name, spot, session],
                throughput_mbit_s=value,
                throughput_typed="",
                outcome="finished",
                batch_id="b",
                source_file="runs.csv",
            )
        )

    def bench(self):
        """What the program sees of it."""
        bench = bench_of(
            devices=[
                _record(
                    Device,
                    device_id=name,
                    maker="Maker",
                    model=name,
                    amendment="802.11ax",
                    units=(_record(Unit, device_id=name, unit_id="A", origin="bought"),),
                    firmware=(_record(Firmware, device_id=name, version="1.0", public=True),),
                )
                for name in self.names
            ],
            clients=[_record(Client, client_id=CLIENT, name=CLIENT, series=CLIENT)],
            houses=[_record(House, house_id="g", name="g")],
            ceilings=[],
            runs=self.runs,
            constants=Constants(
                session_spread=self.nature.day,
                placement_sigma_db=self.nature.placement,
                calibration_sigma_db=self.nature.kit,
            ),
            epochs=[
                _record(
                    Epoch,
                    epoch_id=i,
                    house="g",
                    spot=f"S{i + 1}",
                    band="5",
                    valid_from="2025-01-01",
                    attenuation_db=float(loss),
                    readings=READINGS,
                    readings_sd_db=float(sd),
                    kit="kit",
                )
                for i, (loss, sd) in enumerate(zip(self.written, self.readings_sd, strict=True))
            ],
        )
        return replace(bench)


def simulated_house(rng, nature, devices=8, *, new="d0"):
    """A house in which every device but the new one was measured, each on a day of its own."""
    house = House_(rng, nature, devices)
    for name in house.names:
        if name != new:
            for spot in range(len(LOSSES)):
                house.stand(name, spot, nature.older, f"old {name}")
    return house


def carry_out(house, plan):
    """Measure the rows of a plan one after the other; the client is moved wherever the next row is elsewhere."""
    before, visit = None, []

    def stand():
        if visit:
            device, spot, session = before
            house.stand(device, int(spot[1:]) - 1, len(visit), session)

    for row in plan.rows:
        here = row.device, row.spot, f"new {row.day}"
        if here != before:
            stand()
            before, visit = here, []
        visit.append(row)
    stand()
