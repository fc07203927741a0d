"""The origins shown for visible rows, chosen so that none reveals what is hidden.

stained       batches with something hidden in them
moved         rows that clean batches brought too, with the first of those by id as their origin
kept_batch    batches that go in, with the id and title to show
tainted       files of stained batches with something left out of them: no hash, no row numbers, no notes
corrected     the rows that a correction is about, or that stand where its row does
left_out      grows by corrections of what is not there
"""

from __future__ import annotations

from sqlite_utils import Database

from catalog.visibility.hiding import leave_out, origin_tables


def find_stained(db: Database) -> None:
    """Batches from which a hidden row came, first or again, and those whose existence is hidden, whatever they hold."""
    db.execute("CREATE TEMP TABLE IF NOT EXISTS stained (batch_id TEXT PRIMARY KEY) WITHOUT ROWID")
    db.execute("INSERT OR IGNORE INTO temp.stained SELECT batch_id FROM temp.hidden_batch")
    for table in origin_tables(db):
        db.execute(
            f"""INSERT OR IGNORE INTO temp.stained
                SELECT x.batch_id FROM temp.left_out AS l JOIN src.{table} AS x ON x.rowid = l.row_id
                WHERE l.tbl = '{table}'"""
        )
    db.execute(
        """INSERT OR IGNORE INTO temp.stained
           SELECT g.batch_id FROM temp.left_out AS l JOIN temp.again AS g USING (tbl, row_id)"""
    )


def find_origins(db: Database) -> None:
    """Fill moved, kept_batch and tainted, and leave out the corrections of rows that are left out."""
    tables = origin_tables(db)
    _find_corrected(db, tables)
    _move(db, tables)
    _find_batches(db, tables)
    _find_tainted(db, tables)
    _leave_out_corrections(db)


def _find_corrected(db: Database, tables: list[str]) -> None:
    """corrected: the row each correction is about, (row_id of the correction) -> (tbl, corrected)."""
    db.execute(
        """CREATE TEMP TABLE corrected (
               row_id INTEGER, tbl TEXT, corrected INTEGER, PRIMARY KEY (row_id, tbl, corrected)) WITHOUT ROWID"""
    )
    for table in tables:
        db.execute(
            f"""INSERT INTO temp.corrected SELECT c.rowid, '{table}', x.rowid
                FROM src.correction AS c JOIN src.{table} AS x
                  ON x.batch_id = c.batch_id AND x.source_file = c.source_file AND x.source_row IS c.source_row"""
        )


def _move(db: Database, tables: list[str]) -> None:
    """A row of a stained batch comes from the first clean one that brought it too, in the words of that one.

    A corrected row keeps its values: the words of a batch are older than they.
    """
    db.execute(
        """CREATE TEMP TABLE moved (
               tbl TEXT, row_id INTEGER, batch_id TEXT, source_file TEXT, source_row INTEGER, said TEXT,
               PRIMARY KEY (tbl, row_id)) WITHOUT ROWID"""
    )
    for table in tables:
        db.execute(
            f"""INSERT INTO temp.moved
                WITH numbered AS (
                    SELECT g.*, row_number() OVER (
                        PARTITION BY g.row_id ORDER BY b.sequence, g.source_file, g.source_row) AS number
                    FROM temp.again AS g JOIN src.batch AS b USING (batch_id)
                    JOIN src.{table} AS x ON x.rowid = g.row_id
                    WHERE g.tbl = '{table}' AND x.batch_id IN (SELECT batch_id FROM temp.stained)
                      AND g.batch_id NOT IN (SELECT batch_id FROM temp.stained))
                SELECT tbl, row_id, batch_id, source_file, source_row,
                       CASE WHEN row_id NOT IN (SELECT corrected FROM temp.corrected WHERE tbl = '{table}')
                            THEN said END
                FROM numbered WHERE number = 1"""
        )


def _leave_out_corrections(db: Database) -> None:
    """A correction is seen where its row is, said to come from the same place; one of an embargo never is.

    Of a batch whose existence is hidden none is seen, not even of a client setup that visible rows use.
    """
    db.execute(
        """INSERT OR IGNORE INTO temp.moved
           SELECT 'correction', c.row_id, m.batch_id, m.source_file, m.source_row, NULL
           FROM temp.corrected AS c JOIN temp.moved AS m ON m.tbl = c.tbl AND m.row_id = c.corrected"""
    )
    leave_out(
        db,
        "correction",
        """x.table_name LIKE '%embargo' OR x.device_id IN (SELECT device_id FROM temp.hidden_device)
           OR EXISTS (SELECT 1 FROM temp.corrected AS c JOIN temp.left_out AS l
                          ON l.tbl = c.tbl AND l.row_id = c.corrected WHERE c.row_id = x.rowid)
           OR (x.batch_id IN (SELECT batch_id FROM temp.stained)
               AND NOT EXISTS (SELECT 1 FROM temp.corrected AS c WHERE c.row_id = x.rowid))
           OR (x.batch_id IN (SELECT batch_id FROM temp.hidden_batch)
               AND NOT EXISTS (SELECT 1 FROM temp.moved AS m WHERE m.tbl = 'correction' AND m.row_id = x.rowid))""",
        why="hidden",
    )


def _find_batches(db: Database, tables: list[str]) -> None:
    db.execute(
        """CREATE TEMP TABLE kept_batch (
               batch_id TEXT PRIMARY KEY, shown_id TEXT NOT NULL UNIQUE, shown_title TEXT NOT NULL) WITHOUT ROWID"""
    )
    needed: set[str] = set()
    for table in tables:
        needed |= {
            batch
            for (batch,) in db.execute(
                f"""SELECT DISTINCT x.batch_id FROM src.{table} AS x
                    WHERE x.batch_id IN (SELECT batch_id FROM temp.stained) AND {_named_in_copy(table)}
                      AND NOT EXISTS (SELECT 1 FROM temp.moved AS m WHERE m.tbl = '{table}' AND m.row_id = x.rowid)"""
            )
        }
    nameless = needed & _batches_naming_hidden(db, tables)
    for batch, title in db.execute("SELECT batch_id, title FROM src.batch ORDER BY batch_id").fetchall():
        if (
            batch in needed - nameless
            or not db.execute("SELECT 1 FROM temp.stained WHERE batch_id = ?", [batch]).fetchone()
        ):
            db.execute("INSERT INTO temp.kept_batch VALUES (?, ?, ?)", [batch, batch, title])
    for batch in sorted(nameless):
        db.execute("INSERT INTO temp.kept_batch VALUES (?, ?, ?)", [batch, *_plain_name(db, batch)])


def _named_in_copy(table: str) -> str:
    """SQL: the row x is in the copy, or was withdrawn and the copy says so: its batch is named either way."""
    return f"""NOT EXISTS (SELECT 1 FROM temp.left_out AS l
        WHERE l.tbl = '{table}' AND l.row_id = x.rowid AND l.why <> 'withdrawn')"""


def _batches_naming_hidden(db: Database, tables: list[str]) -> set[str]:
    """Batches whose existence is hidden, or that have rows or articles of something else whose existence is.

    Their id and title may well be its name.
    """
    batches = {
        row[0]
        for row in db.execute(
            """SELECT batch_id FROM temp.hidden_batch
               UNION SELECT a.batch_id FROM src.article AS a JOIN src.article_device USING (article_id)
               JOIN temp.hidden_device USING (device_id)"""
        )
    }
    for table in tables:
        columns = db.table(table).columns_dict
        if "device_id" not in columns:
            continue
        hidden = ["x.device_id IN (SELECT device_id FROM temp.hidden_device)"]
        if "unit_id" in columns:
            hidden.append("(x.device_id, x.unit_id) IN (SELECT device_id, unit_id FROM temp.hidden_unit)")
        if version := {"version", "firmware"} & columns.keys():
            hidden.append(f"(x.device_id, x.{version.pop()}) IN (SELECT device_id, version FROM temp.hidden_firmware)")
        rows = f"src.{table} AS x WHERE {' OR '.join(hidden)}"
        batches |= {row[0] for row in db.execute(f"SELECT DISTINCT x.batch_id FROM {rows}")}
        batches |= {
            row[0]
            for row in db.execute(
                f"SELECT batch_id FROM temp.again WHERE tbl = '{table}' AND row_id IN (SELECT x.rowid FROM {rows})"
            )
        }
    return batches


def _plain_name(db: Database, batch: str) -> tuple[str, str]:
    """An id and a title made of nothing but the first day of the batch's visible work."""
    days = " UNION ".join(
        f"SELECT s.date FROM src.{table} AS x JOIN src.session AS s USING (session_id) "
        f"WHERE x.batch_id = :batch AND {_named_in_copy(table)}"
        for table in ("run", "station", "longrun", "heat")
    )
    day = db.execute(f"SELECT min(date) FROM ({days})", {"batch": batch}).fetchone()[0]
    wanted = f"tests-{day}" if day else "tests"
    number, shown = 1, wanted
    while db.execute("SELECT 1 FROM temp.kept_batch WHERE shown_id = ?", [shown]).fetchone():
        number += 1
        shown = f"{wanted}-{number}"
    return shown, f"Tests of {day}" if day else "Tests"


def part_of_a_file(row: str) -> str:
    """SQL: a row stands in a sheet of a workbook, or in a file that goes by another name."""
    return f"""EXISTS (SELECT 1 FROM src.raw_file AS f WHERE f.batch_id = {row}.batch_id
        AND substr({row}.source_file, 1, length(f.path) + 1) = f.path || '/')"""


def _find_tainted(db: Database, tables: list[str]) -> None:
    db.execute(
        """CREATE TEMP TABLE tainted (
               batch_id TEXT, source_file TEXT, PRIMARY KEY (batch_id, source_file)) WITHOUT ROWID"""
    )
    for table in tables:
        db.execute(
            f"""INSERT OR IGNORE INTO temp.tainted
                SELECT x.batch_id, x.source_file FROM temp.left_out AS l JOIN src.{table} AS x ON x.rowid = l.row_id
                WHERE l.tbl = '{table}' AND l.why <> 'withdrawn'
                  AND x.batch_id IN (SELECT batch_id FROM temp.stained)"""
        )
    db.execute(
        """INSERT OR IGNORE INTO temp.tainted
           SELECT g.batch_id, g.source_file FROM temp.left_out AS l JOIN temp.again AS g USING (tbl, row_id)
           WHERE l.why <> 'withdrawn' AND g.batch_id IN (SELECT batch_id FROM temp.stained)"""
    )
    for table in tables:
        db.execute(
            f"""INSERT OR IGNORE INTO temp.tainted SELECT DISTINCT x.batch_id, x.source_file FROM src.{table} AS x
                WHERE x.batch_id IN (SELECT batch_id FROM temp.hidden_batch)"""
        )
    # So are all sheets of a workbook: it is one file, which is not shown in part.
    for table in tables:
        db.execute(
            f"""INSERT OR IGNORE INTO temp.tainted SELECT DISTINCT x.batch_id, x.source_file FROM src.{table} AS x
                WHERE x.batch_id IN (SELECT batch_id FROM temp.stained) AND {part_of_a_file("x")}"""
        )
    # Registers and remembered answers name things that are not there.
    for file in ("batch.toml", "answers.toml"):
        db.execute("INSERT OR IGNORE INTO temp.tainted SELECT batch_id, ? FROM temp.stained", [file])
