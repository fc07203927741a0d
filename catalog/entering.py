"""A batch into the catalogue: read, check, store in one transaction; and back out again."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlite_utils import Database

from catalog.checking.batches import Checked, check
from catalog.connection import create_catalog, not_written, open_catalog
from catalog.errors import BatchRefused, CatalogUnusable, Problem
from catalog.reading.batch import read_batch
from catalog.reading.progress import Progress, silent
from catalog.storing import Packing, remove, store
from catalog.whole_files import draft_beside, forget_abandoned, take_name


@dataclass(frozen=True)
class CheckReport:
    """What a batch holds and what is wrong with it.

    rows_read        rows in its tables
    rows_new         of them, how many are good and not in the catalogue
    repairs          kind of repair -> how often it was made on reading
    already_entered  the batch that holds all of it, when there is nothing new
    """

    batch: str
    rows_read: int
    rows_new: int
    problems: Sequence[Problem]
    warnings: Sequence[Problem]
    repairs: Mapping[str, int]
    already_entered: str | None

    def to_json(self) -> dict[str, Any]:
        """The document of `check --json`."""
        return {
            "batch": self.batch,
            "rows_read": self.rows_read,
            "rows_new": self.rows_new,
            "problems": [asdict(problem) for problem in self.problems],
            "warnings": [asdict(warning) for warning in self.warnings],
            "repairs": dict(sorted(self.repairs.items())),
            "already_entered": self.already_entered,
        }


@dataclass(frozen=True)
class EnterReport:
    """What was entered. already_entered names the batch that held it all before; then nothing was written."""

    batch: str
    rows_read: int
    rows_new: int
    warnings: Sequence[Problem]
    repairs: Mapping[str, int]
    already_entered: str | None


def check_batch(folder: Path, *, catalog: Database | None, progress: Progress = silent) -> CheckReport:
    """Read the batch in *folder* against the catalogue and list everything wrong with it; writes nothing.

    Raises  InputRefused when there is no batch, BatchRefused when batch.toml cannot be read at all.
    """
    checked = check(read_batch(folder, progress=progress), catalog, progress=progress)
    return CheckReport(
        batch=_name(checked, folder),
        rows_read=checked.rows_read,
        rows_new=checked.rows_new,
        problems=tuple(checked.problems),
        warnings=tuple(checked.warnings),
        repairs=checked.repairs,
        already_entered=checked.already_entered,
    )


def enter_batch(folder: Path, *, into: Path, now: datetime, progress: Progress = silent) -> EnterReport:
    """Enter the batch in *folder* into the catalogue at *into*, all of it or nothing.

    A catalogue that does not exist is made; when the batch is refused, no file is left behind.

    Raises  InputRefused, BatchRefused as check_batch; WriteRefused when the catalogue cannot be written.
    """
    raw = read_batch(folder, progress=progress)
    with writable(into) as db, Packing() as packing:
        checked = check(raw, db, progress=progress, log_read=packing.begin)
        if checked.problems:
            raise BatchRefused(checked.problems)
        if checked.already_entered is None:
            store(db, checked, raw.folder, packing=packing, now=now, progress=progress)
    return EnterReport(
        batch=_name(checked, folder),
        rows_read=checked.rows_read,
        rows_new=checked.rows_new,
        warnings=tuple(checked.warnings),
        repairs=checked.repairs,
        already_entered=checked.already_entered,
    )


def _name(checked: Checked, folder: Path) -> str:
    return str(checked.batch.get("batch_id", folder.name))


@contextmanager
def writable(path: Path) -> Iterator[Database]:
    """The catalogue at *path* inside one transaction; a new one appears under its name only when it is whole."""
    if path.exists():
        forget_abandoned(path.parent)  # of a run that was killed when its new catalogue had just got this name
        db = open_catalog(path, readonly=False)
        try:
            with transaction(db):
                yield db
        finally:
            db.close()
        return
    if not path.parent.is_dir():
        raise CatalogUnusable(f"The folder {path.parent} does not exist, so no catalogue can be made in it.")
    with draft_beside(path) as draft:
        db = create_catalog(draft)
        try:
            with transaction(db):
                yield db
        finally:
            db.close()
        take_name(draft, path)


@contextmanager
def transaction(db: Database) -> Iterator[None]:
    """One write, wholly or not at all. Raises WriteRefused: a full disk, another program is writing, or nobody may."""
    try:
        db.execute("BEGIN IMMEDIATE")
    except sqlite3.OperationalError as failure:
        if (refused := not_written(failure)) is not None:
            raise refused from failure
        raise
    try:
        yield
        db.execute("COMMIT")
    except BaseException as failure:
        if db.conn.in_transaction:
            db.execute("ROLLBACK")
        if isinstance(failure, sqlite3.Error) and (refused := not_written(failure)) is not None:
            raise refused from failure
        raise


def undo_batch(batch_id: str, *, catalog: Database) -> None:
    """Take a batch that is not published yet back out of the catalogue, whole.

    Raises  UnknownName for a batch that is not there; InputRefused when it is published, was corrected, or
            other batches rest on it. Then nothing is changed.
    """
    with transaction(catalog):
        remove(catalog, batch_id)
