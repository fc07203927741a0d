"""Data of scripts kept from the build before, each file with a digest of what it was made from.

One SQLite file beside that of the pages (`kept_pages`). It is a cache, too: without it, or damaged, all is made anew.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path

from builder.pages.contents import Contents
from builder.publishing.files.assets import Asset
from builder.publishing.files.script_data import Kept, script_data
from builder.publishing.keeping.kept_file import keep, read_kept

_SCHEMA = "CREATE TABLE file (key TEXT PRIMARY KEY, digest TEXT NOT NULL, content BLOB NOT NULL) STRICT;"


def script_files(contents: Contents, *, pages: Path | None, setting: str) -> list[Asset]:
    """`script_data`, made only where something changed.

    pages    where the site's pages are kept; None keeps nothing
    setting  `unchanged.surroundings` of this build
    """
    if pages is None:
        return script_data(contents)
    store = pages.with_name(f"scripts-{pages.name}")
    before = kept_scripts(store, setting=setting)
    kept = dict(before)
    found = script_data(contents, kept=kept)
    keep_scripts(store, kept, before=before, setting=setting)
    return found


def kept_scripts(store: Path, *, setting: str) -> Kept:
    """All that is kept; nothing where it was made with another setting (`unchanged.surroundings`)."""

    def read(db: sqlite3.Connection) -> Kept:
        rows = db.execute("SELECT key, digest, content FROM file ORDER BY key")
        return {key: (digest, content) for key, digest, content in rows}

    return read_kept(store, read, setting=setting) or {}


def keep_scripts(store: Path, kept: Kept, *, before: Kept, setting: str) -> None:
    """Keep these files in the place of those *before*."""
    changed = [(key, *file) for key, file in kept.items() if before.get(key) != file]
    gone = [(key,) for key in before if key not in kept]

    def write(db: sqlite3.Connection) -> None:
        db.executemany("DELETE FROM file WHERE key = ?", gone)
        db.executemany("INSERT OR REPLACE INTO file VALUES (?, ?, ?)", changed)

    keep(store, write, schema=_SCHEMA, setting=setting, anew=not before)
