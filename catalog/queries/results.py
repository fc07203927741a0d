"""What came out of tests, apart from single runs."""

from __future__ import annotations

import json
from collections.abc import Sequence
from itertools import groupby
from operator import itemgetter

from sqlite_utils import Database

from catalog.queries.selecting import ORIGIN, first_settings, select
from catalog.records import (
    BridgeValue,
    Ceiling,
    Feature,
    Heat,
    LongRun,
    Part,
    Power,
    Price,
    Station,
    Thinned,
)

# A run that lost its value to a correction is not evidence.
CEILINGS = """
SELECT c.batch_id, c.source_file, c.source_row, c.client_id AS client, c.band, c.width_mhz, c.direction,
       c.run_id, r.device_id AS device, r.throughput_mbit_s
FROM ceiling AS c JOIN run AS r USING (run_id)
WHERE r.throughput_mbit_s IS NOT NULL
ORDER BY c.client_id, c.band, c.width_mhz, c.direction, c.run_id
"""
STATIONS = f"""
SELECT t.batch_id, t.source_file, t.source_row, t.station_id, t.mix_id AS mix, t.workload_id AS workload,
       t.workload_version, t.role_id AS role, r.kind, t.at_utc, t.at_typed, t.device_id AS device,
       t.unit_id AS unit, t.firmware, t.client_id AS client, t.driver, t.session_id AS session,
       s.house_id AS house, s.date, t.band, t.channel, t.width_mhz, t.spot,
       (SELECT max(p.valid_from) FROM epoch AS p WHERE p.house_id = s.house_id AND p.spot = t.spot
           AND instr('+' || t.band || '+', '+' || p.band || '+') AND substr(p.valid_from, 1, length(s.date)) <= s.date) AS spot_since,
       coalesce(e.attenuation_db, t.attenuation_db) AS attenuation_db, t.level_dbm, t.planned_s, t.planned_requests,
       t.outcome, t.ended_at_s, t.ended_by, t.log_path, t.note, {first_settings("t.settings_id")} AS settings,
       t.on_time_share, t.mark_ms, t.p50_ms, t.p75_ms, t.p90_ms, t.p95_ms, t.p99_ms
FROM station AS t
JOIN session AS s USING (session_id)
LEFT JOIN epoch AS e ON e.house_id = s.house_id AND e.spot = t.spot AND e.band = t.band
    AND e.valid_from = (SELECT max(p.valid_from) FROM epoch AS p WHERE p.house_id = e.house_id AND p.spot = e.spot
                           AND p.band = e.band AND substr(p.valid_from, 1, length(s.date)) <= s.date)
JOIN workload_role AS p ON p.workload_id = t.workload_id AND p.version = t.workload_version
                       AND p.role_id = t.role_id
JOIN role AS r ON r.role_id = p.definition
ORDER BY t.mix_id, t.client_id, t.role_id
"""
LONGRUNS = f"""
SELECT l.batch_id, l.source_file, l.source_row, l.longrun_id, l.at_utc, l.at_typed, l.device_id AS device,
       l.unit_id AS unit, l.firmware, l.client_id AS client, l.driver, l.session_id AS session,
       s.house_id AS house, s.date, l.kind, l.band, l.width_mhz, l.direction, l.spot, l.mark_ms, l.outcome, l.log_path,
       l.note, {first_settings("l.settings_id")} AS settings
FROM longrun AS l JOIN session AS s USING (session_id)
ORDER BY l.device_id, l.unit_id, l.firmware, l.client_id, l.session_id, l.kind DESC, l.band, l.width_mhz,
         l.direction, l.at_utc
"""
DIGESTS = "SELECT owner, owner_id, figure, value FROM digest ORDER BY owner, owner_id, figure"
THINNED = """
SELECT owner, owner_id, quantity, unit, n, samples FROM thinned
WHERE owner IN (SELECT value FROM json_each(?)) ORDER BY owner, owner_id, quantity
"""
FEATURES = f"""
SELECT {ORIGIN}, device_id AS device, feature, step, firmware, date, licence, how, evidence
FROM feature ORDER BY device_id, feature, step, firmware, date
"""
HEAT = f"""
SELECT {ORIGIN}, heat_id, device_id AS device, unit_id AS unit, face, material, reading_c, ambient_c, load,
       minutes, emissivity, mount, session_id AS session, {first_settings("heat.settings_id")} AS settings
FROM heat ORDER BY device_id, unit_id, face, load, minutes, session_id, heat_id
"""
POWER = f"""
SELECT {ORIGIN}, power_id, device_id AS device, unit_id AS unit, state, watts, side, source_class, cable_m,
       {first_settings("power.settings_id")} AS settings
FROM power ORDER BY device_id, unit_id, state, side, power_id
"""
PARTS = f"""
SELECT {ORIGIN}, part_id, device_id AS device, revision, block, marking, count, read, photo
FROM part ORDER BY device_id, revision, block, marking, part_id
"""
PRICES = f"""
SELECT {ORIGIN}, price_id, device_id AS device, date, amount, currency, region, tax_included, condition,
       licence_per_year
FROM price ORDER BY device_id, date, region, condition, price_id
"""
BRIDGE_VALUES = f"""
SELECT {ORIGIN}, old_client, old_driver, new_client, new_driver, device_id AS device, band, width_mhz,
       direction, spot, at_utc, at_typed, side, repeat, throughput_mbit_s
FROM bridge
ORDER BY old_client, old_driver, new_client, new_driver, device_id, band, width_mhz, direction, spot, side,
         repeat
"""


def ceilings(db: Database) -> list[Ceiling]:
    """All ceiling evidence by client, band, width, direction and run."""
    return select(db, CEILINGS, Ceiling)


def stations(db: Database) -> list[Station]:
    """All stations by mix, client and role."""
    return select(db, STATIONS, Station)


def longruns(db: Database) -> list[LongRun]:
    """All long runs by device, unit, firmware, client, session, link and time."""
    return select(db, LONGRUNS, LongRun)


def digests(db: Database) -> dict[tuple[str, int], dict[str, float]]:
    """What was computed from each log: (owner, owner_id) -> figure -> value, in that order."""
    return {
        owner: {figure: value for *_, figure, value in rows}
        for owner, rows in groupby(db.execute(DIGESTS), itemgetter(0, 1))
    }


def thinned(db: Database, *, owners: Sequence[str] = ("run", "station", "longrun")) -> list[Thinned]:
    """The points of logs that charts draw, by owner and quantity; *owners* says of which kinds of rows."""
    return [Thinned(*row) for row in db.execute(THINNED, [json.dumps(list(owners))])]


def features(db: Database) -> list[Feature]:
    """All evidence by device, feature, step, firmware and date."""
    return select(db, FEATURES, Feature)


def heat(db: Database) -> list[Heat]:
    """All surface temperatures by device, unit, face, load, minutes and session."""
    return select(db, HEAT, Heat)


def power(db: Database) -> list[Power]:
    """All power readings by device, unit, state and side."""
    return select(db, POWER, Power)


def parts(db: Database) -> list[Part]:
    """All parts by device, revision, block and marking."""
    return select(db, PARTS, Part)


def prices(db: Database) -> list[Price]:
    """All prices by device, date, region and condition."""
    return select(db, PRICES, Price)


def bridge_values(db: Database) -> list[BridgeValue]:
    """All values of bridge tests by setups, device, link, spot, side and repeat."""
    return select(db, BRIDGE_VALUES, BridgeValue)
