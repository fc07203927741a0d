"""Views in the public SQLite file, for readers who would rather query than join."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from builder.pages.data import ColumnMeaning


@dataclass(frozen=True, slots=True)
class View:
    """One view: what one row is, its SELECT, and what its columns mean in order."""

    what: str
    select: str
    columns: tuple[ColumnMeaning, ...]


def _column(name: str, kind: str, meaning: str) -> ColumnMeaning:
    return ColumnMeaning(name, kind, meaning)


VIEWS: dict[str, View] = {
    "view_run": View(
        "A view: every run with the names of what took part and the attenuation in force at its spot",
        """
        SELECT r.run_id, d.maker || ' ' || d.model AS device, r.unit_id AS unit, r.firmware, c.name AS client,
               r.driver, h.name AS house, s.date, r.settings_id AS settings, r.band, r.width_mhz, r.direction, r.spot,
               coalesce(e.attenuation_db, r.attenuation_db) AS attenuation_db, r.level_dbm, r.repeat,
               r.throughput_mbit_s, r.of_runs, r.spread_mbit_s, r.statistic, r.outcome,
               r.batch_id, r.source_file, r.source_row % 10000000 AS source_row
        FROM run AS r
        JOIN device AS d USING (device_id)
        JOIN client AS c ON c.client_id = r.client_id
        JOIN session AS s USING (session_id)
        JOIN house AS h USING (house_id)
        LEFT JOIN epoch AS e ON e.epoch_id = r.epoch_id
        """,
        (
            _column("run_id", "integer", "the run's number in this file; another file may number it otherwise"),
            _column("device", "text", "maker and model"),
            _column("unit", "text", "the physical piece"),
            _column("firmware", "text", "its version"),
            _column("client", "text", "name of the client setup"),
            _column("driver", "text or nothing", "version of its driver"),
            _column("house", "text", "where it was"),
            _column("date", "text", "day of the session"),
            _column("settings", "text or nothing", "what was set otherwise than always; nothing: tested as always"),
            _column("band", "text", "in GHz; 5+6 for a client on both at once"),
            _column("width_mhz", "integer", "in MHz"),
            _column("direction", "text", "down is from the access point to the client"),
            _column("spot", "text or nothing", "marked place in the house"),
            _column("attenuation_db", "real or nothing", "in dB: of the spot's epoch, else as typed"),
            _column("level_dbm", "real or nothing", "in dBm, as the client read it under load"),
            _column("repeat", "integer", "number among the repeats of one cell"),
            _column("throughput_mbit_s", "real or nothing", "in Mbit/s; nothing for a run that did not finish"),
            _column("of_runs", "integer or nothing", "how many runs the row is a summary of; nothing: it is one run"),
            _column("spread_mbit_s", "real or nothing", "their standard deviation in Mbit/s, as it was noted"),
            _column("statistic", "text or nothing", "mean or median: what the throughput of a summary is"),
            _column("outcome", "text", "how the run ended"),
            _column("batch_id", "text", "the batch it was entered with"),
            _column("source_file", "text", "file or sheet of the batch; with its row the name of a run everywhere"),
            _column(
                "source_row", "integer or nothing", "row there; nothing where others of its batch may not be seen yet"
            ),
        ),
    ),
    "view_spot": View(
        "A view: every spot with its attenuation by band, and until when it held",
        """
        SELECT h.name AS house, e.spot, e.band, e.valid_from,
               lead(e.valid_from) OVER (PARTITION BY e.house_id, e.spot, e.band ORDER BY e.valid_from) AS valid_until,
               e.attenuation_db, e.readings, e.readings_sd_db, e.distance_m, e.obstacles
        FROM epoch AS e JOIN house AS h USING (house_id)
        """,
        (
            _column("house", "text", "its name"),
            _column("spot", "text", "marked place in it"),
            _column("band", "text", "in GHz"),
            _column("valid_from", "text", "day from which on the attenuation holds"),
            _column("valid_until", "text or nothing", "day on which the next one begins; nothing for the latest"),
            _column("attenuation_db", "real", "in dB: what the way to the spot takes from a signal"),
            _column("readings", "integer", "how many readings it is the mean of"),
            _column("readings_sd_db", "real or nothing", "their standard deviation in dB; nothing for a single one"),
            _column("distance_m", "real or nothing", "in metres"),
            _column("obstacles", "text or nothing", "what stands between"),
        ),
    ),
    "view_device": View(
        "A view: every device with how much was tested of it, and how many runs did not finish",
        """
        SELECT d.device_id, d.maker || ' ' || d.model AS device, d.kind, d.amendment,
               count(DISTINCT r.unit_id) AS units_tested, count(DISTINCT r.firmware) AS firmwares_tested,
               min(s.date) AS first_tested, max(s.date) AS last_tested, count(r.run_id) AS runs,
               coalesce(sum(r.outcome = 'did not finish'), 0) AS did_not_finish
        FROM device AS d
        LEFT JOIN run AS r ON r.device_id = d.device_id
        LEFT JOIN session AS s USING (session_id)
        GROUP BY d.device_id
        """,
        (
            _column("device_id", "text", "id, which never changes"),
            _column("device", "text", "maker and model"),
            _column("kind", "text or nothing", "what sort of device it is"),
            _column("amendment", "text", "of IEEE 802.11"),
            _column("units_tested", "integer", "physical pieces with runs"),
            _column("firmwares_tested", "integer", "versions with runs"),
            _column("first_tested", "text or nothing", "day of its first run"),
            _column("last_tested", "text or nothing", "day of its last run"),
            _column("runs", "integer", "runs with one client at a time"),
            _column("did_not_finish", "integer", "how many of them did not finish"),
        ),
    ),
}


def add_views(database: Path) -> dict[str, tuple[str, list[ColumnMeaning]]]:
    """Add the views to a public copy that lies at *database*.

    Returns  view -> what one row is and its columns, as `dictionary` gives it for tables.
    """
    with closing(sqlite3.connect(database)) as copy, copy:
        for name, view in VIEWS.items():
            copy.execute(f"CREATE VIEW {name} AS{view.select.rstrip()}\n")
    return {name: (view.what, list(view.columns)) for name, view in VIEWS.items()}
