"""The integrity of a catalogue: what SQLite knows, and what only its readings, files and keys can tell."""

from __future__ import annotations

import hashlib
import math
import re
import sqlite3
import zlib
from collections import defaultdict
from collections.abc import Iterable, Iterator
from contextlib import closing
from dataclasses import dataclass
from typing import Any

from sqlite_utils import Database

from catalog import queries, schema
from catalog.checking.idempotence import IDENTITIES
from catalog.checking.known import Row
from catalog.checking.spots import KEY, digest_of_readings
from catalog.method import versions_of

_RAW = "SELECT sha256, size_bytes, deflated FROM raw_content WHERE deflated IS NOT NULL ORDER BY sha256"
_DECLARATIONS = "SELECT batch_id, said FROM declaration JOIN batch USING (batch_id) ORDER BY sequence"


@dataclass(frozen=True)
class Finding:
    """Something that should not be.

    table  where; "" for the file as a whole
    row    rowid there, as SQLite tells it; None where the finding is not of one row
    """

    table: str
    row: int | None
    text: str

    def __str__(self) -> str:
        place = self.table + (f" row {self.row}" if self.row is not None else "")
        return f"{place}: {self.text}" if place else self.text


def verify(db: Database) -> list[Finding]:
    """Everything that should not be, in a stable order; nothing for a sound catalogue."""
    steps = (_file, _orphans, _twins, _raw_contents, _missing_files, _epochs, _methods)
    return [finding for step in steps for finding in step(db)]


def _file(db: Database) -> Iterator[Finding]:
    db.execute("PRAGMA ignore_check_constraints = OFF")
    tables: list[str] = []
    for (text,) in db.execute("PRAGMA integrity_check").fetchall():
        impossible = re.search(r"(?:constraint failed|value) in (\w+)", text)
        if impossible and impossible[1] in schema.TABLES:
            tables.append(impossible[1])
        elif text != "ok":
            yield Finding("", None, f"The file is damaged: {text}.")
    for table in dict.fromkeys(tables):
        yield from _impossible_rows(db, table)


def _impossible_rows(db: Database, table: str) -> Iterator[Finding]:
    """SQLite names the table only; a fresh one refuses the rows themselves."""
    with closing(sqlite3.connect(":memory:")) as fresh:
        fresh.execute(schema.TABLES[table])
        for rowid, row in _rows(db, table):
            try:
                fresh.execute(
                    f"INSERT INTO {table} ({', '.join(row)}) VALUES ({', '.join('?' * len(row))})", list(row.values())
                )
            except sqlite3.IntegrityError as failure:
                yield Finding(table, rowid, f"A value is impossible: {failure}.")


def _orphans(db: Database) -> Iterator[Finding]:
    for table, rowid, parent, _ in sorted(db.execute("PRAGMA foreign_key_check").fetchall()):
        yield Finding(table, rowid, f"It names a {parent.replace('_', ' ')} that is not there.")


def _twins(db: Database) -> Iterator[Finding]:
    """Rows with the same key, which entry never lets in."""
    for table, identity in IDENTITIES.items():
        first: dict[tuple[Any, ...], int] = {}
        for rowid, row in _rows(db, table):
            other = first.setdefault(identity.key(row), rowid)
            if other != rowid:
                yield Finding(table, rowid, f"It is the same as row {other}: {identity.title(row)}.")


def _raw_contents(db: Database) -> Iterator[Finding]:
    names: dict[str, list[str]] = defaultdict(list)
    for file in queries.raw_files(db):
        names[file.sha256].append(f"{file.batch_id}/{file.path}")
    for sha256, size, deflated in db.execute(_RAW):
        name = ", ".join(names.get(sha256, [sha256]))
        try:
            content = zlib.decompress(deflated)
        except zlib.error:
            yield Finding("raw_content", None, f"The bytes of {name} cannot be unpacked.")
            continue
        if hashlib.sha256(content).hexdigest() != sha256 or len(content) != size:
            yield Finding("raw_content", None, f"The bytes of {name} are not those that were entered.")


def _missing_files(db: Database) -> Iterator[Finding]:
    """Rows whose file is not kept: numbers without proof. A copy has left files out on purpose."""
    if db.execute("SELECT 1 FROM raw_content WHERE deflated IS NULL LIMIT 1").fetchone():
        return
    for table in schema.TABLES:
        columns = {column[1] for column in db.execute(f"PRAGMA table_info({table})")}
        if table in ("extra", "row_again") or "source_row" not in columns:
            continue
        for batch, file, count in db.execute(
            f"""SELECT batch_id, source_file, count(*) FROM {table} AS x
                WHERE NOT EXISTS (SELECT 1 FROM raw_file AS f WHERE f.batch_id = x.batch_id AND f.path = x.source_file)
                GROUP BY batch_id, source_file ORDER BY batch_id, source_file"""
        ).fetchall():
            rows = f"{count} row{'s' * (count > 1)}"
            yield Finding(table, None, f"{rows} came from {batch}/{file}, whose raw file is missing.")


def _epochs(db: Database) -> Iterator[Finding]:
    readings: dict[tuple[Any, ...], list[Row]] = defaultdict(list)
    for _, row in _rows(db, "spot_reading"):
        readings[tuple(row[column] for column in KEY)].append(row)
    for rowid, epoch in _rows(db, "epoch"):
        own = sorted(
            readings.get(tuple(epoch[column] for column in KEY), []), key=lambda reading: reading["reading_number"]
        )
        if not own:
            yield Finding("epoch", rowid, f"{epoch['spot']} from {epoch['valid_from']} has no readings.")
            continue
        for column, value in digest_of_readings(own).items():
            if not _same(value, epoch[column]):
                text = f"{column} of {epoch['spot']} from {epoch['valid_from']} is {epoch[column]}"
                yield Finding("epoch", rowid, f"{text}, but its readings come to {value}.")


def _methods(db: Database) -> Iterator[Finding]:
    """The versions are what the batches said, laid over each other."""
    versions = queries.methods(db)
    if db.execute("SELECT 1 FROM batch WHERE entered_utc IS NULL LIMIT 1").fetchone():
        return  # a copy, which keeps the versions only
    expected = ["{}", *(constants.to_json() for _, constants in versions_of(db.execute(_DECLARATIONS)))]
    for number, (found, wanted) in enumerate(zip(versions, expected, strict=False), start=1):
        if found.to_json() != wanted:
            yield Finding("method", number, f"It is {found.to_json()}, but the batches said {wanted}.")
    if len(versions) != len(expected):
        text = f"There are {len(versions)} versions, but the batches said {len(expected)}."
        yield Finding("method", None, text)


def _rows(db: Database, table: str) -> Iterable[tuple[int, Row]]:
    cursor = db.execute(f"SELECT rowid, x.* FROM {table} AS x ORDER BY rowid")
    names = [column[0] for column in cursor.description][1:]
    for rowid, *values in cursor:
        yield rowid, dict(zip(names, values, strict=True))


def _same(a: Any, b: Any) -> bool:
    if isinstance(a, float) and isinstance(b, float):
        return math.isclose(a, b, rel_tol=1e-9, abs_tol=1e-12)
    return bool(a == b)
