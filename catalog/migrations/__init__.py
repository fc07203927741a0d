"""Numbered steps from an empty file to the newest schema, each a module of its own. All that are due are one transaction.

A step is never edited after release. It carries its own SQL, for schema.py tells the newest tables only; what else it
calls may be a later program's, and then it does what that program would have done.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable

from catalog import schema
from catalog.migrations.m001_first_tables import m001_first_tables
from catalog.migrations.m002_digests_of_method_2 import m002_digests_of_method_2
from catalog.migrations.m003_places_in_mixes import m003_places_in_mixes
from catalog.migrations.m004_roles_defined_once import m004_roles_defined_once
from catalog.migrations.m005_settings import m005_settings
from catalog.migrations.m006_requests_in_a_row import m006_requests_in_a_row
from catalog.migrations.m007_summaries import m007_summaries
from catalog.migrations.m008_long_runs_of_requests import m008_long_runs_of_requests
from catalog.migrations.m009_spots_only_named import m009_spots_only_named
from catalog.migrations.m010_sheets_through_maps import m010_sheets_through_maps

Step = Callable[[sqlite3.Connection], None]
STEPS: tuple[Step, ...] = (
    m001_first_tables,
    m002_digests_of_method_2,
    m003_places_in_mixes,
    m004_roles_defined_once,
    m005_settings,
    m006_requests_in_a_row,
    m007_summaries,
    m008_long_runs_of_requests,
    m009_spots_only_named,
    m010_sheets_through_maps,
)
assert len(STEPS) == schema.VERSION


def version_of(db: sqlite3.Connection) -> int:
    """Schema version of an open file; 0 for an empty one."""
    return int(db.execute("PRAGMA user_version").fetchone()[0])


def migrate(db: sqlite3.Connection, *, to: int | None = None) -> None:
    """Bring *db* to version *to*, or to schema.VERSION: every step that is due and the version, or nothing at all.

    A file that is as new or newer is left alone.
    Raises  sqlite3.Error; CatalogUnusable where a step meets damage. Then the file is as it was.
    """
    wanted = schema.VERSION if to is None else to
    if version_of(db) >= wanted:
        return
    db.execute("BEGIN IMMEDIATE")
    try:
        due = range(version_of(db), wanted)  # asked again: another program may have been first
        for number in due:
            STEPS[number](db)
        if due:
            db.execute(f"PRAGMA user_version = {wanted}")
    except BaseException:
        if db.in_transaction:  # SQLite ends it by itself where the disk is full
            db.execute("ROLLBACK")
        raise
    db.execute("COMMIT")
