"""Version 7: results that are summaries already.

A run may be the mean or median of several, and a station may state shares and percentiles as they were noted then. No
earlier row does.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path

# The tables as files of this version hold them, letter by letter: `verify` compares the texts. Never edited.
_TABLES = Path(__file__).with_suffix(".sql")
_WITH_SUMMARIES = ("run", "station")


def m007_summaries(db: sqlite3.Connection) -> None:
    """Give runs and stations the columns of summaries."""
    db.execute("PRAGMA defer_foreign_keys = ON")  # other tables refer to runs while these are aside
    for table in _WITH_SUMMARIES:
        db.execute(f"CREATE TEMP TABLE {table}_before AS SELECT * FROM {table} ORDER BY {table}_id")
        db.execute(f"DROP TABLE {table}")
    for statement in _TABLES.read_text(encoding="utf-8").split(";\n"):
        db.execute(statement)
    for table in _WITH_SUMMARIES:
        listed = ", ".join(name for _, name, *_ in db.execute(f"PRAGMA table_info({table}_before)").fetchall())
        db.execute(f"INSERT INTO {table} ({listed}) SELECT {listed} FROM {table}_before ORDER BY {table}_id")
        db.execute(f"DROP TABLE {table}_before")
