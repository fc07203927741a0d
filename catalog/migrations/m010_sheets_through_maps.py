"""Version 10: which tables were read through a reading map."""

from __future__ import annotations

import sqlite3
from pathlib import Path

# The table as a file of this version holds it, letter by letter: `verify` compares the texts. Never edited.
_TABLE = Path(__file__).with_suffix(".sql")


def m010_sheets_through_maps(db: sqlite3.Connection) -> None:
    """Add the table; no catalogue of before has such a source."""
    db.execute(_TABLE.read_text(encoding="utf-8"))
