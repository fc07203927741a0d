"""Version 1: all tables, indexes and views, as the first catalogues that people kept have them (Likeloss 0.1.0)."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path

_TABLES = Path(__file__).with_suffix(".sql")


def m001_first_tables(db: sqlite3.Connection) -> None:
    """From an empty file to version 1."""
    for statement in _statements(_TABLES.read_text(encoding="utf-8")):
        db.execute(statement)
    # Version 1 of the method: nothing declared, practice values everywhere.
    db.execute("INSERT INTO method (version, constants, batch_id) VALUES (1, '{}', NULL)")


def _statements(script: str) -> Iterator[str]:
    """One statement after the other: executescript would end the transaction that a step runs in."""
    statement = ""
    for line in script.splitlines(keepends=True):
        statement += line
        if sqlite3.complete_statement(statement):
            yield statement
            statement = ""
