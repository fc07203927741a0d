"""The one store of what a build keeps for the next: bytes under a key, with a digest of all they were made from.

Each site folder has a SQLite file of its own. It is a cache: deleting it costs time and nothing else. An entry is used
only if its digest is what this build would give it, so it does not matter whether its inputs changed, the program
changed or the file was damaged. Nothing heavy is imported here, because unchanged.py asks before anything is read.
"""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Iterable, Mapping
from contextlib import closing, suppress
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import quote

import orjson

from builder.observed import Inventory, Look

_SCHEMA = """
CREATE TABLE IF NOT EXISTS entry (
    key TEXT PRIMARY KEY, digest TEXT NOT NULL, looks TEXT NOT NULL, content BLOB NOT NULL
) STRICT;
"""
# No sync, no journal file: what a killed build leaves half written has no valid digest.
_FAST = "PRAGMA journal_mode = MEMORY; PRAGMA synchronous = OFF;"


@dataclass(frozen=True, slots=True)
class Entry:
    """What is kept under a key.

    digest  SHA-256 of the key, the setting, the looks, what each of them sees, and that of the content
    looks   the parts of the inventory it was made from, as JSON
    """

    digest: str
    looks: str
    content: bytes


@dataclass(frozen=True, slots=True)
class Stored:
    """An entry as it lies in a store, and the SHA-256 of its content."""

    entry: Entry
    content_digest: str


@dataclass(frozen=True, slots=True)
class Keeper:
    """The store of one site folder.

    store      its file; None keeps nothing
    setting    digest of what decides every entry: templates, program, libraries
    inventory  what looks are looked up in
    """

    store: Path | None
    setting: str
    inventory: Inventory
    _sound: dict[str, str] = field(default_factory=dict)  # key -> digest of the entries that were read and are fresh

    def entry(self, key: str, content: bytes, looks: Iterable[Look]) -> Entry:
        """An entry made by this build."""
        text = orjson.dumps(sorted(looks)).decode()
        return Entry(self._digest(key, text, _sha256(content)), text, content)

    def fresh(self, beginning: str = "", *, stored: Mapping[str, Stored] | None = None) -> dict[str, Entry]:
        """The entries, all or those whose key begins so, that this build would make just the same.

        stored  what `stored_in` says of them, where that was read before
        """
        stored = stored_in(self.store, beginning) if stored is None else stored
        try:
            fresh = {
                key: one.entry
                for key, one in stored.items()
                if one.entry.digest == self._digest(key, one.entry.looks, one.content_digest)
            }
        except (ValueError, TypeError):  # it is damaged
            return {}
        self._sound.update((key, entry.digest) for key, entry in fresh.items())
        return fresh

    def keep(self, entries: Mapping[str, Entry], *, instead: bool) -> None:
        """Keep these entries, *instead* of all others or beside them.

        A store that is damaged is begun anew. One that cannot be written costs the next build time and nothing else.
        """
        if self.store is None:
            return
        for _ in range(2):
            try:
                self.store.parent.mkdir(parents=True, exist_ok=True)
                with closing(sqlite3.connect(self.store)) as db:
                    db.executescript(_FAST + _SCHEMA)
                    with db:
                        self._write(db, entries, instead=instead)
                return
            except sqlite3.OperationalError as failure:
                if failure.sqlite_errorcode == sqlite3.SQLITE_BUSY:  # another build keeps what it made
                    return
                self._delete()
            except (sqlite3.Error, OSError):
                self._delete()

    def _write(self, db: sqlite3.Connection, entries: Mapping[str, Entry], *, instead: bool) -> None:
        """Only what is not there yet. What is there with the right digest may still be damaged, unless it was read."""
        kept = dict(db.execute("SELECT key, digest FROM entry"))
        if instead:
            db.executemany("DELETE FROM entry WHERE key = ?", [(key,) for key in kept.keys() - entries.keys()])
        db.executemany(
            "INSERT OR REPLACE INTO entry VALUES (?, ?, ?, ?)",
            [
                (key, entry.digest, entry.looks, entry.content)
                for key, entry in entries.items()
                if not kept.get(key) == self._sound.get(key) == entry.digest
            ],
        )

    def _delete(self) -> None:
        with suppress(OSError):
            assert self.store is not None
            self.store.unlink(missing_ok=True)

    def _digest(self, key: str, looks: str, content_digest: str) -> str:
        seen = "".join(self.inventory.digest((path, part)) for path, part in orjson.loads(looks))
        return _sha256(f"{self.setting}\n{key}\n{looks}\n{seen}\n{content_digest}".encode())


def stored_in(store: Path | None, beginning: str = "") -> dict[str, Stored]:
    """What lies in a store, all or what has a key that begins so; nothing where there is none yet or it is damaged.

    Most of it is done without Python, so that a thread may do it beside other work.
    """
    if store is None:
        return {}
    try:
        with closing(sqlite3.connect(f"file:{quote(str(store))}?mode=ro", uri=True)) as db:
            rows = db.execute(
                "SELECT key, digest, looks, content FROM entry WHERE key BETWEEN ? AND ? || char(1114111)",
                [beginning, beginning],
            )
            return {
                key: Stored(Entry(digest, looks, content), _sha256(content)) for key, digest, looks, content in rows
            }
    except (sqlite3.Error, TypeError):
        return {}


def _sha256(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def store_of(cache: Path | None, out: Path) -> Path | None:
    """The file in the folder *cache* that keeps what the site at *out* was made of; None without a cache."""
    return cache and cache / f"kept-{hashlib.sha256(str(out.resolve()).encode()).hexdigest()[:16]}.db"
