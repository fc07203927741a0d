"""The marks that a catalogue declares, and what the logs of a role come to by others."""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator, Mapping

from sqlite_utils import Database

from catalog.digesting.digests import mark_figures
from catalog.marks import Marks, marks_in_force
from catalog.queries.stored_logs import stored_log

_STATIONS = """
SELECT t.station_id, d.value FROM {within}.station AS t
JOIN {within}.workload_role AS p ON (p.workload_id, p.version, p.role_id) = (t.workload_id, t.workload_version, t.role_id)
JOIN {within}.digest AS d ON d.owner = 'station' AND d.owner_id = t.station_id AND d.figure = 'planned'
WHERE p.definition = ? ORDER BY t.station_id
"""


def declared_marks(db: Database) -> dict[str, Marks]:
    """The marks in force of each role by its id, laid over each other in the order of entry."""
    return marks_in_force(
        db.execute("SELECT role_id, kind, recipe FROM role ORDER BY role_id").fetchall(),
        db.execute(
            "SELECT d.role_id, d.batch_id, d.said FROM role_declaration AS d JOIN batch AS b USING (batch_id) "
            "ORDER BY b.sequence, d.role_id"
        ).fetchall(),
    )


def logs_by_marks(
    db: Database,
    marks: Mapping[str, Marks],
    roles: Iterable[str],
    *,
    within: str = "main",
    only: Container[int] | None = None,
) -> Iterator[tuple[int, dict[str, float]]]:
    """Number of each station of some *roles* with a log, and its MARK_FIGURES by the *marks* of its role.

    Without samples there are none: figures by other marks would be false.
    only  the stations to look at; None for all
    """
    for role_id in sorted(set(roles)):
        for number, planned in db.execute(_STATIONS.format(within=within), [role_id]).fetchall():
            if only is not None and number not in only:
                continue
            log = stored_log(db, "station", number, within=within)
            figures = {} if log is None else mark_figures(log, planned=int(planned), role=marks[role_id].values())
            yield number, figures
