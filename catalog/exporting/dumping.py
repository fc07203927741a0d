"""A whole catalogue as plain text, JSON Lines in a stable order, and back again without a byte of difference.

The first line says what it is. Then comes one line per row: {"row": {column: value}, "table": name}, tables in the
order in which they can be filled, rows by their key, columns by name. Bytes are {"base64": text}. The last line counts
the rows of each table and holds the SHA-256 of everything before it: {"rows": {table: count}, "sha256": text}. A dump
that was cut short lacks it, and would make a catalogue without, say, its embargoes.
"""

from __future__ import annotations

import base64
import hashlib
import json
import sqlite3
from collections.abc import Container, Iterable, Iterator, Mapping
from contextlib import closing
from pathlib import Path
from typing import Any, BinaryIO

from sqlite_utils import Database

from catalog import schema
from catalog.connection import create_earlier_catalog, not_written, path_of
from catalog.entering import transaction, writable
from catalog.errors import CatalogUnusable, InputRefused
from catalog.exporting.soundness import require_sound
from catalog.migrations import migrate
from catalog.storing import insert
from catalog.whole_files import require_apart, whole_file

FORMAT = "likeloss catalogue"
DUMP_VERSION = 2  # 1 had no last line, and its first one no "dump_version"
_AT_ONCE = 1000  # rows written to the file together
_LONGEST_HEAD = 1000  # bytes: a file that is not a dump may be one line of gigabytes


def dump(db: Database, out: BinaryIO) -> None:
    """Write every row of *db* to *out*.

    Raises  CatalogUnusable: the catalogue is damaged, so that what was written could not be loaded.
    """
    digest = hashlib.sha256()
    rows = dict.fromkeys(schema.TABLES, 0)

    def write(line: bytes) -> None:
        out.write(line)
        digest.update(line)

    with db.atomic():  # all of it as it was at one moment, whatever another program writes meanwhile
        require_sound(db)
        write(_line({"catalogue_version": schema.VERSION, "dump_version": DUMP_VERSION, "format": FORMAT}))
        for table in schema.TABLES:
            for row in _rows(db, table):
                write(_line({"row": row, "table": table}))
                rows[table] += 1
    out.write(_last_line(rows, digest.hexdigest()))
    out.flush()


def dump_to(db: Database, file: Path) -> None:
    """Write the dump of *db* to *file*, in the place of an older dump or of nothing.

    Raises  InputRefused: *file* is the catalogue, or something else than a dump; WriteRefused: it cannot be written;
            CatalogUnusable as dump. Then *file* is as it was.
    """
    require_apart(file, catalog=path_of(db))
    if file.is_dir():
        raise InputRefused(f"{file} is a folder. Name a file for the dump.")
    if file.is_file() and file.stat().st_size:
        with file.open("rb") as older:
            if _head(older.readline(_LONGEST_HEAD)) is None:
                raise InputRefused(f"{file} exists and is not a dump of Likeloss, so it stays. Name another file.")
    with whole_file(file) as out:
        dump(db, out)


def load(source: BinaryIO, path: Path) -> None:
    """Make the catalogue at *path* from a dump; one of a catalogue of an earlier version is brought to this one.

    Raises  InputRefused: the catalogue holds data already, or the text is not a whole dump (with the line);
            CatalogUnusable for a dump of a newer version.
    """
    with writable(path) as db:
        if any(db.table(table).count for table in ("batch", "raw_content", "device")):
            raise InputRefused(f"{path} holds data already. Load into a new catalogue: name another with --catalog.")
        first = source.readline(_LONGEST_HEAD)
        version = _version_of_dump(first)
        if version == schema.VERSION:
            _fill(db, _checked_lines(source, first, schema.TABLES))
            return
        with closing(create_earlier_catalog(version)) as earlier:
            with transaction(earlier):
                _fill(earlier, _checked_lines(source, first, _tables(earlier)))
            migrate(earlier.conn)
            _take_over(db, earlier)


def _fill(db: Database, lines: Iterable[tuple[int, str, dict[str, Any]]]) -> None:
    """Insert the rows of a dump into an empty catalogue, whose transaction the caller holds."""
    db.execute("DELETE FROM method")
    db.execute("PRAGMA defer_foreign_keys = ON")
    for table, rows in _grouped(lines):
        number = rows[0][0]
        try:
            insert(db, table, [row for _, row in rows])
        except (sqlite3.Error, OverflowError, ValueError) as failure:
            if isinstance(failure, sqlite3.Error) and not_written(failure) is not None:
                raise
            raise InputRefused(f"The rows from line {number} on cannot be rows of {table}: {failure}.") from failure
    orphans = db.execute("PRAGMA foreign_key_check").fetchall()
    if orphans:
        table, _, parent, _ = orphans[0]
        raise InputRefused(f"The dump is not whole: a row of {table} names a {parent} that is not in it.")


def _tables(db: Database) -> list[str]:
    names = db.execute("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY name")
    return [name for (name,) in names]


def _take_over(db: Database, earlier: Database) -> None:
    """Every row of *earlier*, which has been brought to this version, into *db*, which is empty."""
    db.execute("DELETE FROM method")
    db.execute("PRAGMA defer_foreign_keys = ON")
    for table in schema.TABLES:
        cursor = earlier.execute(f"SELECT * FROM {table} ORDER BY rowid")
        marks = ", ".join("?" * len(cursor.description))
        db.conn.executemany(f"INSERT INTO {table} VALUES ({marks})", cursor)


def _rows(db: Database, table: str) -> Iterator[dict[str, Any]]:
    names = sorted(db.table(table).columns_dict)
    for row in db.query(f"SELECT * FROM {table} ORDER BY {', '.join([*db.table(table).pks, *names])}"):
        yield {name: _written(row[name]) for name in names}


def _written(value: Any) -> Any:
    return {"base64": base64.b64encode(value).decode()} if isinstance(value, bytes) else value


def _line(value: Mapping[str, Any]) -> bytes:
    return json.dumps(value, ensure_ascii=False, sort_keys=True, allow_nan=False).encode() + b"\n"


def _last_line(rows: Mapping[str, int], sha256: str) -> bytes:
    return _line({"rows": rows, "sha256": sha256})


def _version_of_dump(line: bytes) -> int:
    """The version of the catalogue that a dump was made of, by its first line; refuses what cannot be read."""
    head = _head(line)
    if head is None:
        raise InputRefused("This is no dump of a catalogue: its first line does not say so.")
    version, dump_version = head
    if version > schema.VERSION or dump_version > DUMP_VERSION:
        raise CatalogUnusable(
            f"The dump is of a newer Likeloss (catalogue version {version}; this one reads up to {schema.VERSION})."
            if version > schema.VERSION
            else f"The dump is of a newer Likeloss (dump version {dump_version}; this one reads up to {DUMP_VERSION})."
        )
    if dump_version < DUMP_VERSION:
        raise InputRefused(
            "The dump is of an earlier Likeloss, whose dumps did not end with a count of their rows, so nobody can tell "
            "whether it is whole. Dump the catalogue again with this one, and load that."
        )
    return version


def _head(line: bytes) -> tuple[int, int] | None:
    """Versions of the catalogue and of the dump that a first line names; None for any other line."""
    try:
        head = json.loads(line)
        versions = head["catalogue_version"], head.get("dump_version", 1)
        named = head["format"] == FORMAT and all(type(version) is int and version > 0 for version in versions)
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return None
    return versions if named else None


def _checked_lines(source: BinaryIO, first: bytes, tables: Iterable[str]) -> Iterator[tuple[int, str, dict[str, Any]]]:
    """Line number, table and row of every line between the first and the last, which must say what they come to."""
    digest = hashlib.sha256(first)
    rows = dict.fromkeys(tables, 0)
    last: bytes | None = None
    number = 1
    for number, line in enumerate(source, start=2):
        if last is not None:
            raise InputRefused(f"Line {number} of the dump stands after its last one: something was added to the file.")
        parsed = _read(number, line, rows)
        if parsed is None:
            last = line
            continue
        table, row = parsed
        rows[table] += 1
        digest.update(line)
        yield number, table, row
    if last is None:
        raise InputRefused(
            f"The dump was cut off after line {number}: its last line, which counts its rows, is missing. "
            "Use another copy of it."
        )
    if last != _last_line(rows, digest.hexdigest()):
        counted = json.loads(last)["rows"]
        for table, count in rows.items():
            if counted.get(table) != count:
                raise InputRefused(
                    f"The dump was altered: its last line counts {counted.get(table)} rows of {table}, and it holds "
                    f"{count}. Use another copy of it."
                )
        raise InputRefused(
            "The dump was altered after it was written: its SHA-256 is not the one in its last line. "
            "Use another copy of it."
        )


def _grouped(
    lines: Iterable[tuple[int, str, dict[str, Any]]],
) -> Iterator[tuple[str, list[tuple[int, dict[str, Any]]]]]:
    """Rows with their line, in runs of one table."""
    group: list[tuple[int, dict[str, Any]]] = []
    current = ""
    for number, table, row in lines:
        if (table != current or len(group) >= _AT_ONCE) and group:
            yield current, group
            group = []
        current = table
        group.append((number, row))
    if group:
        yield current, group


def _read(number: int, line: bytes, tables: Container[str]) -> tuple[str, dict[str, Any]] | None:
    """Table and row of a line; None for a last line, {"rows": {...}, "sha256": text}."""
    try:
        parsed = json.loads(line)
        if parsed.keys() == {"rows", "sha256"} and isinstance(parsed["rows"], dict) and line.endswith(b"\n"):
            return None
        table, row = parsed["table"], parsed["row"]
        if table not in tables or not row or not all(name.isidentifier() for name in row):
            raise ValueError(table)
        return table, {
            name: base64.b64decode(value["base64"], validate=True) if isinstance(value, dict) else value
            for name, value in row.items()
        }
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as failure:
        raise InputRefused(f"Line {number} of the dump is no row of a catalogue. Was the file cut off?") from failure
