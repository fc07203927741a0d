"""What follows the single runs of a plan: mixes that the other device did and this one did not, then readings of heat.

Heat comes last and after a break: a device that worked for hours is warm before its load begins.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from builder.planning.costs import Costs
from builder.planning.lattices import Lattice
from builder.planning.schedules import PlannedRow
from catalog.beginning.planned_batches import log_name
from catalog.records import Heat, Station

COOLING_MINUTES = 60.0  # of a device without a load (practice)


@dataclass(frozen=True, slots=True)
class Recorded:
    """What the catalogue holds beside single runs."""

    stations: Sequence[Station] = ()
    heat: Sequence[Heat] = ()


NOTHING = Recorded()


@dataclass(frozen=True, slots=True)
class Further:
    """One mix, or the readings of heat under one load: its rows, still without order, and minutes from its beginning."""

    name: str
    rows: tuple[PlannedRow, ...]
    minutes: float


def further_work(lattice: Lattice, recorded: Recorded, costs: Costs, *, day: int) -> list[Further]:
    """Everything that the other has and the device has not, in the order to be done."""
    if lattice.other is None:
        return []
    return [*_mixes(lattice, recorded.stations, costs, day=day), *_heat(lattice, recorded.heat, day=day)]


def appended(rows: Sequence[PlannedRow], further: Sequence[Further], *, minutes: float) -> list[PlannedRow]:
    """The rows of a plan with further work behind them, numbered on, its minutes counted on.

    minutes  of the last day until then
    """
    result, count = list(rows), len(rows) + sum(len(one.rows) for one in further)
    for one in further:
        for row in one.rows:
            order = len(result) + 1
            values = dict(row.values)
            label = (values["mix"], row.client, values["role"]) if row.table == "stations" else ()
            log = log_name(order, count, *label) if label else ""
            result.append(replace(row, order=order, log=log, minutes=minutes + row.minutes))
        minutes += one.minutes
    return result


def _mixes(lattice: Lattice, stations: Iterable[Station], costs: Costs, *, day: int) -> list[Further]:
    """The last run of each workload that the other did in this house, as the device's own."""
    assert lattice.other is not None
    device, other, house = lattice.device.subject, lattice.other.subject, lattice.spots[0].house
    every = list(stations)
    done = {one.workload for one in every if one.device == device.device}
    taken = {one.mix for one in every}
    last: dict[str, list[Station]] = {}
    for one in sorted(every, key=lambda one: (one.at_utc, one.mix)):
        if one.device == other.device and one.house == house and one.settings is None and one.workload not in done:
            of_workload = last.get(one.workload, [])
            last[one.workload] = [*of_workload, one] if of_workload and of_workload[0].mix == one.mix else [one]
    work = []
    for workload, of_mix in sorted(last.items()):
        number = 1
        while (mix := f"{device.device}-{workload}-{number}") in taken:
            number += 1
        seats = len({one.client for one in of_mix})
        minutes = seats * costs.spot_minutes + max(one.planned_s for one in of_mix) / 60
        rows = tuple(_station_row(lattice, one, mix, minutes, day=day) for one in of_mix)
        work.append(Further(f"the mix {workload}", rows, minutes))
    return work


def _station_row(lattice: Lattice, one: Station, mix: str, minutes: float, *, day: int) -> PlannedRow:
    device = lattice.device.subject
    values = {
        "mix": mix,
        "workload": one.workload,
        "workload_version": str(one.workload_version),
        "role": one.role,
        "planned_s": f"{one.planned_s:g}",
        "planned_requests": "" if one.planned_requests is None else str(one.planned_requests),
    }
    return PlannedRow(
        table="stations",
        day=day,
        device=device.device,
        unit=device.unit,
        firmware=device.firmware,
        client=one.client,
        driver=one.driver or "",
        spot=one.spot or "",
        attenuation_db=None if one.spot else one.attenuation_db,
        band=one.band,
        width_mhz=one.width_mhz,
        minutes=minutes,
        values=tuple(values.items()),
    )


def _heat(lattice: Lattice, readings: Iterable[Heat], *, day: int) -> list[Further]:
    """Readings of the other under each load, after the device has cooled."""
    assert lattice.other is not None
    device, other = lattice.device.subject, lattice.other.subject
    every = [one for one in readings if one.settings is None]
    done = {one.load for one in every if one.device == device.device}
    loads: dict[str, dict[tuple[float, str, str], Heat]] = {}
    for one in every:
        if one.device == other.device and one.load not in done:
            loads.setdefault(one.load, {})[one.minutes, one.face, one.material] = one
    work = []
    for load, of_load in sorted(loads.items()):
        ordered = sorted(of_load)
        rows = tuple(
            PlannedRow(
                table="heat",
                day=day,
                device=device.device,
                unit=device.unit,
                firmware=device.firmware,
                minutes=COOLING_MINUTES + minutes,
                pause=COOLING_MINUTES if number == 0 else 0.0,
                values=(("face", face), ("material", material), ("load", load), ("minutes", f"{minutes:g}")),
            )
            for number, (minutes, face, material) in enumerate(ordered)
        )
        work.append(Further(f"heat under the load “{load}”", rows, COOLING_MINUTES + ordered[-1][0]))
    return work
