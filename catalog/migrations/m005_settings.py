"""Version 5: settings, conditions of a test that differ from those a bench always tests under.

Runs, stations, long runs, heat and power readings may name settings; no earlier row has any. The key of a run holds them,
too, so that the same repeat under other settings is another attempt.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path

# The tables as files of this version hold them, letter by letter: `verify` compares the texts. Never edited.
_TABLES = Path(__file__).with_suffix(".sql")
_WITH_SETTINGS = ("run", "station", "longrun", "heat", "power")


def m005_settings(db: sqlite3.Connection) -> None:
    """Make the table of settings, and give those that name them their new column."""
    db.execute("PRAGMA defer_foreign_keys = ON")  # other tables refer to runs while these are aside
    for table in _WITH_SETTINGS:
        db.execute(f"CREATE TEMP TABLE {table}_before AS SELECT * FROM {table} ORDER BY {table}_id")
        db.execute(f"DROP TABLE {table}")
    for statement in _TABLES.read_text(encoding="utf-8").split(";\n"):
        db.execute(statement)
    for table in _WITH_SETTINGS:
        listed = ", ".join(name for _, name, *_ in db.execute(f"PRAGMA table_info({table}_before)").fetchall())
        db.execute(f"INSERT INTO {table} ({listed}) SELECT {listed} FROM {table}_before ORDER BY {table}_id")
        db.execute(f"DROP TABLE {table}_before")
