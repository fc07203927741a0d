"""The marks of roles as batches declare them put in force, and the digests that rest on them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from sqlite_utils import Database

from catalog.digesting.digests import MARK_FIGURES
from catalog.marks import MARKS
from catalog.queries.marks import declared_marks, logs_by_marks

_COLUMNS = (*MARKS, "marks_batch_id")


def put_marks_in_force(db: Database) -> set[str]:
    """Write the declared marks into the roles; the roles that have others now."""
    changed: set[str] = set()
    declared = declared_marks(db)
    for role_id, *was in db.execute(f"SELECT role_id, {', '.join(_COLUMNS)} FROM role ORDER BY role_id").fetchall():
        marks = declared[role_id]
        now = [*marks.values().values(), marks.batch_id]
        if now != was:
            sets = ", ".join(f"{column} = ?" for column in _COLUMNS)
            db.execute(f"UPDATE role SET {sets} WHERE role_id = ?", [*now, role_id])
        if now[:-1] != was[:-1]:
            changed.add(role_id)
    return changed


def lay_marks_again(db: Database, *, changed: Iterable[str] = ()) -> None:
    """Put in force what is declared now, and take the figures of every log again whose role has other marks by that.

    changed  roles that have other marks already
    """
    changed = put_marks_in_force(db).union(changed)
    if changed:
        store_mark_figures(db, list(logs_by_marks(db, declared_marks(db), changed)))


def store_mark_figures(db: Database, figures: Iterable[tuple[int, Mapping[str, float]]]) -> None:
    """Replace the figures of stations that rest on marks. figures: number of the station, its MARK_FIGURES."""
    names = ", ".join(f"'{figure}'" for figure in MARK_FIGURES)
    for number, values in figures:
        db.execute(f"DELETE FROM digest WHERE owner = 'station' AND owner_id = ? AND figure IN ({names})", [number])
        db.conn.executemany(
            "INSERT INTO digest (owner, owner_id, figure, value) VALUES ('station', ?, ?, ?)",
            [(number, figure, value) for figure, value in values.items()],
        )
