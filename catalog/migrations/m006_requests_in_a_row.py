"""Version 6: digests know how many requests in a row say as much as one that comes by itself.

Only where raw samples are kept; elsewhere a share is as sure as the lag-one correlations of its digest tell.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping

from catalog.errors import CatalogUnusable

_ADDED = ("waits_correlation_requests", "late_correlation_requests")


def m006_requests_in_a_row(db: sqlite3.Connection) -> None:
    """Add the two figures to digests of requests that lack them.

    Raises  CatalogUnusable where samples are damaged.
    """
    lacking = db.execute(
        "SELECT t.station_id, CAST(d.value AS INTEGER), r.target_ms FROM station AS t "
        "JOIN digest AS d ON (d.owner, d.owner_id, d.figure) = ('station', t.station_id, 'planned') "
        "JOIN workload_role AS p ON (p.workload_id, p.version, p.role_id) = (t.workload_id, t.workload_version, t.role_id) "
        "JOIN role AS r ON r.role_id = p.definition "
        "WHERE EXISTS (SELECT 1 FROM series WHERE (owner, owner_id) = ('station', t.station_id)) "
        "AND NOT EXISTS (SELECT 1 FROM digest WHERE (owner, owner_id, figure) = ('station', t.station_id, ?)) "
        "ORDER BY t.station_id",
        [_ADDED[0]],
    ).fetchall()
    for number, planned, target_ms in lacking:
        key = ("station", number)
        samples = dict(
            db.execute("SELECT quantity, samples FROM series WHERE (owner, owner_id) = (?, ?)", key).fetchall()
        )
        try:
            figures = _in_a_row(samples, planned=planned, target_ms=target_ms)
        except (ArithmeticError, AssertionError, LookupError, TypeError, ValueError) as failure:
            raise CatalogUnusable(
                f"The raw samples of station {number} are damaged, so the catalogue cannot be brought to version 6 "
                f"({failure}). Restore a copy, or load a dump."
            ) from failure
        db.executemany(
            "INSERT OR REPLACE INTO digest (owner, owner_id, figure, value) VALUES (?, ?, ?, ?)",
            [(*key, *figure) for figure in figures.items()],
        )


def _in_a_row(samples: Mapping[str, str], *, planned: int, target_ms: float | None) -> dict[str, float]:
    import numpy as np
    import orjson

    from catalog.digesting.digests import request_digest
    from catalog.digesting.logs import Log

    arrays = {quantity: np.array(orjson.loads(text), dtype=np.int64) for quantity, text in samples.items()}
    log = Log("requests", arrays["t"], latency_us=arrays["latency"], outcome=arrays["outcome"].astype(np.int8))
    figures = request_digest(log, planned=planned, role={"target_ms": target_ms})
    return {name: figures[name] for name in _ADDED if name in figures}
