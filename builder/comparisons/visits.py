"""Visits: one device unit and one client at a place without either being moved (method.md, section 3, placement)."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from operator import attrgetter

from catalog.records import Run

Visit = tuple[str, str, int]  # session, client, how many places it had been to that day


def visits_of(runs: Iterable[Run]) -> Mapping[int, Visit]:
    """Number of a run -> its visit: runs of a client in a session that follow each other with one device at one place.

    Whatever firmware, settings or link were used. Runs at one instant are taken in the order they were entered in.
    """
    by_client: dict[tuple[str, str], list[Run]] = defaultdict(list)
    for run in runs:
        by_client[run.session, run.client].append(run)
    visits: dict[int, Visit] = {}
    for (session, client), own in by_client.items():
        before: object = None
        number = 0
        for run in sorted(own, key=attrgetter("at_utc", "run_id")):
            here = (run.device, run.unit, _where(run))
            number += here != before
            before = here
            visits[run.run_id] = (session, client, number)
    return visits


def _where(run: Run) -> tuple[object, ...]:
    """Where the client stands: a marked spot on whatever band, else the place by its loss or its level."""
    if run.spot is not None:
        return "spot", run.house, run.spot
    return run.band, run.attenuation_db, None if run.attenuation_db is not None else run.level_dbm
