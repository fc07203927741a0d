"""Of what a stained batch entered, only what a visible row uses goes in.

A batch without anything hidden goes in whole. Of a stained one, a client setup, driver, house, spot, session, workload,
role or settings go in only if a visible row uses it: otherwise the registers would tell of tests to come.

    setup        who was tested with what in visible runs, stations and long runs, each setup once
    used         ids that visible rows use: kind, a, b (the second half of a double key, else "")
    left_out     grows by what is unused
    kept_epoch   epochs that go in
"""

from __future__ import annotations

from sqlite_utils import Database

from catalog.visibility.hiding import kept, leave_out

# Additions to a thing; one made by a stained batch to a thing from elsewhere would tell of that batch.
_ADDITIONS = {
    "device_alias": "device",
    "device_radio": "device",
    "device_port": "device",
    "unit": "device",
    "firmware": "device",
    "client_radio": "client",
}

_WITH_SETUP = ("run", "station", "longrun")  # tables with client_id, driver, session_id, unit_id and firmware


def leave_out_unused(db: Database) -> None:
    """Fill the temporary tables of this module. Rows that will be withdrawn count as visible: their use was."""
    if db.execute("SELECT 1 FROM temp.stained LIMIT 1").fetchone():
        db.execute("CREATE TEMP TABLE used (kind TEXT, a TEXT, b TEXT, PRIMARY KEY (kind, a, b)) WITHOUT ROWID")
        _find_used(db)
        _leave_out_additions(db)
        _use(db, "client", "ceiling", "x.client_id")
        _leave_out_registers(db)
        _leave_out_images(db)
    else:
        db.execute("CREATE TEMP TABLE kept_epoch AS SELECT epoch_id FROM src.epoch")


def entered_clean(table: str, alias: str = "x") -> str:
    """SQL: a batch without anything hidden brought the row *alias* of *table*."""
    return f"""({alias}.batch_id NOT IN (SELECT batch_id FROM temp.stained) OR EXISTS (
        SELECT 1 FROM temp.again AS g WHERE g.tbl = '{table}' AND g.row_id = {alias}.rowid
           AND g.batch_id NOT IN (SELECT batch_id FROM temp.stained)))"""


def _use(db: Database, kind: str, table: str, first: str, second: str = "''") -> None:
    _use_of(db, kind, f"src.{table} AS x", first, second, where=kept(table, "x"))


def _use_of(db: Database, kind: str, rows: str, first: str, second: str = "''", *, where: str = "1") -> None:
    db.execute(
        f"INSERT OR IGNORE INTO temp.used SELECT DISTINCT '{kind}', {first}, {second} FROM {rows} "
        f"WHERE {first} IS NOT NULL AND {second} IS NOT NULL AND {where}"
    )


def _leave_out_unless_used(db: Database, table: str, kind: str, first: str, second: str = "''") -> None:
    used = f"EXISTS (SELECT 1 FROM temp.used AS u WHERE u.kind = '{kind}' AND u.a = {first} AND u.b = {second})"
    leave_out(db, table, f"NOT {entered_clean(table)} AND NOT {used}", why="unused")


def _find_used(db: Database) -> None:
    # Gone through once, for runs are many and their setups few.
    setups = " UNION ".join(
        f"""SELECT session_id, client_id, driver, device_id, unit_id, firmware, settings_id FROM src.{table} AS x
            WHERE {kept(table, "x")}"""
        for table in _WITH_SETUP
    )
    db.execute(f"CREATE TEMP TABLE setup AS {setups}")
    _use_of(db, "session", "temp.setup", "session_id")
    _use_of(db, "client", "temp.setup", "client_id")
    _use_of(db, "driver", "temp.setup", "client_id", "driver")
    _use_of(db, "unit", "temp.setup", "device_id", "unit_id")
    _use_of(db, "firmware", "temp.setup", "device_id", "firmware")
    _use_of(db, "settings", "temp.setup", "settings_id")
    for table in ("heat", "power"):
        _use(db, "unit", table, "x.device_id", "x.unit_id")
        _use(db, "settings", table, "x.settings_id")
    _use(db, "firmware", "feature", "x.device_id", "x.firmware")
    _use(db, "session", "heat", "x.session_id")
    _use(db, "workload", "station", "x.workload_id", "x.workload_version")
    for side in ("old", "new"):
        _use(db, "client", "bridge", f"x.{side}_client")
        _use(db, "driver", "bridge", f"x.{side}_client", f"x.{side}_driver")


def _leave_out_additions(db: Database) -> None:
    for table, thing in _ADDITIONS.items():
        addition = f"""NOT {entered_clean(table)} AND EXISTS (
            SELECT 1 FROM src.{thing} AS t WHERE t.{thing}_id = x.{thing}_id
               AND (t.batch_id <> x.batch_id OR {entered_clean(thing, "t")}))"""
        used = ""
        if table in ("unit", "firmware"):
            key = "x.unit_id" if table == "unit" else "x.version"
            used = f"""AND NOT EXISTS (
                SELECT 1 FROM temp.used AS u WHERE u.kind = '{table}' AND u.a = x.device_id AND u.b = {key})"""
        leave_out(db, table, f"{addition} {used}", why="unused")
    leave_out(
        db,
        "embargo",
        """EXISTS (SELECT 1 FROM src.unit AS t JOIN temp.left_out AS l ON l.tbl = 'unit' AND l.row_id = t.rowid
                    WHERE (t.device_id, t.unit_id) = (x.device_id, x.unit_id))
           OR EXISTS (SELECT 1 FROM src.firmware AS t JOIN temp.left_out AS l
                          ON l.tbl = 'firmware' AND l.row_id = t.rowid
                       WHERE (t.device_id, t.version) = (x.device_id, x.version))""",
        why="unused",
    )
    # So would evidence that a run from elsewhere is a ceiling.
    leave_out(
        db,
        "ceiling",
        f"""NOT {entered_clean("ceiling")} AND EXISTS (
            SELECT 1 FROM src.run AS t WHERE t.run_id = x.run_id
               AND (t.batch_id <> x.batch_id OR {entered_clean("run", "t")}))""",
        why="unused",
    )


def _leave_out_registers(db: Database) -> None:
    """From the users to the used: a driver needs its client setup, an epoch and a session their house."""
    _leave_out_unless_used(db, "client_driver", "driver", "x.client_id", "x.version")
    _use(db, "client", "client_driver", "x.client_id")
    _leave_out_unless_used(db, "client", "client", "x.client_id")
    _leave_out_unless_used(db, "workload", "workload", "x.workload_id", "x.version")
    db.execute(
        f"""INSERT OR IGNORE INTO temp.used SELECT DISTINCT 'role', p.definition, '' FROM src.workload_role AS p
            JOIN src.workload AS x USING (workload_id, version) WHERE {kept("workload", "x")}"""
    )
    _leave_out_unless_used(db, "role", "role", "x.role_id")
    _leave_out_unless_used(db, "settings", "settings", "x.settings_id")
    leave_out(
        db,
        "client_radio",
        "EXISTS (SELECT 1 FROM src.client AS c JOIN temp.left_out AS l ON l.tbl = 'client' AND l.row_id = c.rowid"
        " WHERE c.client_id = x.client_id)",
        why="unused",
    )
    _leave_out_unless_used(db, "session", "session", "x.session_id")
    _use(db, "house", "session", "x.house_id")
    _keep_epochs(db)
    _leave_out_unless_used(db, "house", "house", "x.house_id")


def _keep_epochs(db: Database) -> None:
    """An epoch is used by the runs that name it; elsewhere by what was measured at its spot while it was in force."""
    entries = " UNION ".join(
        f"SELECT s.house_id, x.spot, x.band, s.date FROM src.{table} AS x JOIN src.session AS s USING (session_id) "
        f"WHERE x.spot IS NOT NULL {'AND x.epoch_id IS NULL' if table == 'run' else ''} AND {kept(table, 'x')}"
        for table in _WITH_SETUP
    )
    db.execute("CREATE TEMP TABLE kept_place (house_id, spot, band, date)")
    db.execute(f"INSERT INTO temp.kept_place {entries}")
    db.execute(
        f"""CREATE TEMP TABLE kept_epoch AS
            WITH place (house_id, spot, band, date) AS (
                SELECT * FROM temp.kept_place UNION SELECT NULL, spot, band, substr(at_utc, 1, 10) FROM src.bridge AS x
                WHERE {kept("bridge", "x")})
            SELECT x.epoch_id FROM src.run AS x WHERE x.epoch_id IS NOT NULL AND {kept("run", "x")}
            UNION
            SELECT e.epoch_id FROM place AS p JOIN src.epoch AS e
                ON e.house_id = coalesce(p.house_id, e.house_id) AND e.spot = p.spot
               AND instr('+' || p.band || '+', '+' || e.band || '+')
             WHERE e.valid_from = (SELECT max(f.valid_from) FROM src.epoch AS f WHERE f.house_id = e.house_id
                                      AND f.spot = e.spot AND f.band = e.band AND substr(f.valid_from, 1, length(p.date)) <= p.date)
            UNION
            SELECT e.epoch_id FROM src.epoch AS e JOIN src.spot_reading AS x USING (house_id, spot, band, valid_from)
             WHERE {entered_clean("spot_reading")}"""
    )
    leave_out(
        db,
        "spot_reading",
        """NOT EXISTS (
            SELECT 1 FROM src.epoch AS e JOIN temp.kept_epoch USING (epoch_id)
             WHERE (e.house_id, e.spot, e.band, e.valid_from) = (x.house_id, x.spot, x.band, x.valid_from))
        AND NOT (x.reading_dbm IS NULL AND EXISTS (
            SELECT 1 FROM temp.kept_place AS p
             WHERE (p.house_id, p.spot) = (x.house_id, x.spot) AND instr('+' || p.band || '+', '+' || x.band || '+')))""",
        why="unused",
    )
    db.execute(
        "INSERT OR IGNORE INTO temp.used "
        "SELECT DISTINCT 'house', e.house_id, '' FROM src.epoch AS e JOIN temp.kept_epoch USING (epoch_id)"
    )


def _leave_out_images(db: Database) -> None:
    """A picture of no device is used where a visible article names its file, or a visible part its photo."""
    leave_out(
        db,
        "image",
        f"""x.device_id IS NULL AND NOT {entered_clean("image")}
            AND NOT EXISTS (SELECT 1 FROM src.article AS a WHERE a.batch_id = x.batch_id
                               AND instr(a.text, x.path) AND {kept("article", "a")})
            AND NOT EXISTS (SELECT 1 FROM src.part AS p WHERE p.batch_id = x.batch_id
                               AND p.photo = x.path AND {kept("part", "p")})""",
        why="unused",
    )
