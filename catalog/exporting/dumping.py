"""A whole catalogue as plain text, JSON Lines in a stable order, and back again without a byte of difference.

The first line says what it is. Then comes one line a row: {"row": {column: value}, "table": name}, tables in the
order in which they can be filled, rows by their key, columns by name. Bytes are {"base64": text}.
"""

from __future__ import annotations

import base64
import binascii
import json
import sqlite3
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, BinaryIO

from sqlite_utils import Database

from catalog import schema
from catalog.entering import writable
from catalog.errors import CatalogUnusable, InputRefused
from catalog.storing import insert

FORMAT = "likeloss catalogue"
_AT_ONCE = 1000  # rows written to the file together


def dump(db: Database, out: BinaryIO) -> None:
    """Write every row of *db* to *out*."""
    out.write(_line({"catalogue_version": schema.VERSION, "format": FORMAT}))
    for table in schema.TABLES:
        for row in _rows(db, table):
            out.write(_line({"row": row, "table": table}))


def load(source: BinaryIO, path: Path) -> None:
    """Make the catalogue at *path* from a dump.

    Raises  InputRefused: the catalogue holds data already, or the text is no whole dump (with the line);
            CatalogUnusable for a dump of a newer version.
    """
    with writable(path) as db:
        if any(db.execute(f"SELECT 1 FROM {table} LIMIT 1").fetchone() for table in ("batch", "raw_content", "device")):
            raise InputRefused(f"{path} holds data already. Load into a new catalogue: name another with --catalog.")
        _check_head(source.readline())
        db.execute("DELETE FROM method")
        db.execute("PRAGMA defer_foreign_keys = ON")
        for table, rows in _grouped(source):
            number = rows[0][0]
            try:
                insert(db, table, [row for _, row in rows])
            except sqlite3.Error as failure:
                raise InputRefused(f"The rows from line {number} on cannot be rows of {table}: {failure}.") from failure
        orphans = db.execute("PRAGMA foreign_key_check").fetchall()
        if orphans:
            table, _, parent, _ = orphans[0]
            raise InputRefused(f"The dump is not whole: a row of {table} names a {parent} that is not in it.")


def _rows(db: Database, table: str) -> Iterator[dict[str, Any]]:
    columns = db.execute(f"PRAGMA table_info({table})").fetchall()
    names = sorted(column[1] for column in columns)
    key = [name for _, name in sorted((column[5], column[1]) for column in columns if column[5])]
    order = ", ".join([*key, *names])
    for row in db.execute(f"SELECT {', '.join(names)} FROM {table} ORDER BY {order}"):
        yield {name: _written(value) for name, value in zip(names, row, strict=True)}


def _written(value: Any) -> Any:
    return {"base64": base64.b64encode(value).decode()} if isinstance(value, bytes) else value


def _line(value: Mapping[str, Any]) -> bytes:
    return json.dumps(value, ensure_ascii=False, sort_keys=True, allow_nan=False).encode() + b"\n"


def _check_head(line: bytes) -> None:
    try:
        head = json.loads(line)
        version = head["catalogue_version"] if head["format"] == FORMAT else None
    except (ValueError, KeyError, TypeError):
        version = None
    if not isinstance(version, int):
        raise InputRefused("This is no dump of a catalogue: its first line does not say so.")
    if version > schema.VERSION:
        raise CatalogUnusable(
            f"The dump is of a newer Likeloss (catalogue version {version}; this one reads up to {schema.VERSION})."
        )


def _grouped(source: BinaryIO) -> Iterator[tuple[str, list[tuple[int, dict[str, Any]]]]]:
    """Rows with their line, in runs of one table."""
    group: list[tuple[int, dict[str, Any]]] = []
    current = ""
    for number, line in enumerate(source, start=2):
        table, row = _read(number, line)
        if (table != current or len(group) >= _AT_ONCE) and group:
            yield current, group
            group = []
        current = table
        group.append((number, row))
    if group:
        yield current, group


def _read(number: int, line: bytes) -> tuple[str, dict[str, Any]]:
    try:
        found = json.loads(line)
        table, row = found["table"], found["row"]
        if table not in schema.TABLES or not row or not all(name.isidentifier() for name in row):
            raise ValueError(table)
        return table, {
            name: base64.b64decode(value["base64"], validate=True) if isinstance(value, dict) else value
            for name, value in row.items()
        }
    except (ValueError, KeyError, TypeError, AttributeError, binascii.Error) as failure:
        raise InputRefused(f"Line {number} of the dump is no row of a catalogue. Was the file cut off?") from failure
