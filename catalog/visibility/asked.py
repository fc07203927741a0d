"""What a question is about: of the tables that grow with every test, the rows that its answer rests on.

A question may look at such a part before it says what else it is about. A copy of a part is the whole copy less rows. What may be seen is found on the whole catalogue before, by the same rules;
this module only says which of the visible rows are wanted, so a part that is drawn wrongly shows too little, never more.
Everything else goes in whole, but for what no question asks: points for charts, and notes. Tables are read whole for
that, not by their indexes, which takes 4 ms: a damaged index would leave rows out that nobody misses.

    asked  wanted rows of the tables of RESULTS: (tbl, row_id)
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass

from sqlite_utils import Database

from catalog.records import CONDITIONS, Link, TestedLink
from catalog.visibility.hiding import kept

RESULTS = ("run", "station", "longrun")
LEFT_AT_HOME = ("thinned", "extra")

# Visible runs with a value by what a group and its devices are told by; settings are the first visible equal ones.
_EQUAL = " AND ".join(f"o.{name} IS n.{name}" for name in CONDITIONS)
_LINK = f"""
x.device_id, x.client_id, x.driver,
CASE WHEN x.settings_id IS NOT NULL THEN (
    SELECT o.settings_id FROM src.settings AS n JOIN src.settings AS o ON {_EQUAL}
    WHERE {kept("settings", "o")} AND n.settings_id = coalesce((
        SELECT json_extract(m.said, '$.settings_id') FROM temp.moved AS m
        WHERE m.tbl = 'run' AND m.row_id = x.rowid), x.settings_id)
    ORDER BY o.number LIMIT 1) END AS settings_id,
x.band, x.width_mhz, x.direction, x.protocol, x.flows, x.security, x.method"""
_LINKS_TESTED = f"""
SELECT DISTINCT {_LINK} FROM src.run AS x NOT INDEXED WHERE x.throughput_mbit_s IS NOT NULL AND {kept("run", "x")}
"""
# The same with what tells cells of a link apart (builder/bench/cells.py).
_CELLS_TESTED = f"""
SELECT device_id, client_id, driver, settings_id, band, width_mhz, direction, protocol, flows, security, method, count(*)
FROM (SELECT DISTINCT {_LINK}, x.unit_id, x.firmware, x.session_id, x.of_runs, x.spot, x.spot_since,
             CASE WHEN x.spot IS NULL THEN x.attenuation_db END,
             CASE WHEN x.spot IS NULL AND x.attenuation_db IS NULL THEN round(x.level_dbm) END
      FROM src.run AS x NOT INDEXED WHERE x.throughput_mbit_s IS NOT NULL AND {kept("run", "x")}
       AND (x.client_id, x.band, x.width_mhz, x.direction) IN (
           SELECT value ->> 0, value ->> 1, value ->> 2, value ->> 3 FROM json_each(?)))
GROUP BY 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11
"""


@dataclass(frozen=True, slots=True)
class Asked:
    """What a question is about, and with it the part of a public copy that answers it.

    devices     their runs, stations and long runs
    clients     client setups of which every device's runs count, over whatever link: visits need them all
    links       links of which every device's runs count; they say what a run gave, and not which visit it was of
    mixes       ids of mixes whose stations count
    under_load  every device's stations and long runs count

    Beside these go the runs of houses' reference devices, from which spreads are learnt, those that are evidence of a
    ceiling, and of each device one run with each unit, firmware and settings, so that every name stands for the same.
    """

    devices: frozenset[str] = frozenset()
    clients: frozenset[str] = frozenset()
    links: frozenset[Link] = frozenset()
    mixes: frozenset[str] = frozenset()
    under_load: bool = False


def find_asked(db: Database, asked: Asked) -> None:
    """Fill the temporary table of this module; what is left out is known by now."""
    db.execute(
        "CREATE TEMP TABLE asked (tbl TEXT, row_id INTEGER, PRIMARY KEY (tbl, row_id)) WITHOUT ROWID",
    )
    ask_more(db, asked)
    _ask(db, "run", "x.device_id IN (SELECT reference_device FROM src.house)")
    _ask(db, "run", "x.run_id IN (SELECT run_id FROM src.ceiling)")
    db.execute(
        f"""INSERT OR IGNORE INTO temp.asked SELECT 'run', min(x.run_id) FROM src.run AS x NOT INDEXED WHERE {kept("run", "x")}
            GROUP BY x.device_id, x.unit_id, x.firmware, x.settings_id"""
    )


def ask_more(db: Database, asked: Asked) -> None:
    """Add to the temporary table what is asked, but for what goes along by itself."""
    if asked.devices:
        for table in RESULTS:
            _ask(db, table, "x.device_id IN (SELECT value FROM json_each(:of))", of=sorted(asked.devices))
    if asked.clients:
        _ask(db, "run", "x.client_id IN (SELECT value FROM json_each(:of))", of=sorted(asked.clients))
    if asked.links:
        link = ", ".join(f"value ->> {place}" for place in range(4))
        condition = f"(x.client_id, x.band, x.width_mhz, x.direction) IN (SELECT {link} FROM json_each(:of))"
        _ask(db, "run", condition, of=sorted(asked.links))
    if asked.mixes:
        _ask(db, "station", "x.mix_id IN (SELECT value FROM json_each(:of))", of=sorted(asked.mixes))
    if asked.under_load:
        _ask(db, "station", "1")
        _ask(db, "longrun", "1")


def links_tested(db: Database) -> list[TestedLink]:
    """What has a value in the whole copy, in no order; while what may be seen is known."""
    return [TestedLink._make(row) for row in db.execute(_LINKS_TESTED)]


def cells_tested(db: Database, links: Iterable[Link]) -> dict[TestedLink, int]:
    """How many cells with a value there are of each, over some links; while what may be seen is known."""
    rows = db.execute(_CELLS_TESTED, [json.dumps(sorted(links))])
    return {TestedLink._make(link): count for *link, count in rows}


def _ask(db: Database, table: str, condition: str, *, of: object = None) -> None:
    db.execute(
        f"INSERT OR IGNORE INTO temp.asked SELECT '{table}', x.rowid FROM src.{table} AS x NOT INDEXED WHERE {condition}",
        {} if of is None else {"of": json.dumps(of)},
    )
