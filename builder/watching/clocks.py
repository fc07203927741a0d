"""What the instants of logs say: a clock that is off, a log of another day, and two logs in each other's place.

A log arrives when its run is over. So by the moment at which its last byte came, and by the runs before and after it,
each log has a time at which it should begin.
"""

from __future__ import annotations

import statistics
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from builder.watching.day_runs import of_client, sessions_in
from builder.watching.states import Measured
from catalog.dates import is_month

AHEAD_S = 60.0  # a log that ends so long after it came: no delay explains it
NEAR_S = 150.0  # (practice) so near to full hours is a clock or a time zone, not a delay
IN_PLACE_S = 90.0  # (practice) how near to another run's turn a swapped log begins
USUAL_WITHIN_S = 300.0  # (practice) logs come within so long after their end; else their delay says nothing
HOUR_S, DAY_S = 3600.0, 86_400.0
MOST_HOURS = 14.0  # that two time zones lie apart


@dataclass(frozen=True, slots=True)
class Timed:
    """A log with the time that it should have begun at.

    off_s   how much later its clock says it was; below 0 earlier [s]
    lag_s   how long after its end it came; below 0 for one that ends after it came, which is impossible [s]
    """

    row: Measured
    turn: datetime
    off_s: float
    lag_s: float

    @property
    def impossible(self) -> bool:
        """Whether no delay explains when it came."""
        return self.lag_s < -AHEAD_S

    @property
    def hours(self) -> int | None:
        """Full hours that it is off by, where that is what it is off by; below 0 where its clock is behind."""
        hours = round(self.off_s / HOUR_S)
        near = abs(self.off_s - hours * HOUR_S) <= NEAR_S
        return hours if near and 0 < abs(hours) <= MOST_HOURS else None


def timed(measured: Sequence[Measured]) -> list[Timed]:
    """Every log that states instants, in the order of the plan.

    Where logs of one client come soon after their end, the usual delay says when each should have begun; where they were
    copied late, the runs before and after do.
    """
    clients: dict[tuple[str, str], list[Measured]] = defaultdict(list)
    for row in sorted(measured, key=lambda one: (one.place[1], one.order)):
        if row.started is not None and row.ended is not None and row.arrived is not None:
            clients[of_client(row)].append(row)
    every = [row for rows in clients.values() for row in rows]
    of_all = _usual(every)
    results = []
    for rows in clients.values():
        usual = _usual(rows) if len(rows) > 1 else of_all if len(every) > 1 else 0.0
        usual = of_all if usual is None else usual
        for row in rows:
            assert row.started is not None
            assert row.ended is not None
            assert row.arrived is not None
            lag = (row.arrived - row.ended).total_seconds()
            turn = row.started + timedelta(seconds=lag - (usual or 0.0))
            off = (usual or 0.0) - lag if usual is not None else 0.0
            results.append(Timed(row, turn, off, lag))
    return results


def usual_delay(measured: Sequence[Measured]) -> Mapping[tuple[str, str], float]:
    """How long after its end each client's logs come; below 0 where its clock is ahead. Those with two or more. [s]"""
    clients: dict[tuple[str, str], list[Measured]] = defaultdict(list)
    for row in measured:
        if row.ended is not None and row.arrived is not None:
            clients[of_client(row)].append(row)
    delays = {client: _usual(rows) for client, rows in clients.items() if len(rows) > 1}
    return {client: delay for client, delay in delays.items() if delay is not None}


def _usual(rows: Sequence[Measured]) -> float | None:
    """The middle delay, if more than half of the logs came so; None where they were copied at any time."""
    lags = [(row.arrived - row.ended).total_seconds() for row in rows if row.arrived and row.ended]
    if not lags:
        return None
    possible = [lag for lag in lags if lag >= -AHEAD_S]
    # Of two the smaller: a log that came late is no proof against one that came at once.
    middle = statistics.median_low(possible if 2 * len(possible) >= len(lags) else lags)
    near = sum(abs(lag - middle) <= USUAL_WITHIN_S for lag in lags)
    return middle if 2 * near >= len(lags) else None


def out_of_turn(one: Timed, every: Sequence[Timed], *, apart_from: Timed | None = None) -> bool:
    """Whether a log begins before a run that came before it in the plan, or after one that came after it.

    Only runs whose own clocks are right are asked.
    """
    return not _fits(one.row.started, one, [other for other in every if other is not one and other is not apart_from])


def in_turn_of(one: Timed, other: Timed, every: Sequence[Timed]) -> bool:
    """Whether a log begins when it was the other's turn: between the runs around that in the plan."""
    return _fits(one.row.started, other, [third for third in every if third is not one and third is not other])


def _fits(begin: datetime | None, place: Timed, others: Sequence[Timed]) -> bool:
    sound = [one for one in others if abs(one.off_s) <= USUAL_WITHIN_S and of_client(one.row) == of_client(place.row)]
    before = [one.row.ended for one in sound if one.row.order < place.row.order and one.row.ended is not None]
    behind = [one.row.started for one in sound if one.row.order > place.row.order and one.row.started is not None]
    slack = timedelta(seconds=AHEAD_S)
    assert begin is not None
    if not before and not behind:
        return False
    return (not before or begin >= max(before) - slack) and (not behind or begin <= min(behind) + slack)


def days_of(document: Mapping[str, Any]) -> dict[str, date]:
    """Day of each session of batch.toml that has one."""
    days: dict[str, date] = {}
    for session in sessions_in(document):
        day = session.get("date")
        if isinstance(day, datetime):
            day = day.date()
        if isinstance(day, str) and not is_month(day):
            try:
                day = date.fromisoformat(day)
            except ValueError:
                continue
        if isinstance(day, date):
            days[str(session.get("id"))] = day
    return days


def zone_of(document: Mapping[str, Any]) -> ZoneInfo:
    """Time zone of a batch; UTC where it names none that is known."""
    try:
        return ZoneInfo(str(document.get("timezone") or "UTC"))
    except (KeyError, ValueError, OSError):
        return ZoneInfo("UTC")
