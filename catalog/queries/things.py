"""Devices, client setups, houses with their spots, sessions and workloads."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import groupby
from operator import itemgetter

from sqlite_utils import Database

from catalog.queries.selecting import ORIGIN, select, select_names, select_parts
from catalog.records import (
    CONDITIONS,
    Client,
    ClientDriver,
    Device,
    Epoch,
    Firmware,
    House,
    Port,
    Radio,
    Role,
    Session,
    Settings,
    SpotReading,
    Unit,
    Workload,
)

DEVICES = f"""
SELECT {ORIGIN}, device_id, maker, model, kind, amendment, revision FROM device ORDER BY device_id
"""
ALIASES = "SELECT device_id, alias FROM device_alias ORDER BY device_id, alias"
DEVICE_RADIOS = """
SELECT device_id, band, streams, max_width_mhz, eirp_dbm FROM device_radio ORDER BY device_id, band
"""
PORTS = "SELECT device_id, name, speed_mbit_s, power, power_class FROM device_port ORDER BY device_id, name"
UNITS = f"""
SELECT device_id, {ORIGIN}, unit_id, origin, given_by, received, returned
FROM unit ORDER BY device_id, unit_id
"""
FIRMWARE = f"""
SELECT device_id, {ORIGIN}, version, released, public FROM firmware ORDER BY device_id, version
"""

CLIENTS = f"""
SELECT {ORIGIN}, client_id, name, machine, adapter, amendment, bus, series, level_of
FROM client ORDER BY client_id
"""
CLIENT_RADIOS = """
SELECT client_id, band, streams, max_width_mhz, NULL AS eirp_dbm FROM client_radio ORDER BY client_id, band
"""
DRIVERS = f"SELECT client_id, {ORIGIN}, version, series FROM client_driver ORDER BY client_id, version"

HOUSES = f"SELECT {ORIGIN}, house_id, name, reference_device, lab_limit_mbit_s FROM house ORDER BY house_id"
SPOT_READINGS = f"""
SELECT {ORIGIN}, house_id AS house, spot, band, valid_from, reading_number, reference_eirp_dbm, reading_dbm,
       reference_source, reference_receiver, channel, distance_m, obstacles
FROM spot_reading ORDER BY house_id, spot, band, valid_from, reading_number
"""
EPOCHS = """
SELECT epoch_id, house_id AS house, spot, band, valid_from,
       lead(valid_from) OVER (PARTITION BY house_id, spot, band ORDER BY valid_from) AS valid_until,
       attenuation_db, readings, readings_sd_db, kit, distance_m, obstacles
FROM epoch ORDER BY house_id, spot, band, valid_from
"""
SESSIONS = f"SELECT {ORIGIN}, session_id, house_id AS house, date, note, decision FROM session ORDER BY session_id"

SETTINGS = f"""
SELECT {ORIGIN}, settings_id, title, {", ".join(CONDITIONS)} FROM settings ORDER BY number
"""

WORKLOADS = f"""
SELECT {ORIGIN}, workload_id, version, title, duration_s FROM workload ORDER BY workload_id, version
"""
ROLES = """
SELECT p.workload_id, p.version, p.role_id, r.kind, r.target_ms, r.target_share, r.recipe, r.good_ms, r.good_share,
       p.definition, r.marks_batch_id, r.batch_id
FROM workload_role AS p JOIN role AS r ON r.role_id = p.definition ORDER BY p.workload_id, p.version, p.role_id
"""
SEATS = "SELECT workload_id, version, seat, role_id FROM workload_seat ORDER BY workload_id, version, seat, role_id"


def devices(db: Database) -> list[Device]:
    """All devices by id; aliases, radios by band, ports by name, units and firmware by id as text."""
    return select(
        db,
        DEVICES,
        Device,
        aliases=select_names(db, ALIASES),
        radios=select_parts(db, DEVICE_RADIOS, Radio),
        ports=select_parts(db, PORTS, Port),
        units=select_parts(db, UNITS, Unit),
        firmware=select_parts(db, FIRMWARE, Firmware),
    )


def clients(db: Database) -> list[Client]:
    """All client setups by id; radios by band, drivers by version as text."""
    return select(
        db,
        CLIENTS,
        Client,
        radios=select_parts(db, CLIENT_RADIOS, Radio),
        drivers=select_parts(db, DRIVERS, ClientDriver),
    )


def houses(db: Database) -> list[House]:
    """All houses by id."""
    return select(db, HOUSES, House)


def spot_readings(db: Database) -> list[SpotReading]:
    """All readings by house, spot, band, start of the epoch and number."""
    return select(db, SPOT_READINGS, SpotReading)


def epochs(db: Database) -> list[Epoch]:
    """All epochs by house, spot, band and start."""
    return select(db, EPOCHS, Epoch)


def sessions(db: Database) -> list[Session]:
    """All sessions by id."""
    return select(db, SESSIONS, Session)


def settings(db: Database) -> list[Settings]:
    """All settings in the order in which they were entered."""
    return select(db, SETTINGS, Settings)


def named_settings(db: Database) -> dict[str, Settings]:
    """The settings that each id means: of equal ones those that were entered first."""
    firsts: dict[tuple[object, ...], Settings] = {}
    return {one.settings_id: firsts.setdefault(one.conditions, one) for one in settings(db)}


def workloads(db: Database) -> list[Workload]:
    """All workloads by id and version, with their roles by id and their seats as they are counted."""
    roles = {
        workload: tuple(
            Role(role, kind, ms, share, json.loads(recipe), *more)
            for _, _, role, kind, ms, share, recipe, *more in rows
        )
        for workload, rows in groupby(db.execute(ROLES), itemgetter(0, 1))
    }
    seats = {
        workload: tuple(tuple(role for *_, role in seat) for _, seat in groupby(rows, itemgetter(2)))
        for workload, rows in groupby(db.execute(SEATS), itemgetter(0, 1))
    }
    versions = select(db, WORKLOADS, Workload, roles={}, seats={})
    return [
        replace(w, roles=roles.get((w.workload_id, w.version), ()), seats=seats.get((w.workload_id, w.version), ()))
        for w in versions
    ]
