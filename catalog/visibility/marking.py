"""The marks of roles in a copy: those that its batches declared, and the digests that rest on them.

The declaration of a batch whose existence is hidden waits, even if other rows of it are used, and so does one of a
batch that the copy does not name. Where that leaves a role none, the first one counts: the role is in the copy for the
logs of others, which are held against it.
"""

from __future__ import annotations

from collections import defaultdict

from sqlite_utils import Database

from catalog.digesting.digests import MARK_FIGURES
from catalog.marks import MARKS, Marks, marks_in_force
from catalog.queries.marks import logs_by_marks

_DECLARATIONS = """
SELECT d.role_id, coalesce(k.shown_id, ''), d.said,
       k.batch_id IS NOT NULL AND d.batch_id NOT IN (SELECT batch_id FROM temp.hidden_batch)
FROM src.role_declaration AS d JOIN src.batch AS b USING (batch_id) LEFT JOIN temp.kept_batch AS k USING (batch_id)
ORDER BY b.sequence, d.role_id
"""


def lay_marks(db: Database) -> None:
    """Put marks into the roles of `main`; of logs in `main` whose role has others in `src`, take the figures again."""
    declared: dict[str, list[tuple[str, str, str]]] = defaultdict(list)
    waiting: dict[str, list[tuple[str, str, str]]] = defaultdict(list)
    for role_id, batch_id, said, seen in db.execute(_DECLARATIONS).fetchall():
        (declared if seen else waiting)[role_id].append((role_id, batch_id, said))
    for role_id, declarations in waiting.items():
        if role_id not in declared:
            declared[role_id] = declarations[:1]
    roles = db.execute("SELECT role_id, kind, recipe FROM main.role ORDER BY role_id").fetchall()
    marks = marks_in_force(roles, (one for role_id, _, _ in roles for one in declared[role_id]))
    for role_id, mark in marks.items():
        sets = ", ".join(f"{name} = ?" for name in (*MARKS, "marks_batch_id"))
        db.execute(
            f"UPDATE main.role SET {sets} WHERE role_id = ?", [*mark.values().values(), mark.batch_id or None, role_id]
        )
    _take_again(db, marks)


def _take_again(db: Database, marks: dict[str, Marks]) -> None:
    whole = db.execute(f"SELECT role_id, {', '.join(MARKS)} FROM src.role").fetchall()
    others = [role_id for role_id, *was in whole if role_id in marks and [*marks[role_id].values().values()] != was]
    if not others:
        return
    numbers = dict(db.execute("SELECT old, new FROM temp.new_station").fetchall())
    names = ", ".join(f"'{figure}'" for figure in MARK_FIGURES)
    for number, figures in list(logs_by_marks(db, marks, others, within="src", only=numbers)):
        db.execute(
            f"DELETE FROM main.digest WHERE owner = 'station' AND owner_id = {numbers[number]} AND figure IN ({names})"
        )
        for figure, value in figures.items():
            db.execute("INSERT INTO main.digest VALUES ('station', ?, ?, ?)", [numbers[number], figure, value])
