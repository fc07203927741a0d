"""Devices, clients, houses and workloads as batch.toml has them, each in the batch that first needs it."""

from __future__ import annotations

from making.clients import CLIENTS, Client
from making.conditions import SETTINGS
from making.devices import DEVICES, Device, Embargo, Firmware, Unit
from making.diary import DAYS
from making.houses import HOUSES
from making.workloads import EVENING, ROLES, WORKLOADS, Workload

Table = dict[str, object]


def _embargo(embargo: Embargo) -> Table:
    return {"until": embargo.until, "timezone": embargo.timezone, "covers": embargo.covers}


def _unit(unit: Unit) -> Table:
    table: Table = {"id": unit.id, "origin": unit.origin, "by": unit.by, "received": unit.received}
    if unit.returned is not None:
        table["returned"] = unit.returned
    return table


def _firmware(firmware: Firmware) -> Table:
    table: Table = {"version": firmware.version, "released": firmware.released, "public": firmware.public}
    if firmware.embargo is not None:
        table["embargo"] = _embargo(firmware.embargo)
    return table


def _device(device: Device, batch: str) -> Table | None:
    units = [_unit(u) for u in device.units if (u.batch or device.batch) == batch]
    firmware = [_firmware(f) for f in device.firmware if (f.batch or device.batch) == batch]
    if device.batch != batch:
        if not units and not firmware:
            return None
        table: Table = {"id": device.id}
    else:
        table = {
            "id": device.id,
            "maker": device.maker,
            "model": device.model,
            "kind": device.kind,
            "amendment": device.amendment,
            "revision": device.revision,
        }
        if device.aliases:
            table["aliases"] = list(device.aliases)
        table["radio"] = [
            {"band": r.band, "streams": r.streams, "max_width_mhz": r.max_width_mhz, "eirp_dbm": r.eirp_dbm}
            for r in device.radios
        ]
        ports: list[Table] = []
        for port in device.ports:
            entry: Table = {"name": port.name, "speed_mbit_s": port.speed_mbit_s, "power": port.power}
            if port.power_class is not None:
                entry["power_class"] = port.power_class
            ports.append(entry)
        table["port"] = ports
    if units:
        table["unit"] = units
    if firmware:
        table["firmware"] = firmware
    if device.embargo is not None:
        table["embargo"] = _embargo(device.embargo)
    return table


def _client(client: Client, batch: str, ceilings: list[Table]) -> Table | None:
    later = [
        {"version": version, "series": series}
        for version, (series, in_batch) in client.later_drivers.items()
        if in_batch == batch
    ]
    table: Table = {"id": client.id}
    if client.batch == batch:
        table |= {
            "name": client.name,
            "machine": client.machine,
            "adapter": client.adapter,
            "amendment": client.amendment,
            "bus": client.bus,
            "series": client.own_series,
            "level_of": client.level_of,
            "radio": [{"band": r.band, "streams": r.streams, "max_width_mhz": r.max_width_mhz} for r in client.radios],
            "driver": [{"version": client.driver}],
        }
    if later:
        table["driver"] = later
    if ceilings:
        table["ceiling"] = ceilings
    return table if len(table) > 1 else None


def _workload(workload: Workload) -> Table:
    table: Table = {
        "id": workload.id,
        "version": 1,
        "title": workload.title,
        "duration_s": workload.duration_s,
    }
    if workload.shares_roles:
        return table | {"seats": [[role.id for role in seat.roles] for seat in workload.seats]}
    return table | {"role": [role.definition() for seat in workload.seats for role in seat.roles]}


def register(batch: str, ceilings: dict[str, list[Table]]) -> Table:
    """The register part of one batch.

    ceilings  client id -> its ceiling tables, for the runs of this batch that are evidence
    """
    out: Table = {}
    tables = [t for device in DEVICES if (t := _device(device, batch)) is not None]
    if tables:
        out["device"] = tables
    tables = [t for client in CLIENTS if (t := _client(client, batch, ceilings.get(client.id, []))) is not None]
    if tables:
        out["client"] = tables
    if batch == "2022-01-houses":
        out["house"] = [
            {"id": house.id, "name": house.name, "reference_device": house.reference_device} for house in HOUSES
        ]
    if named := [s for s in SETTINGS if s.batch == batch]:
        out["settings"] = [{"id": s.id, "title": s.title, **s.conditions} for s in named]
    if batch == EVENING:
        out["role"] = [role.definition() for role in ROLES]
    if plans := [_workload(workload) for workload in WORKLOADS if workload.batch == batch]:
        out["workload"] = plans
    sessions: list[Table] = []
    for day in DAYS.get(batch, ()):
        session: Table = {"id": day.id, "house": day.house.id, "date": day.date}
        if day.note:
            session["note"] = day.note
        sessions.append(session)
    if sessions:
        out["session"] = sessions
    return out
