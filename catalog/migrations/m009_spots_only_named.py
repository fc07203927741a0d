"""Version 9: a spot may be named without a reading.

Its row has neither EIRP nor reading, and it makes no epoch with an attenuation.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path

# The table as a file of this version holds it, letter by letter: `verify` compares the texts. Never edited.
_TABLE = Path(__file__).with_suffix(".sql")


def m009_spots_only_named(db: sqlite3.Connection) -> None:
    """Let readings be missing. No other table refers to them."""
    db.execute("ALTER TABLE spot_reading RENAME TO spot_reading_before")
    db.execute(_TABLE.read_text(encoding="utf-8"))
    columns = [name for _, name, *_ in db.execute("PRAGMA table_info(spot_reading_before)").fetchall()]
    listed = ", ".join(columns)
    db.execute(f"INSERT INTO spot_reading ({listed}) SELECT {listed} FROM spot_reading_before ORDER BY rowid")
    db.execute("DROP TABLE spot_reading_before")
