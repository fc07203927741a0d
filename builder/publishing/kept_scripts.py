"""Data of scripts kept from the build before, each file with a digest of what it was made from.

One SQLite file beside that of the pages (`kept_pages`). It is a cache, too: without it, or damaged, all is made anew.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing, suppress
from pathlib import Path
from urllib.parse import quote

from builder.pages.material import Material
from builder.publishing.assets import Asset
from builder.publishing.script_data import Kept, script_data
from builder.publishing.unchanged import surroundings

_SCHEMA = """
CREATE TABLE setting (digest TEXT NOT NULL) STRICT;
CREATE TABLE file (key TEXT PRIMARY KEY, digest TEXT NOT NULL, content BLOB NOT NULL) STRICT;
"""


def script_files(material: Material, *, pages: Path | None, looks: Path) -> list[Asset]:
    """`script_data`, made only where something changed.

    pages  where the site's pages are kept; None keeps nothing
    looks  folder of templates
    """
    if pages is None:
        return script_data(material)
    store, setting = pages.with_name(f"scripts-{pages.name}"), surroundings(looks)
    before = kept_scripts(store, setting=setting)
    kept = dict(before)
    found = script_data(material, kept=kept)
    keep_scripts(store, kept, before=before, setting=setting)
    return found


def kept_scripts(store: Path, *, setting: str) -> Kept:
    """All that is kept; nothing where it was made with another setting (`unchanged.surroundings`)."""
    try:
        with closing(sqlite3.connect(f"file:{quote(str(store))}?mode=ro", uri=True)) as db:
            if db.execute("SELECT digest FROM setting").fetchall() != [(setting,)]:
                return {}
            rows = db.execute("SELECT key, digest, content FROM file ORDER BY key")
            return {key: (digest, content) for key, digest, content in rows}
    except sqlite3.Error:  # there is none yet, or it is damaged
        return {}


def keep_scripts(store: Path, kept: Kept, *, before: Kept, setting: str) -> None:
    """Keep these files in the place of those *before*. What cannot be kept is not: the next build takes longer."""
    changed = [(key, *file) for key, file in kept.items() if before.get(key) != file]
    gone = [(key,) for key in before if key not in kept]
    try:
        store.parent.mkdir(parents=True, exist_ok=True)
        if not before:
            store.unlink(missing_ok=True)
        with closing(sqlite3.connect(store)) as db, db:
            if not before:
                db.executescript(_SCHEMA)
                db.execute("INSERT INTO setting VALUES (?)", (setting,))
            db.executemany("DELETE FROM file WHERE key = ?", gone)
            db.executemany("INSERT OR REPLACE INTO file VALUES (?, ?, ?)", changed)
    except (sqlite3.Error, OSError):
        with suppress(OSError):  # where not even that is possible, what is kept is still what it was
            store.unlink(missing_ok=True)
