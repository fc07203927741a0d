"""Catalogues of earlier versions as people have them (README.md), and looks into a file that leave its version alone."""

import io
import lzma
import re
import sqlite3
from contextlib import closing
from pathlib import Path

from catalog import migrations
from catalog.connection import open_catalog
from catalog.exporting import dump

FIRST_TABLES = Path(migrations.__file__).with_name("m001_first_tables.sql")
VERSION_1 = Path(__file__).with_name("catalogue_version_1.db.xz")
KEYS = {
    "run": "device_id, unit_id, client_id, session_id, band, direction, spot, repeat, at_utc",
    "longrun": "device_id, unit_id, client_id, session_id, band, direction, at_utc",
    "station": "mix_id, client_id, role_id",
}


# What brings the roles of a file of today back to what they were up to version 3, but for what those could not hold.
ROLES_OF_VERSION_3 = (
    "CREATE TABLE held AS SELECT p.workload_id, p.version, p.role_id, r.kind, r.target_ms, r.target_share, r.recipe "
    "FROM workload_role AS p JOIN role AS r ON r.role_id = p.definition ORDER BY p.rowid",
    *(f"DROP TABLE {table}" for table in ("workload_seat", "workload_role", "role_declaration", "role")),
    "DELETE FROM row_again WHERE table_name = 'role'",
    re.search(r"CREATE TABLE workload_role.*?STRICT", FIRST_TABLES.read_text(encoding="utf-8"), re.DOTALL)[0],
    "INSERT INTO workload_role SELECT * FROM held",
    "DROP TABLE held",
)


def version_1(path):
    """The demo's catalogue of version 1 at *path*, which is returned."""
    path.write_bytes(lzma.decompress(VERSION_1.read_bytes()))
    return path


def version(path):
    with closing(sqlite3.connect(path)) as db:
        return migrations.version_of(db)


def edited(path, *statements):
    """The catalogue at *path* once the statements were run on it, whatever they break."""
    with closing(sqlite3.connect(path)) as db, db:
        for statement in statements:
            db.execute(statement)
    return path


def digests(path, owner):
    """What tells the row of a log from others -> the figures of the log."""
    figures: dict[tuple, dict[str, float]] = {}
    sql = f"SELECT {KEYS[owner]}, figure, value FROM digest JOIN {owner} ON {owner}_id = owner_id WHERE owner = ?"
    with closing(sqlite3.connect(path)) as db:
        for *key, figure, value in db.execute(sql, [owner]):
            figures.setdefault(tuple(key), {})[figure] = value
    return figures


def dumped(path):
    """The dump of the catalogue at *path*, as of this version."""
    out = io.BytesIO()
    with closing(open_catalog(path, readonly=True)) as db:
        dump(db, out)
    return out.getvalue()
