"""Whether the file of a catalogue is what was written to it: SQLite's own checks, its tables, and the form of its values.

A bit that a disk or a cable turned may leave a file that SQLite reads without complaint and that holds a day called
"2025-05-1*", a text that cannot be decoded, or a throughput of 10^200 Mbit/s. What entry would refuse is damage.
"""

from __future__ import annotations

import json
import math
import re
import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass
from datetime import date, datetime
from functools import partial
from itertools import islice
from textwrap import shorten
from typing import Any

from sqlite_utils import Database

from catalog import schema
from catalog.checking.times import read_day_or_month, utc_text
from catalog.connection import create_catalog
from catalog.dates import has_clock
from catalog.errors import CatalogUnusable
from catalog.queries.known import numbered_rows
from catalog.standards.channels import BANDS
from catalog.standards.phy_rates import require_amendment

LARGEST = 1e15  # no quantity of a catalogue comes near it in its unit; beyond it a float no longer counts in ones


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


def require_sound(db: Database) -> None:
    """What `load` would refuse, before a copy of the catalogue replaces an older one.

    Raises  CatalogUnusable with the first finding.
    """
    for step in STEPS:
        for finding in islice(step(db), 1):
            raise CatalogUnusable(f"The catalogue is damaged: {finding} `likeloss verify` lists what else is.")


def integrity(db: Database) -> Iterator[Finding]:
    """SQLite's check of pages and indexes. Constraints are left to `values`, which names the rows that break one."""
    for (text,) in db.execute("PRAGMA integrity_check").fetchall():
        if text != "ok" and not re.search(r"(?:constraint failed|value) in \w+", text):
            yield Finding("", None, f"The file is damaged: {shorten(text, 120, placeholder=' …')}.")


def definitions(db: Database) -> Iterator[Finding]:
    """Tables, indexes and views that are missing or not defined as in a fresh catalogue. Further ones do no harm."""
    with closing(create_catalog(None)) as fresh:
        expected, there = (
            {
                (kind, name): sql
                for kind, name, sql in one.execute("SELECT type, name, sql FROM sqlite_schema").fetchall()
            }
            for one in (fresh, db)
        )
    for (kind, name), sql in expected.items():
        if (kind, name) not in there:
            yield Finding("", None, f"The {kind} {name} is missing.")
        elif there[kind, name] != sql:
            yield Finding("", None, f"The {kind} {name} is not defined as it should be.")


def orphans(db: Database) -> Iterator[Finding]:
    """Rows that name what is not there."""
    for table, rowid, parent, _ in sorted(db.execute("PRAGMA foreign_key_check").fetchall(), key=str):
        yield Finding(table, rowid, f"It names a {parent.replace('_', ' ')} that is not there.")


def values(db: Database, table: str) -> Iterator[Finding]:
    """Values that entry never lets in: those a fresh table refuses, and those of another form than is written there.

    SQLite's own check of constraints names the table only, and overlooks some (3.40: a list of allowed words).
    """
    as_text = db.conn.text_factory
    db.conn.text_factory = bytes  # what cannot be decoded is found here
    try:
        with closing(sqlite3.connect(":memory:", isolation_level=None)) as fresh:
            fresh.execute(schema.TABLES[table])
            for rowid, row in numbered_rows(db, table):
                yield from (Finding(table, rowid, fault) for fault in _faults(row, table, fresh))
    finally:
        db.conn.text_factory = as_text


def _faults(row: Mapping[str, Any], table: str, fresh: sqlite3.Connection) -> Iterator[str]:
    faults = [f"{column} {fault}." for column, value in row.items() if (fault := _fault(column, value)) is not None]
    if faults:
        yield from faults
        return
    texts = [
        value.decode() if isinstance(value, bytes) and name not in _BINARY else value for name, value in row.items()
    ]
    try:
        fresh.execute(f"INSERT INTO {table} ({', '.join(row)}) VALUES ({', '.join('?' * len(row))})", texts)
        fresh.execute(f"DELETE FROM {table}")
    except sqlite3.IntegrityError as failure:
        yield f"A value is impossible: {failure}."


def _fault(column: str, value: Any) -> str | None:
    if isinstance(value, float | int):
        return None if math.isfinite(value) and abs(value) < LARGEST else f"is {value}, which nothing measures"
    if not isinstance(value, bytes) or column in _BINARY:
        return None
    try:
        text = value.decode()
    except UnicodeDecodeError:
        return "holds bytes that are no text"
    if "\0" in text:
        return "holds a zero byte"
    try:
        _reader_of(column)(text)
    except (ValueError, TypeError, RecursionError):
        return f"is {text[:40]!r}, which entry never writes there"
    return None


def _reader_of(column: str) -> Callable[[str], object]:
    if column == "at_utc":
        return _instant_or_date
    return _instant if column.endswith("_utc") else _READERS.get(column, str)


def _instant(text: str) -> None:
    if utc_text(datetime.fromisoformat(text)) != text:
        raise ValueError(text)


def _day(text: str) -> None:
    if date.fromisoformat(text).isoformat() != text:
        raise ValueError(text)


def _day_or_month(text: str) -> None:
    if read_day_or_month(text) != text:
        raise ValueError(text)


def _instant_or_date(text: str) -> None:
    (_instant if has_clock(text) else _day_or_month)(text)


def _bands(text: str) -> None:
    if not set(text.split("+")) <= set(BANDS):
        raise ValueError(text)


_BINARY = ("deflated",)
_READERS: Mapping[str, Callable[[str], object]] = {
    "date": _day_or_month,
    "from_date": _day,
    "received": _day,
    "returned": _day,
    "released": _day,
    "valid_from": _day,
    "spot_since": _day,
    "band": _bands,
    "amendment": require_amendment,
    "samples": json.loads,
    "constants": json.loads,
    "said": json.loads,
    "recipe": json.loads,
}

STEPS: Sequence[Callable[[Database], Iterator[Finding]]] = (
    integrity,
    definitions,
    orphans,
    *(partial(values, table=table) for table in schema.TABLES),
)
