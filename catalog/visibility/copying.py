"""The copy itself: one INSERT ... SELECT a table, ordered by what its rows say, never by when they were entered."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from sqlite_utils import Database

from catalog import schema
from catalog.method import versions_of
from catalog.visibility.asked import LEFT_AT_HOME, RESULTS, Asked, ask_more, find_asked
from catalog.visibility.hiding import kept, origin_tables
from catalog.visibility.marking import lay_marks
from catalog.visibility.origins import part_of_a_file

# Tables whose numbers others refer to -> number column and what tells their rows apart.
_NUMBERED = {
    "epoch": ("epoch_id", "house_id, spot, band, valid_from"),
    "run": (
        "run_id",
        "device_id, unit_id, firmware, client_id, driver, band, width_mhz, direction, protocol, flows, security, "
        "method, session_id, spot, spot_since, attenuation_db, round(level_dbm), settings_id, repeat",
    ),
    "station": ("station_id", "mix_id, client_id, role_id"),
    "longrun": (
        "longrun_id",
        "device_id, unit_id, firmware, client_id, session_id, kind, band, width_mhz, direction, at_utc",
    ),
}
# Tables with a number that nothing refers to: SQLite counts them in the order of the SELECT.
_COUNTED = {
    "embargo": "embargo_id",
    "heat": "heat_id",
    "power": "power_id",
    "part": "part_id",
    "price": "price_id",
    "dispute": "dispute_id",
    "correction": "correction_id",
    "image": "image_id",
}
# Of one value corrected twice, the order is part of what is shown.
_ORDER = {
    "correction": "x.date, x.table_name, coalesce(m.batch_id, k.shown_id), coalesce(m.source_file, x.source_file), "
    "coalesce(m.source_row, x.source_row), x.column_name, x.correction_id"
}

_BY_NUMBER = "(SELECT n.new FROM temp.new_{table} AS n WHERE n.old = {old})"
_OF_OWNER = " ".join(f"WHEN '{table}' THEN {_BY_NUMBER.format(table=table, old='x.owner_id')}" for table in RESULTS)
_OF_OWNER = f"CASE x.owner {_OF_OWNER} END"
_INSTEAD = {
    ("run", "epoch_id"): _BY_NUMBER.format(table="epoch", old="x.epoch_id"),
    ("ceiling", "run_id"): _BY_NUMBER.format(table="run", old="x.run_id"),
    ("correction", "run_id"): _BY_NUMBER.format(table="run", old="x.run_id"),
    ("correction", "row_key"): "(SELECT s.row_key FROM temp.shown_correction AS s WHERE s.row_id = x.rowid)",
    ("withdrawal", "id"): "(SELECT s.id FROM temp.shown_withdrawal AS s WHERE s.row_id = x.rowid)",
    ("settings", "number"): "row_number() OVER (ORDER BY x.number)",
    ("correction", "file_number"): "NULL",
    ("correction", "file_row"): "NULL",
    ("digest", "owner_id"): _OF_OWNER,
    ("thinned", "owner_id"): _OF_OWNER,
    ("house", "reference_device"): """CASE WHEN x.reference_device NOT IN (
        SELECT device_id FROM temp.hidden_device) THEN x.reference_device END""",
    ("site", "batch_id"): "NULL",
    ("role", "marks_batch_id"): "NULL",
    ("article", "text"): """CASE WHEN EXISTS (SELECT 1 FROM temp.withdrawn AS w
        WHERE w.what = 'article' AND w.id = x.article_id) THEN '' ELSE x.text END""",
}

# Tables without an origin: which rows x of them follow the rows they belong to.
_FOLLOWS = {
    "epoch": "x.epoch_id IN (SELECT epoch_id FROM temp.kept_epoch)",
    "workload_role": "(x.workload_id, x.version) IN (SELECT workload_id, version FROM main.workload)",
    "workload_seat": "(x.workload_id, x.version) IN (SELECT workload_id, version FROM main.workload)",
    "digest": f"{_OF_OWNER} IS NOT NULL",
    "thinned": f"{_OF_OWNER} IS NOT NULL",
    "article_device": """x.article_id IN (SELECT article_id FROM main.article)
                         AND x.device_id IN (SELECT device_id FROM main.device)""",
    "site": "1",
}
# Raw samples and the order of corrections are not copied; repeated rows and declarations have been settled by then.
_AT_HOME = (
    "series",
    "correction_file",
    "correction_attachment",
    "declaration",
    "role_declaration",
    "row_again",
    "hidden",
)
# Results, and what says numbers of theirs.
_OF_RESULTS = (*RESULTS, "ceiling", "correction", "digest")
_INDEXES_OF_RUNS = ("run_key", "run_batch")
_OWN_WAY = ("batch", "raw_content", "raw_file", "source", "method", "extra")


Blocks = Callable[[Sequence[str]], Mapping[str, int]]
"""Given all devices in the order of their ids: the number behind which the runs of each are counted, in that order."""


def copy_rows(db: Database, *, asked: Asked | None = None, blocks: Blocks | None = None) -> None:
    """Fill the empty tables of `main` from `src` by the temporary tables of this package; whole where nothing is *asked*."""
    at_home = _AT_HOME if asked is None else (*_AT_HOME, *LEFT_AT_HOME)
    if asked is not None:
        find_asked(db, asked)
        for index in _INDEXES_OF_RUNS:  # a quarter of the time of copying runs, and no question looks by them
            db.execute(f"DROP INDEX main.{index}")
    for table in _NUMBERED:
        db.execute(f"CREATE TEMP TABLE new_{table} (new INTEGER PRIMARY KEY, old INTEGER NOT NULL UNIQUE)")
        _number_rows(db, table, blocks, only_asked=asked is not None)
    tables = origin_tables(db)
    _copy_batches(db)
    _copy_files(db, tables)
    _copy_methods(db)
    for table in schema.TABLES:
        if table not in (*at_home, *_OWN_WAY):
            _copy_table(db, table, with_origin=table in tables or table == "correction")
    if "extra" not in at_home:
        _copy_extras(db, tables)
    _copy_sources(db, tables)
    lay_marks(db)


def widen(db: Database, asked: Asked) -> None:
    """Put what else is *asked* into the part in `main`, as if all had been asked at once: its results are counted anew."""
    ask_more(db, asked)
    tables = origin_tables(db)
    for table in ("source", *reversed(_OF_RESULTS)):
        db.execute(f"DELETE FROM main.{table}")
    for table in RESULTS:
        db.execute(f"DELETE FROM temp.new_{table}")
        _number_rows(db, table, only_asked=True)
    for table in _OF_RESULTS:
        _copy_table(db, table, with_origin=table in tables or table == "correction")
    _copy_sources(db, tables)
    lay_marks(db)


def _number_rows(db: Database, table: str, blocks: Blocks | None = None, *, only_asked: bool) -> None:
    """Old and new numbers of what goes in, into a temporary table that counts as SQLite does: in the order of the SELECT."""
    column, key = _NUMBERED[table]
    rows = f"FROM src.{table} AS x WHERE {_FOLLOWS.get(table) or kept(table, 'x')}"
    if only_asked and table in RESULTS:
        rows = f"""FROM temp.asked AS a CROSS JOIN src.{table} AS x ON x.{column} = a.row_id
                   WHERE a.tbl = '{table}' AND {kept(table, "x")}"""
    if table == "run" and blocks is not None:
        _lay_blocks(db, blocks)
        number = f"""row_number() OVER (PARTITION BY x.device_id ORDER BY {key})
                     + (SELECT behind FROM temp.block AS b WHERE b.device_id = x.device_id)"""
        db.execute(f"INSERT INTO temp.new_run (new, old) SELECT {number}, x.{column} {rows}")
    else:
        db.execute(f"INSERT INTO temp.new_{table} (old) SELECT x.{column} {rows} ORDER BY {key}")


def _lay_blocks(db: Database, blocks: Blocks) -> None:
    devices = [device for (device,) in db.execute("SELECT device_id FROM src.device ORDER BY device_id").fetchall()]
    db.execute("CREATE TEMP TABLE block (device_id TEXT PRIMARY KEY, behind INTEGER) WITHOUT ROWID")
    db.conn.executemany("INSERT INTO temp.block VALUES (?, ?)", blocks(devices).items())


def _copy_table(db: Database, table: str, *, with_origin: bool) -> None:
    columns = [name for name in db.table(table).columns_dict if name != _COUNTED.get(table)]
    values = {name: f"x.{name}" for name in columns}
    if db.execute("SELECT 1 FROM temp.moved WHERE tbl = ? AND said IS NOT NULL LIMIT 1", [table]).fetchone():
        values |= _as_stated(db, table)
    values |= {name: instead for (of, name), instead in _INSTEAD.items() if of == table}
    source, condition = f"src.{table} AS x", _FOLLOWS.get(table) or kept(table, "x")
    order = ", ".join(str(place) for place in range(1, len(columns) + 1))
    if table in _NUMBERED:  # in the order of the new numbers, so that nothing is sorted
        number, _ = _NUMBERED[table]
        source = f"temp.new_{table} AS own CROSS JOIN src.{table} AS x ON x.{number} = own.old"
        values[number], condition, order = "own.new", "1", "own.new"
    elif table in _ORDER:
        order = _ORDER[table]
    if with_origin:
        source += f"""
            LEFT JOIN temp.moved AS m ON m.tbl = '{table}' AND m.row_id = x.rowid
            LEFT JOIN temp.kept_batch AS k ON k.batch_id = x.batch_id
            LEFT JOIN temp.tainted AS t ON t.batch_id = x.batch_id AND t.source_file = x.source_file"""
        values["batch_id"] = "coalesce(m.batch_id, k.shown_id)"
        # Of a file that is shown in part not even the name: of a workbook it may be that of a hidden device.
        values["source_file"] = f"""coalesce(m.source_file, CASE WHEN t.batch_id IS NOT NULL AND {part_of_a_file("x")}
            THEN source_name(x.source_file) ELSE x.source_file END)"""
        values["source_row"] = """CASE WHEN m.batch_id IS NOT NULL THEN m.source_row
                                       WHEN t.batch_id IS NULL THEN x.source_row END"""
    db.execute(
        f"INSERT INTO main.{table} ({', '.join(columns)}) "
        f"SELECT {', '.join(values[name] for name in columns)} FROM {source} WHERE {condition} ORDER BY {order}"
    )


def _as_stated(db: Database, table: str) -> dict[str, str]:
    """Values of a row x as stated by the batch that is shown as its origin (m); its keys are the same."""
    values = {}
    for _, name, _, required, _, in_key in db.table(table).columns:
        stated = f"json_extract(m.said, '$.{name}')"
        if required and not in_key:
            values[name] = f"coalesce({stated}, x.{name})"
        elif not in_key:
            values[name] = f"CASE WHEN m.said IS NULL THEN x.{name} ELSE {stated} END"
    return values


def _copy_batches(db: Database) -> None:
    db.execute(
        """INSERT INTO main.batch (batch_id, sequence, title, timezone, licence)
           SELECT k.shown_id, row_number() OVER (ORDER BY k.shown_id), k.shown_title, b.timezone, b.licence
           FROM temp.kept_batch AS k JOIN src.batch AS b USING (batch_id) ORDER BY k.shown_id"""
    )


def _copy_files(db: Database, tables: list[str]) -> None:
    """Hash and size, never the bytes. Of a stained batch only files that visible rows, and no others, come from."""
    db.execute("CREATE TEMP TABLE shown_file (batch_id TEXT, path TEXT, PRIMARY KEY (batch_id, path)) WITHOUT ROWID")
    db.execute(
        """INSERT INTO temp.shown_file SELECT batch_id, path FROM src.raw_file
            WHERE batch_id NOT IN (SELECT batch_id FROM temp.stained)"""
    )
    stained = "x.batch_id IN (SELECT batch_id FROM temp.stained)"
    pointers = [(table, "x.source_file") for table in tables]
    pointers += [(table, name) for table in ("run", "station", "longrun") for name in _LOG_FILES]
    pointers += [("image", "x.path"), ("article", "x.path")]
    for table, path in pointers:
        db.execute(
            f"""INSERT OR IGNORE INTO temp.shown_file
                SELECT DISTINCT x.batch_id, {path} FROM src.{table} AS x
                WHERE {stained} AND {path} IS NOT NULL AND {kept(table, "x")}"""
        )
    db.execute(
        """DELETE FROM temp.shown_file WHERE (batch_id, path) IN (SELECT batch_id, source_file FROM temp.tainted)
              OR batch_id NOT IN (SELECT batch_id FROM temp.kept_batch)"""
    )
    for table, path in pointers[len(tables) :]:
        db.execute(
            f"""DELETE FROM temp.shown_file WHERE (batch_id, path) IN (
                    SELECT x.batch_id, {path} FROM src.{table} AS x WHERE {stained} AND NOT {kept(table, "x")})"""
        )
    files = "src.raw_file AS f JOIN temp.shown_file AS s USING (batch_id, path)"
    db.execute(
        f"""INSERT INTO main.raw_content (sha256, size_bytes)
            SELECT sha256, size_bytes FROM src.raw_content
            WHERE sha256 IN (SELECT f.sha256 FROM {files})
               OR sha256 IN (SELECT x.sha256 FROM src.image AS x WHERE {kept("image", "x")}) ORDER BY sha256"""
    )
    db.execute(
        f"""INSERT INTO main.raw_file (batch_id, path, sha256)
            SELECT k.shown_id, path, f.sha256 FROM {files} JOIN temp.kept_batch AS k USING (batch_id)
            ORDER BY k.shown_id, path"""
    )


# A log is named by its path, or by a reading map and its path: "NAME:logs/x.json".
_LOG_FILES = ("x.log_path", "substr(x.log_path, instr(x.log_path, ':') + 1)")


def _copy_methods(db: Database) -> None:
    """The shipped set comes with every catalogue; the declarations of the batches that go in are laid over it in turn.

    The declaration of a batch whose existence is hidden waits, even if other rows of it are used.
    """
    declarations = db.execute(
        """SELECT k.shown_id, d.said FROM src.declaration AS d JOIN temp.kept_batch AS k USING (batch_id)
           JOIN src.batch AS b USING (batch_id)
           WHERE d.batch_id NOT IN (SELECT batch_id FROM temp.hidden_batch) ORDER BY b.sequence"""
    ).fetchall()
    for batch, constants in versions_of(declarations):
        db.execute("INSERT INTO main.method VALUES (?, ?, ?)", [constants.version, constants.to_json(), batch])


def _copy_extras(db: Database, tables: list[str]) -> None:
    """Notes whose row is there and still says its file and row."""
    if not db.execute("SELECT 1 FROM src.extra LIMIT 1").fetchone():
        return
    db.execute(
        """CREATE TEMP TABLE shown_row (
               batch_id TEXT, source_file TEXT, source_row INTEGER,
               PRIMARY KEY (batch_id, source_file, source_row)) WITHOUT ROWID"""
    )
    for table in tables:
        db.execute(
            f"""INSERT OR IGNORE INTO temp.shown_row
                SELECT batch_id, source_file, source_row FROM main.{table} WHERE source_row IS NOT NULL"""
        )
    db.execute(
        """INSERT INTO main.extra (batch_id, source_file, source_row, header, typed)
           SELECT k.shown_id, x.source_file, x.source_row, x.header, x.typed
           FROM src.extra AS x JOIN temp.kept_batch AS k USING (batch_id)
           JOIN temp.shown_row AS r ON r.batch_id = k.shown_id
                AND r.source_file = x.source_file AND r.source_row = x.source_row
           ORDER BY 1, 2, 3, 4"""
    )


def _copy_sources(db: Database, tables: list[str]) -> None:
    """Sheets of which a row is there and still says where it stands; of a stained batch none, for titles tell."""
    if not db.execute("SELECT 1 FROM src.source LIMIT 1").fetchone():
        return
    rows = " UNION ".join(
        f"SELECT batch_id, source_file FROM main.{table} WHERE source_row IS NOT NULL" for table in tables
    )
    db.execute(
        f"""INSERT INTO main.source (batch_id, source_file, sheet, map_path)
            SELECT k.shown_id, x.source_file, x.sheet, x.map_path
            FROM src.source AS x JOIN temp.kept_batch AS k USING (batch_id)
            WHERE x.batch_id NOT IN (SELECT batch_id FROM temp.stained)
              AND (k.shown_id, x.source_file) IN ({rows})
            ORDER BY 1, 2"""
    )
