"""A batch out of the catalogue again, as if it had never been entered.

A row that another batch holds too (`row_again`) is not taken from it: it moves to where that batch says it.
"""

from __future__ import annotations

import json

from sqlite_utils import Database

from catalog import schema
from catalog.errors import InputRefused, UnknownName
from catalog.marks import Marks, laid_over
from catalog.method import versions_of
from catalog.storing.batch_rows import insert
from catalog.storing.marks import lay_marks_again

_OWNERS = ("run", "station", "longrun")
# Tables whose rows belong to a row of another one and know no batch of their own.
_PARTS = {
    "workload_role": "NOT EXISTS (SELECT 1 FROM workload AS w WHERE w.workload_id = x.workload_id "
    "AND w.version = x.version)",
    "workload_seat": "NOT EXISTS (SELECT 1 FROM workload AS w WHERE w.workload_id = x.workload_id "
    "AND w.version = x.version)",
    "article_device": "NOT EXISTS (SELECT 1 FROM article AS a WHERE a.article_id = x.article_id)",
    "epoch": "NOT EXISTS (SELECT 1 FROM spot_reading AS s WHERE s.house_id = x.house_id AND s.spot = x.spot "
    "AND s.band = x.band AND s.valid_from = x.valid_from)",
    "raw_content": "NOT EXISTS (SELECT 1 FROM raw_file AS f WHERE f.sha256 = x.sha256) "
    "AND NOT EXISTS (SELECT 1 FROM correction_file AS c WHERE c.sha256 = x.sha256) "
    "AND NOT EXISTS (SELECT 1 FROM correction_attachment AS c WHERE c.sha256 = x.sha256)",
}


def remove(db: Database, batch_id: str) -> None:
    """Delete everything that came with a batch and with no other.

    Raises  UnknownName for a batch that is not there; InputRefused when it is published, corrected since, or
            something of another batch rests on it. The caller rolls back.
    """
    row = db.execute("SELECT published_utc FROM batch WHERE batch_id = ?", [batch_id]).fetchone()
    if row is None:
        raise UnknownName(f"There is no batch {batch_id!r} in the catalogue.")
    if row[0] is not None:
        raise InputRefused(f"The batch {batch_id} was published at {row[0]}. From then on there are only corrections.")
    _refuse_corrected(db, batch_id)
    _refuse_older_method(db, batch_id)
    _refuse_older_marks(db, batch_id)
    db.execute("PRAGMA defer_foreign_keys = ON")
    with_origin = [table for table in schema.TABLES if "source_row" in db.table(table).columns_dict]
    for table in with_origin:
        if table not in ("row_again", "extra", "correction"):
            _hand_over(db, table, batch_id)
    _hand_over_method(db, batch_id)
    db.execute("DELETE FROM row_again WHERE batch_id = ?", [batch_id])
    for table in reversed(schema.TABLES):
        if table != "batch" and "batch_id" in db.table(table).columns_dict:
            db.execute(f"DELETE FROM {table} WHERE batch_id = ?", [batch_id])
    for table, orphaned in _PARTS.items():
        db.execute(f"DELETE FROM {table} AS x WHERE {orphaned}")
    for table in ("series", "thinned", "digest"):
        for owner in _OWNERS:
            db.execute(
                f"DELETE FROM {table} WHERE owner = ? AND owner_id NOT IN (SELECT {owner}_id FROM {owner})", [owner]
            )
    db.execute("DELETE FROM batch WHERE batch_id = ?", [batch_id])
    _lay_methods(db)
    lay_marks_again(db)
    _refuse_dependents(db, batch_id)


def _hand_over(db: Database, table: str, batch_id: str) -> None:
    """Rows that came again later move to the earliest batch that says them too."""
    again = db.execute(
        "SELECT a.batch_id, a.source_file, a.source_row, a.first_file, a.first_row FROM row_again AS a "
        "JOIN batch AS b USING (batch_id) WHERE a.table_name = ? AND a.first_batch = ? "
        "ORDER BY b.sequence DESC, a.source_file DESC, a.source_row DESC",
        [table, batch_id],
    ).fetchall()
    heirs = {(file, row): (heir, heir_file, heir_row) for heir, heir_file, heir_row, file, row in again}
    for (file, row), heir in heirs.items():
        place = [table, batch_id, file, row]
        db.execute(
            f"UPDATE {table} SET batch_id = ?, source_file = ?, source_row = ? "
            "WHERE batch_id = ? AND source_file = ? AND source_row IS ?",
            [*heir, batch_id, file, row],
        )
        db.execute(
            "DELETE FROM row_again WHERE batch_id = ? AND source_file = ? AND source_row = ? AND table_name = ?",
            [*heir, table],
        )
        db.execute(
            "UPDATE row_again SET first_batch = ?, first_file = ?, first_row = ? "
            "WHERE table_name = ? AND first_batch = ? AND first_file = ? AND first_row IS ?",
            [*heir, *place],
        )


def _hand_over_method(db: Database, batch_id: str) -> None:
    heir = db.execute(
        "SELECT a.batch_id FROM row_again AS a JOIN batch AS b USING (batch_id) "
        "WHERE a.table_name = 'method' AND a.first_batch = ? ORDER BY b.sequence LIMIT 1",
        [batch_id],
    ).fetchone()
    if heir is None:
        return
    db.execute("UPDATE method SET batch_id = ? WHERE batch_id = ?", [heir[0], batch_id])
    db.execute("DELETE FROM row_again WHERE table_name = 'method' AND batch_id = ?", [heir[0]])
    db.execute(
        "UPDATE row_again SET first_batch = ? WHERE table_name = 'method' AND first_batch = ?", [heir[0], batch_id]
    )


def _lay_methods(db: Database) -> None:
    """Make the versions of the method again: those of later batches may have been laid over what this one declared."""
    declarations = db.execute(
        "SELECT batch_id, said FROM declaration JOIN batch USING (batch_id) ORDER BY sequence"
    ).fetchall()
    db.execute("DELETE FROM method WHERE version > 1")
    for batch, constants in versions_of(declarations):
        row = {"version": constants.version, "constants": constants.to_json(), "batch_id": batch}
        insert(db, "method", [row])


def _refuse_corrected(db: Database, batch_id: str) -> None:
    count = db.table("correction").count_where("batch_id = ?", [batch_id])
    if count:
        raise InputRefused(
            f"{count} correction{'s' * (count > 1)} of rows in {batch_id} would lose what was corrected. "
            "A corrected batch stays; withdraw what is wrong instead."
        )


def _refuse_older_method(db: Database, batch_id: str) -> None:
    """A version of the method is only taken out while it is the newest: later ones were made from it."""
    row = db.execute(
        "SELECT later.batch_id FROM method AS own JOIN method AS later ON later.version > own.version "
        "WHERE own.batch_id = ? AND later.batch_id IS NOT own.batch_id ORDER BY later.version LIMIT 1",
        [batch_id],
    ).fetchone()
    if row is not None:
        raise InputRefused(f"The method that {batch_id} declares was changed again by {row[0]}. Undo {row[0]} first.")


def _refuse_older_marks(db: Database, batch_id: str) -> None:
    """Marks are only taken out while they are the newest of their role: later ones may state only some of them."""
    declared: dict[str, Marks] = {}
    for role_id, batch, said in db.execute(
        "SELECT d.role_id, d.batch_id, d.said FROM role_declaration AS d JOIN batch AS b USING (batch_id) "
        "WHERE d.role_id IN (SELECT role_id FROM role_declaration WHERE batch_id = ?) ORDER BY b.sequence",
        [batch_id],
    ).fetchall():
        before = declared.get(role_id, Marks())
        declared[role_id] = after = laid_over(before, json.loads(said), batch)
        if after is not before and before.batch_id == batch_id != batch:
            raise InputRefused(
                f"The marks of {role_id} that {batch_id} sets were changed by {batch}. Undo {batch} first."
            )


def _refuse_dependents(db: Database, batch_id: str) -> None:
    """What another batch holds and this one had made possible."""
    dependents: dict[str, str] = {}
    for table, rowid, parent, _ in db.execute("PRAGMA foreign_key_check").fetchall():
        if "batch_id" in db.table(table).columns_dict:
            (other,) = db.execute(f"SELECT batch_id FROM {table} WHERE rowid = ?", [rowid]).fetchone()
        else:
            other = "another batch"
        dependents.setdefault(other, parent.replace("_", " "))
    if dependents:
        others = ", ".join(f"{other} (a {what})" for other, what in sorted(dependents.items()))
        raise InputRefused(f"{batch_id} holds what other batches rest on: {others}. Undo them first.")
