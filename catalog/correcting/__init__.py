"""Corrections: a row shows the new value, the ledger keeps every old one, with reason, date and who noticed.

A file of corrections is applied whole or not at all. The same file again, or a line the ledger holds
already, changes nothing. What follows from a corrected value (an epoch, a place, a digest) follows at once.
"""

from __future__ import annotations

import hashlib
import sqlite3
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlite_utils import Database

from catalog.checking.known import known_from
from catalog.checking.troubles import Trouble
from catalog.correcting.consequences import (
    check_seats,
    count_late_again,
    declare_marks,
    digest_readings,
    digest_requests,
    keep_old_names,
    place_again,
)
from catalog.correcting.lines import read_lines
from catalog.correcting.rows import Change, Finder, origin_of, rebuild
from catalog.entering import transaction
from catalog.errors import BatchRefused, InputRefused, Problem
from catalog.reading.folder import MAX_TABLE_BYTES, Folder
from catalog.storing import insert

__all__ = ["CorrectionReport", "correct_file"]


@dataclass(frozen=True)
class CorrectionReport:
    """What a file of corrections did: lines applied now, and lines the catalogue knew already."""

    file: str
    applied: int
    known: int


def correct_file(path: Path, *, catalog: Database, now: datetime) -> CorrectionReport:
    """Apply every line of the file at *path*, or none.

    now      the day of a correction is not after it
    Raises   InputRefused when there is no such file, BatchRefused with every problem in it.
    """
    if not path.is_file():
        raise InputRefused(f"There is no file {path}.")
    folder = Folder(path.parent.resolve())
    content = folder.read(path.name, limit=MAX_TABLE_BYTES)
    sha256 = hashlib.sha256(content).hexdigest()
    with transaction(catalog):
        lines, problems = read_lines(path.name, content, today=now.date())
        if catalog.table("correction_file").count_where("sha256 = ?", [sha256]):
            return CorrectionReport(path.name, 0, len(lines))
        finder = Finder(catalog, known_from(catalog), folder)
        for line in lines:
            finder.apply(line)
        problems += finder.problems
        for extra in finder.attached.values():
            _keep(catalog, extra)
        _write(catalog, finder.changes, problems)
        if problems:
            raise BatchRefused(sorted(problems, key=lambda problem: problem.row))
        applied = sum(len(change.lines) for change in finder.changes.values())
        if applied:
            number = _keep_file(catalog, path.name, content, finder.attached)
            _note(catalog, finder.changes, number)
    return CorrectionReport(path.name, applied, finder.known_lines)


def _write(db: Database, changes: Mapping[tuple[str, int], Change], problems: list[Problem]) -> None:
    """Things first, then readings, then what rests on them; each step sees the corrected ones before it."""
    db.execute("PRAGMA defer_foreign_keys = ON")
    things = [change for change in changes.values() if change.subject.stem is None]
    readings = [change for change in changes.values() if change.subject.stem == "spots"]
    results = [change for change in changes.values() if change.subject.stem not in (None, "spots")]
    _replace(db, things, problems)
    keep_old_names(db, changes)
    if not problems:
        declare_marks(db, changes, problems)
    rebuild(readings, known_from(db), problems)
    _replace(db, readings, problems)
    if not problems:
        digest_readings(db, changes, problems)
    known = known_from(db)
    rebuild(results, known, problems)
    _replace(db, results, problems)
    if not problems:
        check_seats(db, changes, known, problems)
    if problems:
        return
    place_again(db, changes, problems)
    digest_requests(db, changes, known)
    count_late_again(db, changes)
    _refuse_orphans(db, changes, problems)


def _replace(db: Database, changes: list[Change], problems: list[Problem]) -> None:
    """Out with all the old rows before the new ones come in, so that two may change places."""
    for change in changes:
        db.execute(f"DELETE FROM {change.subject.table} WHERE rowid = ?", [change.rowid])
    for change in changes:
        try:
            insert(db, change.subject.table, [{"rowid": change.rowid, **change.new}])
        except sqlite3.IntegrityError as failure:
            name, line = change.lines[-1]
            if "UNIQUE" in str(failure):
                trouble = Trouble(
                    f"Then two rows of {change.subject.name} would be the same one.",
                    "Correct what tells them apart, or withdraw one of them.",
                    "key-twice",
                )
            elif "NOT NULL" in str(failure):
                trouble = Trouble(f"{name} of {change.subject.name} is required.", "Write a value.", "blank")
            else:
                trouble = Trouble(f"{line.now!r} does not fit the rest of the row.", "Correct both.", "does-not-fit")
            problems.append(line.problem(trouble))


def _refuse_orphans(db: Database, changes: Mapping[tuple[str, int], Change], problems: list[Problem]) -> None:
    for table, rowid, parent, _ in db.execute("PRAGMA foreign_key_check").fetchall():
        change = changes.get((table, rowid)) or next(iter(changes.values()))
        missing = Trouble(
            f"{change.subject.name} would name a {parent.replace('_', ' ')} that is not there.",
            "Register it first, or correct the name.",
            "unknown-name",
        )
        problems.append(change.lines[-1][1].problem(missing))


def _keep_file(db: Database, name: str, content: bytes, attached: Mapping[str, bytes]) -> int:
    """The number of the file, once its bytes are kept and what came along is remembered."""
    number, after = db.execute(
        "SELECT (SELECT coalesce(max(number), 0) + 1 FROM correction_file), coalesce(max(sequence), 0) FROM batch"
    ).fetchone()
    db.execute("INSERT INTO correction_file VALUES (?, ?, ?, ?)", [number, name, _keep(db, content), after])
    for path, extra in sorted(attached.items()):
        db.execute("INSERT INTO correction_attachment VALUES (?, ?, ?)", [number, path, _keep(db, extra)])
    return int(number)


def _keep(db: Database, content: bytes) -> str:
    """The hash of *content*, which is in the catalogue from now on."""
    sha256 = hashlib.sha256(content).hexdigest()
    db.execute("INSERT OR IGNORE INTO raw_content VALUES (?, ?, ?)", [sha256, len(content), zlib.compress(content, 1)])
    return sha256


def _note(db: Database, changes: Mapping[tuple[str, int], Change], number: int) -> None:
    """The ledger, in the order of the file."""
    entries = [(line, name, change) for change in changes.values() for name, line in change.lines]
    for line, name, change in sorted(entries, key=lambda entry: entry[0].row):
        table, row = change.subject.table, change.new
        entry = {
            "file_number": number,
            "file_row": line.row,
            "table_name": change.subject.name,
            "row_key": line.key_text,
            "column_name": name,
            **{column: getattr(line, column) for column in ("was", "now", "reason", "noticed_by", "date")},
            "device_id": row.get("device_id"),
            "run_id": row["run_id"] if table == "run" else None,
            **origin_of(db, table, row),
        }
        insert(db, "correction", [entry])
