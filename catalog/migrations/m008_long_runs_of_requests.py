"""Version 8: a long run may log requests, and its row says so; every earlier one logs a throughput.

Such a run may leave its direction out, and may state the time within which an answer is in time.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path

# The table as files of this version hold it, letter by letter: `verify` compares the texts. Never edited.
_LONGRUN = Path(__file__).with_suffix(".sql")


def m008_long_runs_of_requests(db: sqlite3.Connection) -> None:
    """Give long runs their kind and their mark."""
    db.execute("CREATE TEMP TABLE longrun_before AS SELECT * FROM longrun ORDER BY longrun_id")
    db.execute("DROP TABLE longrun")
    for statement in _LONGRUN.read_text(encoding="utf-8").split(";\n"):
        db.execute(statement)
    listed = ", ".join(name for _, name, *_ in db.execute("PRAGMA table_info(longrun_before)").fetchall())
    db.execute(f"INSERT INTO longrun ({listed}) SELECT {listed} FROM longrun_before ORDER BY longrun_id")
    db.execute("DROP TABLE longrun_before")
