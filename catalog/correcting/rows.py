"""Rows that corrections name: found by their key, changed line by line, and checked like rows of a batch."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from sqlite_utils import Database

from catalog.checking.cells import Attempt, Instant
from catalog.checking.known import Known, Row
from catalog.checking.resolving import Resolver
from catalog.checking.results import BUILDERS
from catalog.checking.rows import TypedRow, TypedTable
from catalog.checking.spots import reading_rows
from catalog.checking.troubles import Trouble
from catalog.correcting.lines import Line
from catalog.correcting.subjects import Subject, equal, subject_called
from catalog.errors import InputRefused, Problem
from catalog.queries.known import numbered_rows
from catalog.reading.folder import MAX_IMAGE_BYTES, Folder
from catalog.reading.format import FINISHED, TABLES
from catalog.reading.pictures import NotAPicture, decoded
from catalog.records.origins import names_file

_PLACE_COLUMNS = frozenset({"spot", "session", "band"})


@dataclass
class Change:
    """One row with the lines that change it.

    old, new  the row before and after, by column
    lines     (column as the batch format calls it, line)
    """

    subject: Subject
    rowid: int
    old: Row
    new: Row
    lines: list[tuple[str, Line]] = field(default_factory=list)

    @property
    def columns(self) -> set[str]:
        """Columns of the catalogue whose value is another one now."""
        return {column for column, value in self.new.items() if self.old[column] != value}

    def line_of(self, name: str) -> Line:
        """The line that changed column *name*, else the last one."""
        return next((line for column, line in reversed(self.lines) if column == name), self.lines[-1][1])


class Finder:
    """Finds rows and applies lines to them, in the order of the file; each line meets what the earlier ones made."""

    def __init__(self, db: Database, known: Known, folder: Folder) -> None:
        self.problems: list[Problem] = []
        self.changes: dict[tuple[str, int], Change] = {}
        self.known_lines = 0
        self.attached: dict[str, bytes] = {}
        self._db = db
        self._known = known
        self._folder = folder
        self._tables: dict[str, dict[int, Row]] = {}
        self._zones = {row["batch_id"]: row["timezone"] for row in known.of("batch")}

    def apply(self, line: Line) -> None:
        """One line, or the problem with it."""
        subject = subject_called(line.table, line.key)
        if isinstance(subject, Trouble):
            self.problems.append(line.problem(subject, "table"))
            return
        name = subject.name_of(line.column)
        if isinstance(name, Trouble):
            self.problems.append(line.problem(name, "column"))
            return
        if name in subject.fixed or name not in subject.columns:
            why = Trouble(
                f"{name} of {subject.name} is not corrected. {subject.fixed.get(name, '')}".rstrip(), "", "fixed"
            )
            self.problems.append(line.problem(why, "column"))
            return
        row = self._find(subject, line)
        if isinstance(row, Trouble):
            self.problems.append(line.problem(row, "key"))
            return
        self._change(subject, row, name, line)

    def _rows(self, table: str) -> dict[int, Row]:
        if table not in self._tables:
            self._tables[table] = dict(numbered_rows(self._db, table))
        return self._tables[table]

    def _find(self, subject: Subject, line: Line) -> int | Trouble:
        wanted: dict[str, str] = {}
        for typed, value in line.key.items():
            name = subject.name_of(typed)
            if isinstance(name, Trouble):
                return name
            wanted[name] = value
        if not wanted and subject.name != "site":
            return Trouble("The key is empty.", "Name the row by column=value, joined by semicolons.", "blank")
        rows = self._rows(subject.table)
        matching = list(rows)
        if subject.table == "embargo":
            of = next((name for name in ("unit", "firmware", "device") if name in wanted), "batch")
            matching = [rowid for rowid in matching if rows[rowid]["subject"] == of]
        for name, text in wanted.items():
            if name == "file" and name in subject.address:
                matching = [rowid for rowid in matching if names_file(text, rows[rowid]["source_file"])]
                continue
            read: dict[str | None, Any] = {}
            left = []
            for rowid in matching:
                zone = self._zones.get(rows[rowid].get("batch_id")) if name == "when" else None
                if zone not in read:
                    read[zone] = subject.read(name, text, zone=zone, known=self._known)
                if isinstance(read[zone], Trouble):
                    return Trouble(f"{name}: {read[zone].expected}", read[zone].remedy, read[zone].code)
                if equal(read[zone], subject.present(name, rows[rowid])):
                    left.append(rowid)
            matching = left
        if len(matching) == 1:
            return matching[0]
        if not matching:
            return Trouble(f"{subject.name} has no row with {line.key_text}.", "Correct the key.", "no-such-row")
        return Trouble(
            f"{len(matching)} rows of {subject.name} have {line.key_text}.",
            "Add columns that tell them apart, or name the row by batch, file and row.",
            "several-rows",
        )

    def _change(self, subject: Subject, rowid: int, name: str, line: Line) -> None:
        row = self._rows(subject.table)[rowid]
        zone = self._zones.get(row.get("batch_id"))
        was, now = (subject.read(name, text, zone=zone, known=self._known) for text in (line.was, line.now))
        present = subject.present(name, row)
        if isinstance(now, Trouble):
            self.problems.append(line.problem(now))
            return
        if (isinstance(was, Trouble) or not equal(was, present)) and not _same_text(line.was, present):
            if equal(now, present) and self._noted(subject, row, name, line):
                self.known_lines += 1
                return
            shown = _shown(present)
            other = Trouble(
                f"{name} is {shown} in the catalogue, not {line.was or 'empty'}.",
                "Correct was, or leave the line out if it was corrected already.",
                "was-differs",
            )
            self.problems.append(line.problem(other, "was"))
            return
        replaced = self._replaced(subject, name, line)
        if isinstance(replaced, Trouble):
            self.problems.append(line.problem(replaced))
            return
        changed = replaced or _stored(subject, name, now, line)
        if all(row[column] == value for column, value in changed.items()) or (equal(now, present) and not replaced):
            same = Trouble(
                "was and now are the same.", "Correct one of them, or leave the line out.", "nothing-changes"
            )
            self.problems.append(line.problem(same))
            return
        key = (subject.table, rowid)
        if key not in self.changes:
            self.changes[key] = Change(subject, rowid, dict(row), row)
        self.changes[key].lines.append((name, line))
        row |= changed

    def _noted(self, subject: Subject, row: Row, name: str, line: Line) -> bool:
        """Whether the ledger holds this very correction."""
        origin = origin_of(self._db, subject.table, row)
        where = (
            "batch_id = ? AND source_file = ? AND source_row IS ? "
            "AND table_name = ? AND column_name = ? AND was = ? AND now = ?"
        )
        values = [*origin.values(), subject.name, name, line.was, line.now]
        return bool(self._db.table("correction").count_where(where, values))

    def _replaced(self, subject: Subject, name: str, line: Line) -> Row | Trouble:
        """The columns that a new file changes, for an article or an image; empty for all other corrections."""
        if name != "file" or subject.table not in ("article", "image"):
            return {}
        if (sentence := self._folder.refusal(line.now)) is not None:
            return Trouble(sentence, "The new file stands beside the file of corrections.", "file")
        try:
            content = self._folder.read(line.now, limit=MAX_IMAGE_BYTES)
        except InputRefused as refusal:
            return Trouble(str(refusal), "", "too-large")
        self.attached[line.now] = content
        if subject.table == "image":
            try:
                decoded(content)
            except NotAPicture as wrong:
                return Trouble(wrong.sentence, wrong.remedy, wrong.code)
            return {"path": line.now, "sha256": hashlib.sha256(content).hexdigest()}
        try:
            return {"path": line.now, "text": content.decode("utf-8-sig").replace("\r\n", "\n")}
        except UnicodeDecodeError:
            return Trouble("The article is not UTF-8 text.", "Save it as UTF-8.", "not-utf-8")


def _stored(subject: Subject, name: str, value: Any, line: Line) -> Row:
    """The columns that a value changes."""
    column = subject.columns[name]
    if isinstance(value, Instant):
        typed = {"when": "at_typed", "until": "until_typed"}.get(name)
        return {column: value.utc} | ({typed: value.typed} if typed else {})
    if name == "throughput":
        attempt = value or Attempt(None, None)
        changed: Row = {column: attempt.mbit_s}
        if subject.table == "run":
            changed["throughput_typed"] = line.now
            if attempt.outcome is not None:
                changed["outcome"] = attempt.outcome
        return changed
    return {column: value}


def _shown(present: Any) -> str:
    if isinstance(present, Attempt):
        return f"{present.mbit_s:g}" if present.mbit_s is not None else (present.outcome or "empty")
    if isinstance(present, Instant):
        return present.typed or present.utc
    if present is None:
        return "empty"
    return f"{present:g}" if isinstance(present, float) else str(present)


def _same_text(was: str, present: Any) -> bool:
    """A time may be named as it was typed."""
    return isinstance(present, Instant) and bool(was) and was == present.typed


def rebuild(changes: Iterable[Change], known: Known, problems: list[Problem]) -> None:
    """Check changed rows of tables by the rules for new ones; names, places and outcomes follow from the values."""
    resolver = Resolver(known)
    for change in changes:
        stem = change.subject.stem
        if stem is None:
            continue
        line = change.lines[-1][1]
        table = TypedTable(table=TABLES[stem], file=line.file, deliberate=True)
        typed = TypedRow(line.file, line.row, _values(change), _typed(change), frozenset({"throughput"}))
        if stem == "spots":
            table.rows = [typed]
            built = reading_rows(table, resolver)[0][1]
        else:
            built = BUILDERS[stem][1](table, typed, resolver, known)
        for problem in table.problems:
            cell = change.line_of(problem.column)
            problems.append(
                Trouble(problem.expected, problem.remedy, problem.code).at(cell.file, cell.row, "now", cell.now)
            )
        if not table.problems:
            moved = {name for name, _ in change.lines} & _PLACE_COLUMNS
            kept = {} if moved else {column: change.old.get(column) for column in ("spot_since", "epoch_id")}
            change.new |= {column: value for column, value in {**built, **kept}.items() if column in change.old}


def _values(change: Change) -> dict[str, Any]:
    """The row as the batch format says it."""
    subject, row = change.subject, change.new
    assert subject.stem is not None
    values: dict[str, Any] = {"timezone": None, "log": row.get("log_path")}
    for name in subject.columns:
        if name in values:
            continue
        value = subject.present(name, row)
        values[name] = None if name == "throughput" and value.mbit_s is None else value
    if subject.table == "run" and row["outcome"] == FINISHED and row["throughput_mbit_s"] is not None:
        values["outcome"] = None  # the number says it
    return values


def _typed(change: Change) -> dict[str, str]:
    typed = {name: line.now for name, line in change.lines}
    return {"throughput": change.new["throughput_typed"]} | typed if change.subject.table == "run" else typed


def by_table(changes: Mapping[tuple[str, int], Change], table: str) -> list[Change]:
    """The changes of one table, in the order in which its rows were first named."""
    return [change for change in changes.values() if change.subject.table == table]


def origin_of(db: Database, table: str, row: Row) -> Row:
    """Where a row stands: batch_id, source_file, source_row. The batch and the site have no line of their own."""
    return {
        "batch_id": row["batch_id"],
        "source_file": row.get("source_file", "batch.toml"),
        "source_row": row.get("source_row"),
    }
