"""The integrity of a catalogue: what SQLite knows, and what only its readings, files and keys can tell."""

from __future__ import annotations

import hashlib
import math
import sqlite3
import zlib
from collections import defaultdict
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

from sqlite_utils import Database

from catalog import queries, schema
from catalog.checking.idempotence import IDENTITIES
from catalog.checking.known import Row
from catalog.checking.spots import KEY, digest_of_readings
from catalog.connection import in_a_line, not_written, open_catalog
from catalog.errors import CatalogUnusable
from catalog.exporting.soundness import STEPS, Finding
from catalog.method import versions_of
from catalog.queries.known import numbered_rows
from catalog.queries.marks import declared_marks

_RAW = "SELECT sha256, size_bytes, deflated FROM raw_content WHERE deflated IS NOT NULL ORDER BY sha256"
_DECLARATIONS = "SELECT batch_id, said FROM declaration JOIN batch USING (batch_id) ORDER BY sequence"


def verify(db: Database) -> list[Finding]:
    """Everything that should not be, in a stable order; nothing for a sound catalogue."""
    return list(findings_of(db))


def findings_of(db: Database) -> Iterator[Finding]:
    """The same one by one, the quick checks first. Damage ends the step that meets it, and the next one goes on."""
    steps = (*STEPS, _twins, _missing_files, _epochs, _methods, _marks, _raw_contents)
    as_text = db.conn.text_factory
    db.conn.text_factory = _readable
    trouble: Exception | None = None
    damaged = False
    try:
        for step in steps:
            try:
                for finding in step(db):
                    damaged = True
                    yield finding
            except sqlite3.Error as failure:
                if not_written(failure) is not None:  # locked, say, which is not damage
                    raise
                damaged = True
                yield Finding("", None, f"A part of the file cannot be read: {in_a_line(failure)}.")
            except Exception as failure:
                trouble = trouble or failure
    finally:
        db.conn.text_factory = as_text
    # Damaged values make a step fail in ways that cannot be listed. Where nothing is damaged, it is a bug.
    if trouble is not None and not damaged:
        raise trouble


def damage_of(path: Path) -> str | None:
    """What is wrong with the catalogue at *path*, as one sentence; None for a sound one, or where there is none."""
    if not path.is_file():
        return None
    try:
        with closing(open_catalog(path, readonly=True)) as db:
            first = next(findings_of(db), None)
    except CatalogUnusable as failure:
        return str(failure)
    return None if first is None else str(first)


def _readable(text: bytes) -> str:
    """A text that cannot be decoded is read all the same, so that the other steps go on; `values` reports it."""
    return text.decode("utf-8", "replace")


def _twins(db: Database) -> Iterator[Finding]:
    """Rows with the same key, which entry never lets in."""
    for table, identity in IDENTITIES.items():
        first: dict[tuple[Any, ...], int] = {}
        for rowid, row in numbered_rows(db, table):
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
    if db.table("raw_content").count_where("deflated IS NULL"):
        return
    for table in schema.TABLES:
        if table in ("extra", "row_again") or "source_row" not in db.table(table).columns_dict:
            continue
        for batch, file, count in db.execute(
            f"""SELECT batch_id, source_file, count(*) FROM {table} AS x
                WHERE NOT EXISTS (
                    SELECT 1 FROM raw_file AS f WHERE f.batch_id = x.batch_id
                       AND (f.path = x.source_file
                            OR substr(x.source_file, 1, length(f.path) + 1) = f.path || '/'))
                GROUP BY batch_id, source_file ORDER BY batch_id, source_file"""
        ).fetchall():
            rows = f"{count} row{'s' * (count > 1)}"
            yield Finding(table, None, f"{rows} came from {batch}/{file}, whose raw file is missing.")


def _epochs(db: Database) -> Iterator[Finding]:
    readings: dict[tuple[Any, ...], list[Row]] = defaultdict(list)
    for _, row in numbered_rows(db, "spot_reading"):
        readings[tuple(row[column] for column in KEY)].append(row)
    for rowid, epoch in numbered_rows(db, "epoch"):
        of_epoch = sorted(
            readings.get(tuple(epoch[column] for column in KEY), []), key=lambda reading: reading["reading_number"]
        )
        if not of_epoch:
            yield Finding("epoch", rowid, f"{epoch['spot']} from {epoch['valid_from']} has no readings.")
            continue
        for column, value in digest_of_readings(of_epoch).items():
            if not _same(value, epoch[column]):
                text = f"{column} of {epoch['spot']} from {epoch['valid_from']} is {epoch[column]}"
                yield Finding("epoch", rowid, f"{text}, but its readings come to {value}.")


def _methods(db: Database) -> Iterator[Finding]:
    """The versions are the declarations of the batches, laid over each other."""
    versions = queries.methods(db)
    if db.table("batch").count_where("entered_utc IS NULL"):
        return  # a copy, which keeps the versions only
    expected = ["{}", *(constants.to_json() for _, constants in versions_of(db.execute(_DECLARATIONS)))]
    for number, (stored, declared) in enumerate(zip(versions, expected, strict=False), start=1):
        if stored.to_json() != declared:
            yield Finding("method", number, f"It is {stored.to_json()}, but the batches said {declared}.")
    if len(versions) != len(expected):
        text = f"There are {len(versions)} versions, but the batches said {len(expected)}."
        yield Finding("method", None, text)


def _marks(db: Database) -> Iterator[Finding]:
    """The marks of a role are what the batches declared, laid over each other."""
    if db.table("batch").count_where("entered_utc IS NULL"):
        return  # a copy, which keeps those in force only
    declared = declared_marks(db)
    for rowid, role in numbered_rows(db, "role"):
        expected = declared[role["role_id"]]
        for name, value in {**expected.values(), "marks_batch_id": expected.batch_id}.items():
            if role[name] != value:
                text = f"{name} of {role['role_id']} is {role[name]}, but the batches said {value}."
                yield Finding("role", rowid, text)


def _same(a: Any, b: Any) -> bool:
    if isinstance(a, float) and isinstance(b, float):
        return math.isclose(a, b, rel_tol=1e-9, abs_tol=1e-12)
    return bool(a == b)
