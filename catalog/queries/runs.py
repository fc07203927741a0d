"""Runs: single attempts of single cells."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable

from sqlite_utils import Database

from catalog.queries.selecting import Row, first_settings, select, select_rows
from catalog.records import Link, Run, Whereabouts

_KEY = """r.device_id, r.unit_id, r.firmware, r.client_id, r.driver, r.band, r.width_mhz, r.direction,
         r.protocol, r.flows, r.security, r.method, r.session_id, r.spot, r.spot_since,
         r.attenuation_db, round(r.level_dbm), r.settings_id, r.repeat"""
# A typed attenuation was read with the kit of its house; a house with several kits cannot say which.
RUNS = f"""
WITH house_kit AS (
    SELECT house_id, min(kit) AS kit FROM epoch GROUP BY house_id HAVING count(DISTINCT kit) = 1
)
SELECT r.run_id, r.at_utc, r.device_id AS device, r.unit_id AS unit, r.firmware, r.client_id AS client,
       r.driver, coalesce(d.series, c.series) AS series, r.session_id AS session, s.house_id AS house,
       s.date, r.band, r.channel, r.width_mhz, r.direction, r.protocol, r.flows, r.security, r.method,
       r.spot, r.spot_since, r.epoch_id,
       CASE WHEN e.epoch_id IS NOT NULL THEN e.kit
            WHEN r.attenuation_db IS NOT NULL THEN coalesce(k.kit, 'kit of ' || s.house_id) END AS kit,
       coalesce(e.attenuation_db, r.attenuation_db) AS attenuation_db,
       e.epoch_id IS NULL AND r.attenuation_db IS NOT NULL AS attenuation_typed,
       e.readings, e.readings_sd_db, r.level_dbm, r.repeat, r.throughput_mbit_s, r.outcome,
       r.seconds, r.link_rate_mbit_s, r.batch_id, r.source_file, r.source_row,
       r.at_typed, r.throughput_typed, r.dfs_event, r.log_path, r.note,
       {first_settings("r.settings_id")} AS settings, r.of_runs, r.spread_mbit_s, r.statistic
FROM run AS r
JOIN session AS s USING (session_id)
JOIN client AS c ON c.client_id = r.client_id
LEFT JOIN client_driver AS d ON d.client_id = r.client_id AND d.version = r.driver
LEFT JOIN epoch AS e ON e.epoch_id = r.epoch_id
LEFT JOIN house_kit AS k ON k.house_id = s.house_id
{{where}}
ORDER BY {{order}}
"""

# Those of some links, and what every bench needs beside them, as a part of a copy does (visibility/asked.py).
_OF_LINKS = """
WHERE (r.client_id, r.band, r.width_mhz, r.direction) IN (
          SELECT value ->> 0, value ->> 1, value ->> 2, value ->> 3 FROM json_each(?))
   OR r.device_id IN (SELECT reference_device FROM house)
   OR r.run_id IN (SELECT min(run_id) FROM run GROUP BY device_id, unit_id, firmware, settings_id)
"""
_OF_DEVICES = "WHERE r.device_id IN (SELECT value FROM json_each(?))"
DEVICES_ON_DAYS = """
SELECT device_id FROM run GROUP BY device_id HAVING count(DISTINCT session_id) >= ? ORDER BY device_id
"""
_ENDED_EARLY = "SELECT DISTINCT device_id FROM run WHERE outcome <> 'finished' ORDER BY device_id"
WHEREABOUTS = """
SELECT r.run_id, r.at_utc, r.device_id, r.unit_id, r.client_id, r.session_id, s.house_id, r.band, r.spot,
       r.attenuation_db, r.level_dbm
FROM run AS r JOIN session AS s USING (session_id) ORDER BY r.run_id
"""


def runs(db: Database, *, devices: Iterable[str] | None = None) -> list[Run]:
    """All runs, or those of some devices, by their key: device, unit, firmware, client setup, link, session, place, repeat."""
    if devices is None:
        return select(db, RUNS.format(where="", order=_KEY), Run)
    return select(db, RUNS.format(where=_OF_DEVICES, order=_KEY), Run, values=[json.dumps(sorted(set(devices)))])


def run_rows(db: Database) -> tuple[list[Row], Callable[[Row], Run]]:
    """All runs as rows, in the same order, number and device in places 0 and 2, and what makes a run of one."""
    return select_rows(db, RUNS.format(where="", order=_KEY), Run)


def runs_of_links(db: Database, links: Iterable[Link]) -> list[Run]:
    """Runs of some links, of houses' reference devices, and of each device one with each unit, firmware and settings.

    By their key, as all runs: of a copy that counts all runs, their numbers have that order.
    """
    return select(db, RUNS.format(where=_OF_LINKS, order="r.run_id"), Run, values=[json.dumps(sorted(links))])


def devices_ended_early(db: Database) -> list[str]:
    """Devices with runs that did not finish, by id."""
    return [device for (device,) in db.execute(_ENDED_EARLY)]


def devices_on_days(db: Database, least: int) -> list[str]:
    """Devices with runs in *least* sessions or more, by id."""
    return [device for (device,) in db.execute(DEVICES_ON_DAYS, [least])]


def whereabouts(db: Database) -> list[Whereabouts]:
    """Where the client stood in every run, by the number of the run."""
    return [Whereabouts._make(row) for row in db.execute(WHEREABOUTS)]
