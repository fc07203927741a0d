"""Version 4: roles are defined once, their marks are declared by batches, and workloads have seats.

Every role that is there was written inside a workload: it is called after that, and is a seat of its own. Its marks are
those of the newest version of the workload that has it with the same recipe, so digests of older versions may count
other requests as in time; they are taken again from the raw samples. Where none are kept, the figures that rest on a
mark go.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping
from pathlib import Path

from catalog.errors import CatalogUnusable

_TABLES = Path(__file__).with_suffix(".sql")

_ROLE = "w.workload_id || '~' || w.version || '/' || r.role_id"
_OF_WORKLOADS = "role_of_version_3 AS r JOIN workload AS w USING (workload_id, version)"
_ANY_MARK = "coalesce(r.target_ms, r.target_share) IS NOT NULL"
_STATED_AGAIN = (
    "row_again AS a ON a.table_name = 'workload' AND a.first_batch = w.batch_id "
    "AND a.first_file = w.source_file AND a.first_row IS w.source_row"
)
_ON_A_MARK = "('on_time', 'tolerated', 'late_lag_one', 'late_correlation_requests')"


def m004_roles_defined_once(db: sqlite3.Connection) -> None:
    """Make roles of the roles of workloads, and take the digests again whose marks are others now.

    Raises  CatalogUnusable where samples are damaged.
    """
    db.execute("PRAGMA defer_foreign_keys = ON")
    db.execute("CREATE TEMP TABLE role_of_version_3 AS SELECT rowid AS place, * FROM workload_role ORDER BY rowid")
    db.execute("DROP TABLE workload_role")
    for statement in _TABLES.read_text(encoding="utf-8").split(";\n"):
        if statement.strip():
            db.execute(statement)
    db.execute(
        "INSERT INTO role (role_id, kind, target_ms, target_share, recipe, marks_batch_id, batch_id, source_file, "
        f"source_row) SELECT {_ROLE}, r.kind, r.target_ms, r.target_share, r.recipe, "
        f"CASE WHEN {_ANY_MARK} THEN w.batch_id END, w.batch_id, w.source_file, w.source_row "
        f"FROM {_OF_WORKLOADS} ORDER BY r.place"
    )
    db.execute(
        f"INSERT INTO workload_role SELECT r.workload_id, r.version, r.role_id, {_ROLE} FROM {_OF_WORKLOADS} "
        "ORDER BY r.place"
    )
    db.execute(
        "INSERT INTO workload_seat SELECT workload_id, version, "
        "row_number() OVER (PARTITION BY workload_id, version ORDER BY role_id), role_id FROM role_of_version_3 "
        "ORDER BY place"
    )
    # A later batch with the same workload had the same roles, or it would have been refused.
    declared = db.execute(
        f"SELECT {_ROLE}, w.batch_id, r.target_ms, r.target_share FROM {_OF_WORKLOADS} WHERE {_ANY_MARK} "
        f"UNION SELECT {_ROLE}, a.batch_id, r.target_ms, r.target_share FROM {_OF_WORKLOADS} JOIN {_STATED_AGAIN} "
        f"WHERE {_ANY_MARK} ORDER BY 1, 2"
    ).fetchall()
    db.executemany(
        "INSERT INTO role_declaration (role_id, batch_id, said) VALUES (?, ?, ?)",
        [(role_id, batch_id, _said(target_ms=ms, target_share=share)) for role_id, batch_id, ms, share in declared],
    )
    db.execute(
        "INSERT INTO row_again (batch_id, source_file, source_row, table_name, first_batch, first_file, first_row) "
        "SELECT a.batch_id, a.source_file, a.source_row, 'role', a.first_batch, a.first_file, a.first_row "
        "FROM row_again AS a WHERE a.table_name = 'workload' ORDER BY a.rowid"
    )
    db.execute("DROP TABLE role_of_version_3")
    _put_newest_in_force(db)


def _said(**marks: float | None) -> str:
    return json.dumps({name: value for name, value in marks.items() if value is not None}, sort_keys=True)


def _put_newest_in_force(db: sqlite3.Connection) -> None:
    older = db.execute(
        "SELECT p.definition, r.target_ms, r.target_share, r.marks_batch_id FROM workload_role AS p "
        "JOIN role AS own ON own.role_id = p.definition "
        "JOIN workload_role AS n ON (n.workload_id, n.role_id) = (p.workload_id, p.role_id) AND n.version > p.version "
        "JOIN role AS r ON r.role_id = n.definition AND (r.kind, r.recipe) = (own.kind, own.recipe) "
        "WHERE (r.target_ms, r.target_share) IS NOT (own.target_ms, own.target_share) "
        "AND NOT EXISTS (SELECT 1 FROM workload_role AS m JOIN role AS q ON q.role_id = m.definition "
        "WHERE (m.workload_id, m.role_id, q.kind, q.recipe) = (p.workload_id, p.role_id, own.kind, own.recipe) "
        "AND m.version > n.version) ORDER BY p.rowid"
    ).fetchall()
    for role_id, target_ms, target_share, batch_id in older:
        db.execute(
            "UPDATE role SET target_ms = ?, target_share = ?, marks_batch_id = ? WHERE role_id = ?",
            [target_ms, target_share, batch_id, role_id],
        )
        stations = db.execute(
            "SELECT station_id FROM station AS t JOIN workload_role AS p ON (p.workload_id, p.version, p.role_id) = "
            "(t.workload_id, t.workload_version, t.role_id) WHERE p.definition = ? ORDER BY station_id",
            [role_id],
        ).fetchall()
        for (number,) in stations:
            _digest_again(db, number, target_ms)


def _digest_again(db: sqlite3.Connection, number: int, target_ms: float | None) -> None:
    key = ("station", number)
    samples = dict(db.execute("SELECT quantity, samples FROM series WHERE (owner, owner_id) = (?, ?)", key).fetchall())
    planned = db.execute(
        "SELECT value FROM digest WHERE (owner, owner_id) = (?, ?) AND figure = 'planned'", key
    ).fetchone()
    if planned is None:
        return
    db.execute(f"DELETE FROM digest WHERE (owner, owner_id) = (?, ?) AND figure IN {_ON_A_MARK}", key)
    if not samples:
        return
    try:
        figures = _on_marks(samples, planned=int(planned[0]), target_ms=target_ms)
    except (ArithmeticError, AssertionError, LookupError, TypeError, ValueError) as failure:
        raise CatalogUnusable(
            f"The raw samples of station {number} are damaged, so the catalogue cannot be brought to version 4 "
            f"({failure}). Restore a copy, or load a dump."
        ) from failure
    db.executemany(
        "INSERT INTO digest (owner, owner_id, figure, value) VALUES (?, ?, ?, ?)",
        [(*key, *figure) for figure in figures.items()],
    )


def _on_marks(samples: Mapping[str, str], *, planned: int, target_ms: float | None) -> dict[str, float]:
    import numpy as np

    from catalog.digesting.digests import mark_figures
    from catalog.digesting.logs import Log

    arrays = {quantity: np.array(json.loads(text), dtype=np.int64) for quantity, text in samples.items()}
    log = Log("requests", arrays["t"], latency_us=arrays["latency"], outcome=arrays["outcome"].astype(np.int8))
    return mark_figures(log, planned=planned, role={"target_ms": target_ms})
