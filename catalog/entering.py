"""A batch into the catalogue: read, check, store in one transaction; and back out again."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from pathlib import Path
from typing import Any

from sqlite_utils import Database

from catalog import schema
from catalog.checking.batches import Checked, check
from catalog.checking.troubles import Trouble
from catalog.connection import attach_readonly, create_catalog, not_written, open_catalog, path_of
from catalog.errors import BatchRefused, CatalogUnusable, Problem
from catalog.problems import causes_of
from catalog.reading.batch import read_batch
from catalog.reading.progress import Progress, silent
from catalog.storing import Packing, remove, store, store_figures
from catalog.whole_files import draft_beside, forget_abandoned, take_name

Foreseen = tuple[Sequence[Problem], Sequence[Problem]]
Foresee = Callable[[Checked, Database | None], Foreseen]
"""Asked of a sound batch and the catalogue before it: the problems and warnings that a build would have with both."""


def nothing_foreseen(checked: Checked, db: Database | None) -> Foreseen:
    """For those who do not build."""
    return (), ()


@dataclass(frozen=True)
class CheckReport:
    """What a batch holds and what is wrong with it.

    rows_read        rows in its tables, but for planned ones
    rows_planned     rows that are still to be measured, which are left out
    rows_new         of them, how many are good and not in the catalogue
    repairs          kind of repair -> how often it was made on reading
    sheets           (file, title) of every sheet of a workbook that was read
    already_entered  the batch that holds all of it, when there is nothing new
    """

    batch: str
    rows_read: int
    rows_planned: int
    rows_new: int
    problems: Sequence[Problem]
    warnings: Sequence[Problem]
    repairs: Mapping[str, int]
    sheets: Sequence[tuple[str, str]]
    already_entered: str | None

    def to_json(self) -> dict[str, Any]:
        """The document of `check --json`."""
        return {
            "batch": self.batch,
            "rows_read": self.rows_read,
            "rows_planned": self.rows_planned,
            "rows_new": self.rows_new,
            "problems": [problem.to_json() for problem in self.problems],
            "warnings": [warning.to_json() for warning in self.warnings],
            "causes": [cause.to_json() for cause in causes_of(self.problems)],
            "repairs": dict(sorted(self.repairs.items())),
            "already_entered": self.already_entered,
        }


@dataclass(frozen=True)
class EnterReport:
    """What was entered. already_entered names the batch that held it all before; then nothing was written."""

    batch: str
    rows_read: int
    rows_planned: int
    rows_new: int
    warnings: Sequence[Problem]
    repairs: Mapping[str, int]
    already_entered: str | None


def check_batch(
    folder: Path, *, catalog: Database | None, progress: Progress = silent, foresee: Foresee = nothing_foreseen
) -> CheckReport:
    """Read the batch in *folder* against the catalogue and list everything wrong with it; writes nothing.

    Raises  InputRefused when there is no batch, BatchRefused when batch.toml cannot be read at all.
    """
    checked = check(read_batch(folder, progress=progress), catalog, progress=progress)
    _look_ahead(checked, catalog, foresee)
    return CheckReport(
        batch=_name(checked, folder),
        rows_read=checked.rows_read,
        rows_planned=checked.rows_planned,
        rows_new=checked.rows_new,
        problems=tuple(checked.problems),
        warnings=tuple(checked.warnings),
        repairs=checked.repairs,
        sheets=tuple(checked.sheets),
        already_entered=checked.already_entered,
    )


def enter_batch(
    folder: Path, *, into: Path, now: datetime, progress: Progress = silent, foresee: Foresee = nothing_foreseen
) -> EnterReport:
    """Enter the batch in *folder* into the catalogue at *into*, all of it or nothing.

    A catalogue that does not exist is made; when the batch is refused, no file is left behind.

    Raises  InputRefused, BatchRefused as check_batch; WriteRefused when the catalogue cannot be written.
    """
    raw = read_batch(folder, progress=progress)
    with writable(into) as db, Packing() as packing:
        checked = check(raw, db, progress=progress, log_read=packing.begin)
        _look_ahead(checked, db, foresee)
        if checked.problems:
            raise BatchRefused(checked.problems)
        if checked.already_entered is None:
            store(db, checked, raw.folder, packing=packing, now=now, progress=progress)
    return EnterReport(
        batch=_name(checked, folder),
        rows_read=checked.rows_read,
        rows_planned=checked.rows_planned,
        rows_new=checked.rows_new,
        warnings=tuple(checked.warnings),
        repairs=checked.repairs,
        already_entered=checked.already_entered,
    )


def _look_ahead(checked: Checked, db: Database | None, foresee: Foresee) -> None:
    """Add what a build would say; of a batch with problems it would say what only follows from them."""
    if checked.problems:
        if articles := checked.rows.get("article"):
            later = Trouble("Articles are read once the problems are settled.", "", "article-not-read")
            place = articles[0]["source_file"], articles[0]["source_row"]
            checked.warnings.append(later.at(*place, "", articles[0]["path"]))
    elif checked.already_entered is None:
        problems, warnings = foresee(checked, db)
        checked.problems += problems
        checked.warnings += warnings


def as_if_entered(checked: Checked, db: Database | None, *, now: datetime, charts: bool = True) -> Database:
    """The catalogue as it would be with a sound batch in it: in memory, without bytes of files and hardly a sample of a log.

    db      the catalogue before, in a file, or in memory as an earlier batch left it; None for none
    charts  whether points for charts of logs go along, which take most of the memory
    """
    whole = create_catalog(None)
    whole.execute("PRAGMA foreign_keys = OFF")
    if db is not None:
        attach_readonly(whole, path_of(db) or db, name="src")
        for table in schema.TABLES:
            _take_over(whole, table, without_rows=table == "series" or (table == "thinned" and not charts))
        _take_over_samples(whole, checked)
        whole.execute("DETACH src")
    with transaction(whole):
        for table in ("run", "station", "longrun"):
            _keep_as_they_are(whole, table)
        store_figures(whole, checked, now=now)
    return whole


class WouldBe:
    """The catalogue as it would be with a sound batch in it, without points for charts.

    Made when somebody first asks for it, for all who do. The arguments are those of `as_if_entered`.
    """

    def __init__(self, checked: Checked, db: Database | None, *, now: datetime) -> None:
        self._checked, self._db, self._now = checked, db, now

    @cached_property
    def whole(self) -> Database:
        return as_if_entered(self._checked, self._db, now=self._now, charts=False)

    def close(self) -> None:
        if "whole" in self.__dict__:
            self.whole.close()


def _keep_as_they_are(whole: Database, table: str) -> None:
    """A batch adds rows of results. Who looks for what it changes rests on that (`visibility.seen`)."""
    for act in ("UPDATE", "DELETE"):
        whole.execute(
            f"""CREATE TEMP TRIGGER no_{act}_of_{table} BEFORE {act} ON main.{table}
                BEGIN SELECT raise(ABORT, 'a batch changes no result that is there'); END"""
        )


def _take_over(whole: Database, table: str, *, without_rows: bool) -> None:
    whole.execute(f"DELETE FROM main.{table}")  # a new catalogue has rows of its own
    if without_rows:
        return
    values = "*"  # both have the same columns, in the same order
    if table == "raw_content":
        values = ", ".join("NULL" if name == "deflated" else name for name in whole.table(table).columns_dict)
    whole.execute(f"INSERT INTO main.{table} SELECT {values} FROM src.{table}")


def _take_over_samples(whole: Database, checked: Checked) -> None:
    """Samples of the logs that a copy may have to hold against other marks: those of a batch that is hidden wait there."""
    if not checked.rows.get("embargo") and not whole.table("embargo").count:
        return
    whole.execute("CREATE TEMP TABLE remarked (station_id INTEGER PRIMARY KEY)")
    whole.conn.executemany("INSERT INTO temp.remarked VALUES (?)", [(number,) for number, _ in checked.by_new_marks])
    whole.execute(
        """INSERT INTO main.series SELECT s.* FROM src.series AS s JOIN src.station AS t ON s.owner_id = t.station_id
           JOIN src.workload_role AS p
             ON (p.workload_id, p.version, p.role_id) = (t.workload_id, t.workload_version, t.role_id)
           WHERE s.owner = 'station' AND (
               t.station_id IN (SELECT station_id FROM temp.remarked)
               OR (SELECT count(DISTINCT said) FROM src.role_declaration WHERE role_id = p.definition) > 1
               OR (SELECT count(*) FROM src.workload_role AS q
                    WHERE (q.workload_id, q.role_id) = (p.workload_id, p.role_id)) > 1)"""
    )
    whole.execute("DROP TABLE temp.remarked")


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
        db.execute("BEGIN IMMEDIATE")  # the library's own transactions do not lock before they write
        yield
        db.execute("COMMIT")
    except BaseException as failure:
        db.rollback()  # nothing where SQLite did it by itself, as on a full disk
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
