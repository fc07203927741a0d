"""Runs: single attempts of single cells."""

from __future__ import annotations

import json
from collections.abc import Iterable

from sqlite_utils import Database

from catalog.queries.selecting import first_settings, select
from catalog.records import Run

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
{{of}}
ORDER BY r.device_id, r.unit_id, r.firmware, r.client_id, r.driver, r.band, r.width_mhz, r.direction,
         r.protocol, r.flows, r.security, r.method, r.session_id, r.spot, r.spot_since,
         r.attenuation_db, round(r.level_dbm), r.settings_id, r.repeat
"""


def runs(db: Database, *, devices: Iterable[str] | None = None) -> list[Run]:
    """All runs, or those of some devices, by their key: device, unit, firmware, client setup, link, session, place, repeat."""
    if devices is None:
        return select(db, RUNS.format(of=""), Run)
    of = "WHERE r.device_id IN (SELECT value FROM json_each(?))"
    return select(db, RUNS.format(of=of), Run, given=[json.dumps(list(devices))])
