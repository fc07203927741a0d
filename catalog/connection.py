"""Opening a catalogue: pragmas, version check, and the plain words for a file that is none.

Writing goes through a rollback journal, not a write-ahead log: the file alone is the whole catalogue whenever
nobody writes, a log of millions of samples is written once and not twice, and there is one writer anyway.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from textwrap import shorten
from urllib.parse import quote

from sqlite_utils import Database

from catalog import migrations, schema
from catalog.errors import CatalogUnusable, WriteRefused

# "Likl": lets us tell a catalogue from any other SQLite file before touching it.
APPLICATION_ID = 0x4C696B6C
WAIT_S = 10.0  # for somebody else who writes, or reads what is about to be written
PAGE_BYTES = 16384  # logs are stored as texts of many megabytes

# Primary result codes (sqlite.org/rescode.html) that say nothing against the file itself, and what they come to.
_OUTSIDE = {
    sqlite3.SQLITE_FULL: "the disk is full",
    sqlite3.SQLITE_IOERR: "the disk takes no more, or cannot be written",
    sqlite3.SQLITE_BUSY: "another program is writing to it",
    sqlite3.SQLITE_LOCKED: "another program is writing to it",
    sqlite3.SQLITE_READONLY: "it is write-protected",
    sqlite3.SQLITE_CANTOPEN: "it, or a file that has to lie beside it, cannot be opened or made",
}


def open_catalog(path: Path, *, readonly: bool) -> Database:
    """Open the catalogue at *path*. Transactions are explicit (isolation_level None).

    Raises  CatalogUnusable: no such file, not a catalogue, damaged, or of a newer version; WriteRefused: sound, but
            the disk is full or nobody may write beside it, which even a reader has to.
    """
    if not path.is_file():
        raise CatalogUnusable(
            f"There is no catalogue at {path}. Enter a batch to begin one, or name another with --catalog."
        )
    _check_file(path)
    if readonly:
        connection = sqlite3.connect(_readonly_uri(path), uri=True, isolation_level=None, timeout=WAIT_S)
    else:
        connection = sqlite3.connect(path, isolation_level=None, timeout=WAIT_S)
        try:
            connection.execute("PRAGMA journal_mode = DELETE")
            migrations.migrate(connection)
        except sqlite3.OperationalError as failure:
            connection.close()
            if (refused := not_written(failure)) is not None:
                raise refused from failure
            raise
    connection.execute("PRAGMA foreign_keys = ON")
    return Database(connection)


def not_written(failure: sqlite3.Error) -> WriteRefused | None:
    """What to say of a failed write that is no fault of the catalogue: a full disk is not a damaged file.

    None where the failure is something else.
    """
    code = getattr(failure, "sqlite_errorcode", None) or 0
    reason = _OUTSIDE.get(code & 0xFF)
    if reason is None or code == sqlite3.SQLITE_IOERR_SHORT_READ:  # a file that ends too early is damage
        return None
    return WriteRefused(f"The catalogue cannot be written: {reason} ({failure}). Nothing was changed.")


def path_of(db: Database) -> Path | None:
    """The file an open catalogue lies in; None for one in memory."""
    (name,) = next(db.execute("SELECT file FROM pragma_database_list WHERE name = 'main'"))
    return Path(name) if name else None


def in_a_line(failure: sqlite3.Error) -> str:
    """What SQLite says of a failure; of a damaged definition it quotes all lines."""
    return shorten(str(failure), 120, placeholder=" …")


def create_catalog(path: Path | None) -> Database:
    """A new, empty catalogue at *path*, or in memory for None. The file must not exist yet."""
    if path is not None:
        if path.exists():
            raise CatalogUnusable(f"{path} exists already.")
        if not path.parent.is_dir():
            raise CatalogUnusable(f"The folder {path.parent} does not exist, so no catalogue can be made in it.")
    try:
        target = _uri(path) if path is not None else ":memory:"
        connection = sqlite3.connect(target, uri=True, isolation_level=None, timeout=WAIT_S)
        if path is not None:
            connection.execute(f"PRAGMA page_size = {PAGE_BYTES}")
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        migrations.migrate(connection)
    except sqlite3.OperationalError as failure:
        raise not_written(failure) or CatalogUnusable(f"No catalogue can be made at {path}: {failure}.") from failure
    connection.execute("PRAGMA foreign_keys = ON")
    return Database(connection)


def attach_readonly(db: Database, source: Path | Database, *, name: str) -> None:
    """Make the tables of the catalogue *source* readable in *db* as ``name.table``; *db* came from create_catalog.

    source  where it lies, or one in memory, of which *db* then has a copy of its own
    Raises  CatalogUnusable as open_catalog does.
    """
    if isinstance(source, Database):
        db.execute(f"ATTACH ':memory:' AS {name}")
        db.conn.deserialize(source.conn.serialize(), name=name)
        return
    open_catalog(source, readonly=True).close()
    db.execute(f"ATTACH ? AS {name}", [_readonly_uri(source)])


def _check_file(path: Path) -> None:
    try:
        application, version = _looked_at(path)
    except sqlite3.DatabaseError as failure:
        if (refused := not_written(failure)) is not None:
            raise refused from failure
        raise CatalogUnusable(f"{path} is not a catalogue, or it is damaged: {in_a_line(failure)}.") from failure
    except UnicodeDecodeError as failure:  # SQLite quotes the damaged name of a table, and Python cannot read it
        raise CatalogUnusable(f"{path} is damaged: the name of a table is no text.") from failure
    if application != APPLICATION_ID:
        raise CatalogUnusable(f"{path} is a database, but not a Likeloss catalogue.")
    if version > schema.VERSION:
        raise CatalogUnusable(
            f"{path} was written by a newer Likeloss (catalogue version {version}; this one reads up to "
            f"{schema.VERSION}). Update Likeloss to open it."
        )


def _looked_at(path: Path) -> tuple[int, int]:
    """Application id and version. What a killed writer left half done is taken back first, which no reader may do."""
    try:
        with closing(sqlite3.connect(_readonly_uri(path), uri=True, timeout=WAIT_S)) as probe:
            probe.execute("SELECT count(*) FROM sqlite_schema").fetchone()
            return int(probe.execute("PRAGMA application_id").fetchone()[0]), migrations.version_of(probe)
    except sqlite3.OperationalError as failure:
        if failure.sqlite_errorcode != sqlite3.SQLITE_READONLY_ROLLBACK:
            raise
    with closing(sqlite3.connect(path, timeout=WAIT_S)) as writer:
        writer.execute("SELECT count(*) FROM sqlite_schema").fetchone()
        return int(writer.execute("PRAGMA application_id").fetchone()[0]), migrations.version_of(writer)


def _uri(path: Path) -> str:
    return "file:" + quote(str(path.absolute()))


def _readonly_uri(path: Path) -> str:
    return _uri(path) + "?mode=ro"
