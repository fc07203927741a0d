"""Catalogues of earlier versions as people have them (README.md), and looks into a file that leave its version alone."""

import io
import lzma
import sqlite3
import tarfile
from contextlib import closing
from pathlib import Path

from catalog import migrations, schema
from catalog.connection import APPLICATION_ID, create_earlier_catalog, open_catalog
from catalog.exporting import dump

EXPORT = Path(__file__).with_name("demo_export_2026-11-30.tar.xz")
VERSION_1 = Path(__file__).with_name("catalogue_version_1.db.xz")
KEYS = {
    "run": "device_id, unit_id, client_id, session_id, band, direction, spot, repeat, at_utc",
    "longrun": "device_id, unit_id, client_id, session_id, band, direction, at_utc",
    "station": "mix_id, client_id, role_id",
}


def version_1(path):
    """The demo's catalogue of version 1 at *path*, which is returned."""
    path.write_bytes(lzma.decompress(VERSION_1.read_bytes()))
    return path


def demo_export(folder):
    """The batches of the demo as they were exported, unpacked into *folder*; in the order of entry."""
    with tarfile.open(EXPORT) as packed:
        packed.extractall(folder, filter="data")
    return sorted((folder / "demo").iterdir())


def version(path):
    with closing(sqlite3.connect(path)) as db:
        return migrations.version_of(db)


# Where rows of version 1 stand today, but for what that version could not hold.
_THEN = {
    "workload_role": "(SELECT p.*, r.kind, r.target_ms, r.target_share, r.recipe FROM workload_role AS p "
    "JOIN role AS r ON r.role_id = p.definition ORDER BY p.rowid)",
    "row_again": "row_again WHERE table_name NOT IN ('role', 'settings') ORDER BY rowid",
}


def as_version_1(path):
    """The catalogue at *path* as a program of version 1 would have written it; what its tables cannot say goes."""
    with closing(sqlite3.connect(path)) as new, closing(create_earlier_catalog(1)) as old:
        for table in schema.TABLES:
            columns = [name for _, name, *_ in old.execute(f"PRAGMA table_info({table})").fetchall()]
            if columns:
                old.execute(f"DELETE FROM {table}")
                listed = ", ".join(columns)
                where = _THEN.get(table, f"{table} ORDER BY rowid")
                rows = new.execute(f"SELECT {listed} FROM {where}").fetchall()
                old.conn.executemany(f"INSERT INTO {table} ({listed}) VALUES ({', '.join('?' * len(columns))})", rows)
        path.unlink()
        old.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        old.execute("VACUUM INTO ?", [str(path)])
    return path


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
