"""Version 3: where each machine of a mix stood and what it used, and digests that know what requests in a row are worth.

Stations gain channel, width and a typed loss, which no earlier one has. Digests of requests are taken again from the raw
samples. Where none are kept, the replay of a stream goes: it may have counted pauses of its generator as stalls.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from pathlib import Path

from catalog.errors import CatalogUnusable

# The table as files of version 3 hold it, letter by letter: `verify` compares the texts. Never edited.
_STATION = Path(__file__).with_suffix(".sql")

# What only the file of a log and the other logs of its mix tell.
_KEPT = frozenset({"started_epoch_s", "common_s", "first_row", "last_row"})
_REPLAYED = frozenset({"shown_s", "stalls", "stalled_s", "late_segments", "start_delay_s", "stalling_quality"})


def m003_places_in_mixes(db: sqlite3.Connection) -> None:
    """Give stations their new columns, and take the digests of their requests again.

    Raises  CatalogUnusable where samples are damaged.
    """
    # Aside and back, and not beside each other: so the pages of the old table hold the new one, and none is left over.
    db.execute("CREATE TEMP TABLE station_of_version_2 AS SELECT * FROM station ORDER BY station_id")
    db.execute("DROP TABLE station")
    db.execute(_STATION.read_text(encoding="utf-8"))
    columns = [name for _, name, *_ in db.execute("PRAGMA table_info(station_of_version_2)").fetchall()]
    listed = ", ".join(columns)
    db.execute(f"INSERT INTO station ({listed}) SELECT {listed} FROM station_of_version_2 ORDER BY station_id")
    db.execute("DROP TABLE station_of_version_2")
    played = db.execute(
        "SELECT t.station_id, r.kind, r.target_ms, r.recipe FROM station AS t "
        "JOIN workload_role AS r ON (r.workload_id, r.version, r.role_id) = (t.workload_id, t.workload_version, t.role_id) "
        "WHERE EXISTS (SELECT 1 FROM digest WHERE owner = 'station' AND owner_id = t.station_id AND figure = 'planned') "
        "ORDER BY t.station_id"
    ).fetchall()
    for number, kind, target_ms, recipe in played:
        _digest_again(db, number, {"kind": kind, "target_ms": target_ms, "recipe": recipe})


def _digest_again(db: sqlite3.Connection, number: int, role: Mapping[str, object]) -> None:
    key = ("station", number)
    before = dict(db.execute("SELECT figure, value FROM digest WHERE (owner, owner_id) = (?, ?)", key).fetchall())
    samples = dict(db.execute("SELECT quantity, samples FROM series WHERE (owner, owner_id) = (?, ?)", key).fetchall())
    if not samples:
        figures = {figure: value for figure, value in before.items() if figure not in _REPLAYED}
    else:
        try:
            figures = _taken_again(samples, planned=int(before["planned"]), role=role)
        except (ArithmeticError, AssertionError, LookupError, TypeError, ValueError) as failure:
            raise CatalogUnusable(
                f"The raw samples of station {number} are damaged, so the catalogue cannot be brought to version 3 "
                f"({failure}). Restore a copy, or load a dump."
            ) from failure
        figures |= {figure: value for figure, value in before.items() if figure in _KEPT}
    db.execute("DELETE FROM digest WHERE (owner, owner_id) = (?, ?)", key)
    db.executemany(
        "INSERT INTO digest (owner, owner_id, figure, value) VALUES (?, ?, ?, ?)",
        [(*key, *figure) for figure in figures.items()],
    )


def _taken_again(samples: Mapping[str, str], *, planned: int, role: Mapping[str, object]) -> dict[str, float]:
    import numpy as np
    import orjson

    from catalog.digesting.digests import request_digest
    from catalog.digesting.logs import Log

    arrays = {quantity: np.array(orjson.loads(text), dtype=np.int64) for quantity, text in samples.items()}
    log = Log(
        "requests",
        arrays["t"],
        latency_us=arrays["latency"],
        outcome=arrays["outcome"].astype(np.int8),
        amount_b=arrays.get("amount"),
    )
    return request_digest(log, planned=planned, role=role)
