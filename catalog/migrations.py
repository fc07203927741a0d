"""Numbered steps from an empty file to the newest schema, each one transaction with its version bump.

A step is never edited after release: it carries its own SQL, except the first, which may use
schema.py as long as version 1 is the newest.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable

from catalog import schema


def m001_first_tables(db: sqlite3.Connection) -> None:
    """All tables, indexes and views of version 1."""
    for statement in (*schema.TABLES.values(), *schema.INDEXES.values(), *schema.VIEWS.values()):
        db.execute(statement)
    # Version 1 of the method: nothing declared, practice values everywhere.
    db.execute("INSERT INTO method (version, constants, batch_id) VALUES (1, '{}', NULL)")


STEPS: tuple[Callable[[sqlite3.Connection], None], ...] = (m001_first_tables,)
assert len(STEPS) == schema.VERSION


def version_of(db: sqlite3.Connection) -> int:
    """Schema version of an open file; 0 for an empty one."""
    return int(db.execute("PRAGMA user_version").fetchone()[0])


def migrate(db: sqlite3.Connection) -> None:
    """Bring *db* to schema.VERSION. Each step and its version number are written together or not at all."""
    for number in range(version_of(db), schema.VERSION):
        db.execute("BEGIN IMMEDIATE")
        try:
            STEPS[number](db)
            db.execute(f"PRAGMA user_version = {number + 1}")
        except BaseException:
            db.execute("ROLLBACK")
            raise
        db.execute("COMMIT")
