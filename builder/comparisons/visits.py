"""Visits: one device unit and one client at a place without either being moved (method.md, section 3, placement)."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from operator import attrgetter

from catalog.records import Run

Visit = tuple[str, str, str, str, int]  # session, client, device, unit, how many places the two had been to that day


def visits_of(runs: Iterable[Run]) -> Mapping[int, Visit]:
    """Number of a run -> its visit: runs of a client with one device unit in a session that follow each other at a place.

    Whatever firmware, settings or link were used. Runs at one instant are taken in the order they were entered in.
    Only runs with this device end a visit, for what is measured of another must not alter its intervals.
    """
    together: dict[tuple[str, str, str, str], list[Run]] = defaultdict(list)
    for run in runs:
        together[run.session, run.client, run.device, run.unit].append(run)
    visits: dict[int, Visit] = {}
    for key, own in together.items():
        before: object = None
        number = 0
        for run in sorted(own, key=attrgetter("at_utc", "run_id")):
            here = _where(run)
            number += here != before
            before = here
            visits[run.run_id] = (*key, number)
    return visits


def _where(run: Run) -> tuple[object, ...]:
    """Where the client stands: a marked spot on whatever band, else the place by its loss or its level."""
    if run.spot is not None:
        return "spot", run.house, run.spot
    return run.band, run.attenuation_db, None if run.attenuation_db is not None else run.level_dbm
