"""Withdrawals: what they are about, and the results that lose their place by them.

    subject      the thing or the rows a withdrawal is about: act (its rowid) -> (tbl, row_id)
    withdrawn    withdrawals in force whose subject may be seen: act, what, id
    taken        what each of them takes out of view: act -> (tbl, row_id)
    left_out     grows by these rows

A withdrawn thing keeps its row, so its page stays with the note; its results go. Of withdrawn rows only the
note stays, of an article all but its text.
"""

from __future__ import annotations

from sqlite_utils import Database

from catalog.records.origins import names_row
from catalog.row_numbers import typed_place
from catalog.visibility.hiding import RESULTS, kept, leave_out, of_mute_thing

# What a withdrawal may name -> the table of the thing and its id in SQL.
_SUBJECTS = {
    "device": ("device", "x.device_id"),
    "unit": ("unit", "x.device_id || '/' || x.unit_id"),
    "firmware": ("firmware", "x.device_id || '@' || x.version"),
    "client": ("client", "x.client_id"),
    "session": ("session", "x.session_id"),
    "mix": ("station", "x.mix_id"),
    "article": ("article", "x.article_id"),
    "image": ("image", "(SELECT min(o.path) FROM src.image AS o WHERE o.sha256 = x.sha256 AND o.path = w.id)"),
}

# What it names -> table -> which rows x go with it.
_RESULTS_OF = {
    "device": {table: "x.device_id = w.id" for table in RESULTS if table not in ("image", "dispute")},
    "unit": dict.fromkeys(("run", "station", "longrun", "heat", "power"), "x.device_id || '/' || x.unit_id = w.id"),
    "firmware": dict.fromkeys(("run", "station", "longrun", "feature"), "x.device_id || '@' || x.firmware = w.id"),
    "client": dict.fromkeys(("run", "station", "longrun", "ceiling"), "x.client_id = w.id")
    | {"bridge": "w.id IN (x.old_client, x.new_client)"},
    "session": dict.fromkeys(("run", "station", "longrun", "heat"), "x.session_id = w.id"),
    "batch": {table: "x.batch_id = w.id" for table in RESULTS if table != "dispute"},
}


def hide_withdrawals(db: Database) -> None:
    """Leave out the withdrawals of what is hidden: the note would reveal it. Their own batches are stained by it."""
    _find_subjects(db)
    nothing_seen = " AND ".join(
        f"NOT EXISTS (SELECT 1 FROM src.{table} AS r WHERE r.batch_id = x.id AND {kept(table, 'r')})"
        for table in RESULTS
    )
    leave_out(
        db,
        "withdrawal",
        f"""EXISTS (SELECT 1 FROM temp.subject AS s JOIN temp.left_out USING (tbl, row_id) WHERE s.act = x.rowid)
           OR (x.what = 'batch' AND x.id IN (SELECT batch_id FROM temp.mute_batch))
           OR (x.what = 'batch' AND x.id IN (SELECT batch_id FROM temp.stained) AND {nothing_seen})
           OR (NOT EXISTS (SELECT 1 FROM temp.subject AS s WHERE s.act = x.rowid)
               AND ({of_mute_thing("x.id")} OR substr(x.id, 1, instr(x.id, '/') - 1) IN (
                   SELECT batch_id FROM temp.stained)))""",
        why="hidden",
    )


def withdraw(db: Database, *, as_of: str) -> None:
    """Leave out what is withdrawn at the instant *as_of*, and the withdrawals of what is not visible anyway."""
    unused = "EXISTS (SELECT 1 FROM temp.subject AS s JOIN temp.left_out USING (tbl, row_id) WHERE s.act = x.rowid)"
    leave_out(db, "withdrawal", f"x.from_date > :as_of OR {unused}", why="unused", as_of=as_of)
    db.execute(
        "CREATE TEMP TABLE withdrawn AS SELECT x.rowid AS act, x.what, x.id FROM src.withdrawal AS x "
        f"WHERE {kept('withdrawal', 'x')}"
    )
    db.execute(
        """CREATE TEMP TABLE taken (
               tbl TEXT, row_id INTEGER, act INTEGER, PRIMARY KEY (tbl, row_id, act)) WITHOUT ROWID"""
    )
    kinds = db.execute("SELECT DISTINCT what FROM temp.withdrawn ORDER BY what").fetchall()
    for (what,) in kinds:
        for table, condition in _RESULTS_OF.get(what, {}).items():
            db.execute(
                f"""INSERT OR IGNORE INTO temp.taken SELECT '{table}', x.rowid, w.act
                    FROM temp.withdrawn AS w JOIN src.{table} AS x ON {condition} WHERE w.what = '{what}'"""
            )
    for table in RESULTS:
        db.execute(
            f"""INSERT OR IGNORE INTO temp.taken SELECT tbl, row_id, act
                FROM temp.subject JOIN temp.withdrawn USING (act) WHERE tbl = '{table}'"""
        )
    db.execute(
        """INSERT OR IGNORE INTO temp.taken SELECT 'ceiling', x.rowid, t.act
           FROM temp.taken AS t JOIN src.ceiling AS x ON x.run_id = t.row_id WHERE t.tbl = 'run'"""
    )
    db.execute("INSERT OR IGNORE INTO temp.left_out SELECT DISTINCT tbl, row_id, 'withdrawn' FROM temp.taken")


def _find_subjects(db: Database) -> None:
    """A thing by its id; a row by "batch/table/row number", as the evidence of a ceiling is named.

    A name without a suffix that two files of a batch have, which is refused at entry by now, means rows of both: what
    a withdrawal once took out of view never comes back.
    """
    db.conn.create_function("names_row", 4, names_row, deterministic=True)
    db.execute(
        """CREATE TEMP TABLE subject (
               act INTEGER, tbl TEXT, row_id INTEGER, PRIMARY KEY (act, tbl, row_id)) WITHOUT ROWID"""
    )
    for what, (table, thing_id) in _SUBJECTS.items():
        db.execute(
            f"""INSERT OR IGNORE INTO temp.subject SELECT w.rowid, '{table}', x.rowid
                FROM src.withdrawal AS w JOIN src.{table} AS x ON {thing_id} = w.id WHERE w.what = '{what}'"""
        )
    for act, table, place in db.execute("SELECT rowid, what, id FROM src.withdrawal").fetchall():
        batch, _, rest = place.partition("/")
        name, _, number = rest.rpartition("/")
        row = typed_place(number)
        if table not in RESULTS or row is None:
            continue
        db.execute(
            f"""INSERT OR IGNORE INTO temp.subject
                SELECT :act, '{table}', x.rowid FROM src.{table} AS x
                 WHERE x.batch_id = :batch AND x.source_row % 10000000 = :number
                   AND names_row(:name, :row, x.source_file, x.source_row)
                UNION SELECT :act, tbl, row_id FROM temp.again
                 WHERE tbl = '{table}' AND batch_id = :batch AND source_row % 10000000 = :number
                   AND names_row(:name, :row, source_file, source_row)""",
            {"act": act, "batch": batch, "name": name, "row": row, "number": int(row.partition(".")[0])},
        )
