"""Opening a catalogue: pragmas, version check, and plain words for a file that is not one.

Writing goes through a rollback journal, not a write-ahead log: the file alone is the whole catalogue whenever
nothing is being written, a log of millions of samples is written once and not twice, and there is one writer anyway.

A catalogue of an earlier version is brought to this one when it is opened for writing. A reader must not change
the file, and gets a copy in memory that was brought to this version.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from functools import lru_cache
from itertools import count
from pathlib import Path
from textwrap import shorten
from urllib.parse import quote

from sqlite_utils import Database

from catalog import migrations, schema
from catalog.errors import CatalogUnusable, WriteRefused

# "Likl": lets us tell a catalogue from any other SQLite file before touching it.
APPLICATION_ID = 0x4C696B6C
WAIT_S = 10.0  # until another process has finished writing, or reading what is about to be written
PAGE_BYTES = 16384  # logs are stored as texts of many megabytes
MOST_IN_MEMORY_BYTES = 1_000_000_000  # SQLite takes 2**30, and a step may add to a copy

_NO_TEXT = "the name of a table is no text"  # SQLite quotes it, and Python cannot read that
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
            the disk is full, or its folder is not writable, which even a reader needs.
    """
    if readonly:
        connection = sqlite3.connect(_uri_to_read(path), uri=True, isolation_level=None, timeout=WAIT_S)
    else:
        version = _version_of_file(path)
        connection = sqlite3.connect(path, isolation_level=None, timeout=WAIT_S)
        try:
            with _refusing():
                connection.execute("PRAGMA journal_mode = DELETE")
            if version < schema.VERSION:
                with _bringing_up(path):
                    migrations.migrate(connection)
        except BaseException:
            connection.close()
            raise
    connection.execute("PRAGMA foreign_keys = ON")
    return _database(connection)


@contextmanager
def _refusing() -> Iterator[None]:
    """What SQLite cannot do although the catalogue is sound is a WriteRefused."""
    try:
        yield
    except sqlite3.OperationalError as failure:
        if (refused := not_written(failure)) is not None:
            raise refused from failure
        raise


@contextmanager
def _bringing_up(path: Path) -> Iterator[None]:
    """What stops the catalogue at *path* from being brought from an earlier version to this one, in words."""
    try:
        with _refusing():
            yield
    except (sqlite3.DatabaseError, UnicodeDecodeError) as failure:
        reason = in_a_line(failure) if isinstance(failure, sqlite3.Error) else _NO_TEXT
        raise CatalogUnusable(
            f"{path} is damaged, so it cannot be brought to catalogue version {schema.VERSION}: {reason}."
        ) from failure


_NUMBERS = count(1)
_COPIED: dict[str, Path] = {}  # name of a copy in memory -> the file it was read from


def _uri_to_read(path: Path) -> str:
    """Where the catalogue at *path* is read: in its file, or in a copy where that is of an earlier version.

    Raises  as open_catalog does; CatalogUnusable where an earlier one is too large for a copy in memory.
    """
    version = _version_of_file(path)
    if version == schema.VERSION:
        return _readonly_uri(path)
    status = path.stat()
    if status.st_size > MOST_IN_MEMORY_BYTES:
        raise CatalogUnusable(
            f"{path} is of an earlier Likeloss (catalogue version {version}) and too large to be read as it is. "
            f"Enter a batch, which may be one that is in it already: that brings it to version {schema.VERSION}."
        )
    name, _ = _copied(path, (status.st_ino, status.st_size, status.st_mtime_ns))
    return f"file:{name}?vfs=memdb&mode=ro"


@lru_cache(maxsize=2)  # a verb asks often, and digests that are taken again take their time
def _copied(path: Path, state: tuple[int, ...]) -> tuple[str, sqlite3.Connection]:
    """A copy in memory of the catalogue at *path*, brought to this version: its name, and what keeps it.

    state  of the file, which may be written by an earlier program meanwhile
    """
    name = f"/earlier-{next(_NUMBERS)}"  # by which several connections share it
    _COPIED[name] = path
    holder = sqlite3.connect(f"file:{name}?vfs=memdb", uri=True, isolation_level=None, check_same_thread=False)
    try:
        with (
            _bringing_up(path),
            closing(sqlite3.connect(_readonly_uri(path), uri=True, isolation_level=None, timeout=WAIT_S)) as file,
        ):
            file.execute("BEGIN")
            file.execute("SELECT count(*) FROM sqlite_schema").fetchone()  # a backup would wait for a writer for ever
            file.backup(holder)
            migrations.migrate(holder)
    except BaseException:
        holder.close()
        raise
    return name, holder


def not_written(failure: sqlite3.Error) -> WriteRefused | None:
    """What to say of a failed write that is not the fault of the catalogue: a full disk is not a damaged file.

    None where the failure is something else.
    """
    code = getattr(failure, "sqlite_errorcode", None) or 0
    reason = _OUTSIDE.get(code & 0xFF)
    if reason is None or code == sqlite3.SQLITE_IOERR_SHORT_READ:  # a file that ends too early is damage
        return None
    return WriteRefused(f"The catalogue cannot be written: {reason} ({failure}). Nothing was changed.")


def path_of(db: Database) -> Path | None:
    """The file an open catalogue lies in, or was read from; None for one that is in memory only."""
    (name,) = next(db.execute("SELECT file FROM pragma_database_list WHERE name = 'main'"))
    return _COPIED.get(name, Path(name)) if name else None


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
    return _database(connection)


def _database(connection: sqlite3.Connection) -> Database:
    # Without plugins: whatever else is installed has no say in a catalogue, and to look for it takes time.
    return Database(connection, execute_plugins=False)


def create_earlier_catalog(version: int) -> Database:
    """A new, empty catalogue of an earlier version, in a temporary file that goes with it."""
    connection = sqlite3.connect("", isolation_level=None)
    migrations.migrate(connection, to=version)
    connection.execute("PRAGMA foreign_keys = ON")
    return _database(connection)


def attach_readonly(db: Database, source: Path | Database, *, name: str) -> None:
    """Make the tables of the catalogue *source* readable in *db* as ``name.table``; *db* came from create_catalog.

    source  where it lies, or one in memory, of which *db* then has a copy of its own
    Raises  CatalogUnusable as open_catalog does.
    """
    if isinstance(source, Database):
        db.execute(f"ATTACH ':memory:' AS {name}")
        db.conn.deserialize(source.conn.serialize(), name=name)
        return
    db.execute(f"ATTACH ? AS {name}", [_uri_to_read(source)])


def _version_of_file(path: Path) -> int:
    """The version of the catalogue at *path*, which is this one or an earlier one.

    Raises  as open_catalog does.
    """
    if not path.is_file():
        raise CatalogUnusable(
            f"There is no catalogue at {path}. Enter a batch to begin one, or name another with --catalog."
        )
    try:
        application, version = _looked_at(path)
    except sqlite3.DatabaseError as failure:
        if (refused := not_written(failure)) is not None:
            raise refused from failure
        raise CatalogUnusable(f"{path} is not a catalogue, or it is damaged: {in_a_line(failure)}.") from failure
    except UnicodeDecodeError as failure:
        raise CatalogUnusable(f"{path} is damaged: {_NO_TEXT}.") from failure
    if application != APPLICATION_ID:
        raise CatalogUnusable(f"{path} is a database, but not a Likeloss catalogue.")
    if version > schema.VERSION:
        raise CatalogUnusable(
            f"{path} was written by a newer Likeloss (catalogue version {version}; this one reads up to "
            f"{schema.VERSION}). Update Likeloss to open it."
        )
    return version


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
