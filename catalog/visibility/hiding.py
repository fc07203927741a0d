"""Which rows may not be seen at an instant, and which batches are stained by them.

All of it is SQL on the attached catalogue `src`, into temporary tables:

    active            embargoes still running
    hidden_device, hidden_unit, hidden_firmware   their existence is hidden
    mute_device, mute_unit, mute_firmware, mute_batch   their results are hidden (or they themselves)
    again             other places a row came from: (tbl, row_id) -> batch_id, source_file, source_row, said
    left_out          rows that stay out: (tbl, row_id) with the reason why: hidden, unused or withdrawn

origins.py follows with the batches that hold such a row.
"""

from __future__ import annotations

import re

from sqlite_utils import Database

from catalog import schema
from catalog.figure_names import parts_of

# Rows that an embargo on a batch's results hides: what testing brought.
RESULTS = ("run", "station", "longrun", "feature", "heat", "power", "part", "price", "bridge", "image", "dispute")
# Rows that wait besides while the existence of their batch is hidden. Things are hidden by what they are (device, unit,
# firmware), or because nothing visible uses them (keeping.py).
_WAITING = ("article", "withdrawal", "embargo")

_SETS = (
    """CREATE TEMP TABLE active AS SELECT * FROM src.embargo WHERE until_utc > :as_of""",
    """CREATE TEMP TABLE mute_batch AS SELECT DISTINCT batch_id FROM temp.active WHERE subject = 'batch'""",
    """CREATE TEMP TABLE hidden_batch AS
       SELECT DISTINCT batch_id FROM temp.active WHERE subject = 'batch' AND covers = 'existence'""",
    """CREATE TEMP TABLE hidden_device AS
       SELECT device_id FROM temp.active WHERE subject = 'device' AND covers = 'existence'
       UNION SELECT device_id FROM src.device AS x WHERE {device_by_batch}""",
    """CREATE TEMP TABLE hidden_unit AS
       SELECT device_id, unit_id FROM temp.active WHERE subject = 'unit' AND covers = 'existence'
       UNION SELECT device_id, unit_id FROM src.unit AS x
             WHERE device_id IN (SELECT device_id FROM temp.hidden_device) OR {unit_by_batch}""",
    """CREATE TEMP TABLE hidden_firmware AS
       SELECT device_id, version FROM temp.active WHERE subject = 'firmware' AND covers = 'existence'
       UNION SELECT device_id, version FROM src.firmware AS x
             WHERE device_id IN (SELECT device_id FROM temp.hidden_device) OR {firmware_by_batch}""",
    """CREATE TEMP TABLE mute_device AS
       SELECT device_id FROM temp.hidden_device
       UNION SELECT device_id FROM temp.active WHERE subject = 'device'""",
    """CREATE TEMP TABLE mute_unit AS
       SELECT device_id, unit_id FROM temp.hidden_unit
       UNION SELECT device_id, unit_id FROM temp.active WHERE subject = 'unit'""",
    """CREATE TEMP TABLE mute_firmware AS
       SELECT device_id, version FROM temp.hidden_firmware
       UNION SELECT device_id, version FROM temp.active WHERE subject = 'firmware'""",
)

_DEVICE_HIDDEN = "x.device_id IN (SELECT device_id FROM temp.hidden_device)"
_DEVICE_MUTE = "x.device_id IN (SELECT device_id FROM temp.mute_device)"
_UNIT_MUTE = "(x.device_id, x.unit_id) IN (SELECT device_id, unit_id FROM temp.mute_unit)"
_FIRMWARE_MUTE = "(x.device_id, x.firmware) IN (SELECT device_id, version FROM temp.mute_firmware)"


def of_mute_thing(figure: str) -> str:
    """SQL: *figure*, an expression for the id of a figure or a thing, names something whose results are hidden."""
    return f"""EXISTS (
        SELECT 1 FROM temp.mute_device AS m WHERE mentions({figure}, m.device_id)) OR EXISTS (
        SELECT 1 FROM temp.mute_firmware AS m
        WHERE mentions({figure}, m.device_id) AND tells({figure}, m.version)) OR EXISTS (
        SELECT 1 FROM temp.mute_unit AS m WHERE mentions({figure}, m.device_id) AND tells({figure}, m.unit_id))"""


# table -> when a row x of it may not be seen; what embargoes on batches hide is added to it.
_HIDDEN = {
    "device": _DEVICE_HIDDEN,
    "device_alias": _DEVICE_HIDDEN,
    "device_radio": _DEVICE_HIDDEN,
    "device_port": _DEVICE_HIDDEN,
    "unit": "(x.device_id, x.unit_id) IN (SELECT device_id, unit_id FROM temp.hidden_unit)",
    "firmware": "(x.device_id, x.version) IN (SELECT device_id, version FROM temp.hidden_firmware)",
    "embargo": f"""x.until_utc > :as_of OR {_DEVICE_HIDDEN}
        OR (x.device_id, x.unit_id) IN (SELECT device_id, unit_id FROM temp.hidden_unit)
        OR (x.device_id, x.version) IN (SELECT device_id, version FROM temp.hidden_firmware)""",
    "run": f"{_DEVICE_MUTE} OR {_UNIT_MUTE} OR {_FIRMWARE_MUTE}",
    "station": f"{_DEVICE_MUTE} OR {_UNIT_MUTE} OR {_FIRMWARE_MUTE}",
    "longrun": f"{_DEVICE_MUTE} OR {_UNIT_MUTE} OR {_FIRMWARE_MUTE}",
    "feature": f"{_DEVICE_MUTE} OR {_FIRMWARE_MUTE}",
    "heat": f"{_DEVICE_MUTE} OR {_UNIT_MUTE}",
    "power": f"{_DEVICE_MUTE} OR {_UNIT_MUTE}",
    "part": _DEVICE_MUTE,
    "bridge": _DEVICE_MUTE,
    "price": _DEVICE_HIDDEN,
    "image": _DEVICE_MUTE,
    "article": """x.published_utc > :as_of OR EXISTS (
        SELECT 1 FROM src.article_device AS d JOIN temp.hidden_device USING (device_id)
         WHERE d.article_id = x.article_id)""",
    "withdrawal": "0",  # those of what is hidden: withdrawing.py
    "dispute": f"{_DEVICE_MUTE} OR {of_mute_thing('x.figure')}",
    "ceiling": "EXISTS (SELECT 1 FROM temp.left_out AS l WHERE l.tbl = 'run' AND l.row_id = x.run_id)",
}


def origin_tables(db: Database) -> list[str]:
    """Tables whose rows know batch, file and row; `correction` and the notes only point to such rows."""
    having = db.execute(
        """SELECT t.name FROM main.sqlite_schema AS t JOIN pragma_table_info(t.name) AS c
            WHERE t.type = 'table' AND c.name = 'source_row'"""
    ).fetchall()
    names = {name for (name,) in having} - {"correction", "extra", "row_again"}
    return [table for table in schema.TABLES if table in names]


def find_hidden(db: Database, *, as_of: str) -> None:
    """Fill the temporary tables of this module for the instant *as_of* (UTC text)."""
    db.conn.create_function("mentions", 2, mentions, deterministic=True)
    db.conn.create_function("tells", 2, tells, deterministic=True)
    tables = origin_tables(db)
    db.execute(
        """CREATE TEMP TABLE again (
               tbl TEXT, row_id INTEGER, batch_id TEXT, source_file TEXT, source_row INTEGER, said TEXT,
               PRIMARY KEY (tbl, row_id, batch_id, source_file, source_row)) WITHOUT ROWID"""
    )
    if db.execute("SELECT 1 FROM src.row_again LIMIT 1").fetchone():
        for table in tables:
            db.execute(
                f"""INSERT INTO temp.again
                    SELECT a.table_name, x.rowid, a.batch_id, a.source_file, a.source_row, a.said
                    FROM src.row_again AS a JOIN src.{table} AS x
                      ON x.batch_id = a.first_batch AND x.source_file = a.first_file
                     AND x.source_row = a.first_row
                    WHERE a.table_name = :tbl""",
                {"tbl": table},
            )
    for statement in _SETS:
        filled = statement.format(
            device_by_batch=only_in("device", "hidden_batch"),
            unit_by_batch=only_in("unit", "hidden_batch"),
            firmware_by_batch=only_in("firmware", "hidden_batch"),
        )
        db.execute(filled, {"as_of": as_of} if ":as_of" in filled else {})
    db.execute(
        "CREATE TEMP TABLE left_out (tbl TEXT, row_id INTEGER, why TEXT, PRIMARY KEY (tbl, row_id)) WITHOUT ROWID"
    )
    for table, condition in _HIDDEN.items():
        if table in RESULTS:
            condition = f"{condition} OR {only_in(table, 'mute_batch')}"
        if table in _WAITING:
            condition = f"{condition} OR {only_in(table, 'hidden_batch')}"
        leave_out(db, table, condition, why="hidden", as_of=as_of)


def leave_out(db: Database, table: str, condition: str, *, why: str, as_of: str = "") -> None:
    """Mark the rows x of *table* that meet *condition*, unless another reason has them already."""
    db.execute(
        f"INSERT OR IGNORE INTO temp.left_out SELECT '{table}', x.rowid, :why FROM src.{table} AS x WHERE {condition}",
        {"why": why} | ({"as_of": as_of} if ":as_of" in condition else {}),
    )


def kept(table: str, alias: str) -> str:
    """SQL: the row *alias* of *table* was not left out."""
    return f"NOT EXISTS (SELECT 1 FROM temp.left_out AS l WHERE l.tbl = '{table}' AND l.row_id = {alias}.rowid)"


def only_in(table: str, batches: str) -> str:
    """SQL: the row x came from no batch but those in the temporary table *batches*."""
    return f"""(x.batch_id IN (SELECT batch_id FROM temp.{batches}) AND NOT EXISTS (
        SELECT 1 FROM temp.again AS g WHERE g.tbl = '{table}' AND g.row_id = x.rowid
           AND g.batch_id NOT IN (SELECT batch_id FROM temp.{batches})))"""


def tells(figure: str | None, name: str | None) -> bool:
    """Whether *name* is one of the parts of a figure's id: a version or a unit, escaped as ids are."""
    if not figure or not name:
        return False
    return name.lower() in (part.lower() for part in parts_of(figure))


def mentions(text: str | None, name: str | None) -> bool:
    """Whether *text* holds the id *name*: "sill" is in "pair~sill~dome" and "dome--sill", not in "sill-2"."""
    if not text or not name:
        return False
    return re.search(rf"(?:^|--|[^a-z0-9-]){re.escape(name)}(?:$|--|[^a-z0-9-])", text, re.IGNORECASE) is not None
