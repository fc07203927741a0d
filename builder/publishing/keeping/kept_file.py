"""A SQLite file that keeps what a build made for the next one.

It is a cache: one that is missing, damaged or of another setting holds nothing, and one that cannot be written costs
the next build time and nothing else.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing, suppress
from pathlib import Path
from typing import TypeVar
from urllib.parse import quote

_SETTING = "CREATE TABLE setting (digest TEXT NOT NULL) STRICT;"

Kept = TypeVar("Kept")


def read_kept(store: Path, read: Callable[[sqlite3.Connection], Kept], *, setting: str) -> Kept | None:
    """What *read* finds in the store; None where nothing is kept that was made with this setting.

    setting  digest of what decides everything in it (unchanged.surroundings)
    """
    try:
        with closing(sqlite3.connect(f"file:{quote(str(store))}?mode=ro", uri=True)) as db:
            if db.execute("SELECT digest FROM setting").fetchall() != [(setting,)]:
                return None
            return read(db)
    except (sqlite3.Error, ValueError):  # there is none yet, or it is damaged
        return None


def keep(store: Path, write: Callable[[sqlite3.Connection], None], *, schema: str, setting: str, anew: bool) -> None:
    """Let *write* change the store in one transaction.

    schema  its tables
    anew    nothing of what it holds can be used: it is begun from nothing
    """
    try:
        store.parent.mkdir(parents=True, exist_ok=True)
        if anew:
            store.unlink(missing_ok=True)
        with closing(sqlite3.connect(store)) as db, db:
            if anew:
                db.executescript(_SETTING + schema)
                db.execute("INSERT INTO setting VALUES (?)", (setting,))
            write(db)
    except (sqlite3.Error, OSError):
        with suppress(OSError):  # where not even that is possible, what is kept is still what it was
            store.unlink(missing_ok=True)
