"""What the instants of logs say: a clock that is off, a log of another day, and two logs in each other's place.

A log arrives when its run is over. So by the moment at which its last byte came each log has a time at which it should
begin. Where logs are copied late that says nothing, and the order of the plan has to.
"""

from __future__ import annotations

import statistics
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

from builder.watching.day_runs import of_client, sessions_in
from builder.watching.states import Measured
from catalog.dates import is_month

AHEAD_S = 60.0  # a log that ends so long after it came: no delay explains it
NEAR_S = 150.0  # (practice) so near to full hours is a clock or a time zone, not a delay
IN_PLACE_S = 90.0  # (practice) how near to another run's turn a swapped log begins
REGULAR_S = 75.0  # (practice) half of the logs come within so long of the usual delay; else it says nothing
USUAL_WITHIN_S = 300.0  # (practice) a log that comes so late may be sound
HOUR_S, DAY_S = 3600.0, 86_400.0
STEADY_S, LEAST_STEADY = 30.0, 2  # (practice) logs that come equally late
LEAST_GAPS = 3  # between repeats, that show what is usual (own rule)
MOST_HOURS = 14.0  # that two time zones lie apart


@dataclass(frozen=True, slots=True)
class Timed:
    """A log with the time that it should have begun at.

    client      session and client, whose clock wrote it
    turn        by when it came, or where that says nothing by the runs around it in the plan
    off_s       how much later its clock says it was; below 0 earlier [s]
    lag_s       how long after its end it came; below 0 for one that ends after it came [s]
    astray      copied late, it does not go on from the others in the order of the plan
    by_arrival  logs of its client come soon after their end, so that when one came says when it should have begun
    """

    row: Measured
    client: tuple[str, str]
    turn: datetime
    off_s: float
    lag_s: float
    by_arrival: bool = True
    astray: bool = False

    @property
    def impossible(self) -> bool:
        """Whether no delay explains when it came."""
        return self.by_arrival and self.lag_s < -AHEAD_S

    @property
    def hours(self) -> int | None:
        """Full hours that it is off by, where that is what it is off by; below 0 where its clock is behind."""
        hours = round(self.off_s / HOUR_S)
        near = abs(self.off_s - hours * HOUR_S) <= NEAR_S
        return hours if near and 0 < abs(hours) <= MOST_HOURS else None


def timed(measured: Sequence[Measured]) -> list[Timed]:
    """Every log that states instants, in the order of the plan."""
    clients: dict[tuple[str, str], list[Measured]] = defaultdict(list)
    for row in sorted(measured, key=lambda one: (one.place[1], one.order)):
        if row.started is not None and row.ended is not None and row.arrived is not None:
            clients[of_client(row)].append(row)
    of_all = _usual([row for rows in clients.values() for row in rows])
    results: list[Timed] = []
    for client, rows in clients.items():
        # A single log of the day is held against the clock of this machine.
        usual = _usual(rows) if len(rows) > 1 else 0.0 if len(clients) == 1 else of_all
        if usual is None:
            results += _by_order(client, rows)
            continue
        for row in rows:
            lag = _lag_s(row)
            turn = _begin(row) + timedelta(seconds=lag - usual)
            results.append(Timed(row, client, turn, usual - lag, lag))
    return results


def _lag_s(row: Measured) -> float:
    assert row.arrived is not None
    assert row.ended is not None
    return (row.arrived - row.ended).total_seconds()


def _begin(row: Measured) -> datetime:
    assert row.started is not None
    return row.started


def _by_order(client: tuple[str, str], rows: Sequence[Measured]) -> list[Timed]:
    """Logs that were copied at any time: a single one that does not go on from those around it in the plan is off, and so is
    one that comes full hours after the repeat before it, where nobody walked. Whole stretches in another order are the
    tester's choice.
    """
    apart = _out_of_order(rows)
    gaps = [
        (_begin(then) - _begin(before)).total_seconds() for before, then in pairwise(rows) if _same_stay(before, then)
    ]
    usual = statistics.median_low(gaps) if gaps else 0.0
    results = []
    for number, row in enumerate(rows):
        before, behind = rows[number - 1 : number] if number else [], rows[number + 1 : number + 2]
        alone = number in apart and number - 1 not in apart and number + 1 not in apart
        turn = _begin(row)
        if alone and before and _same_stay(before[0], row):
            turn = _begin(before[0]) + timedelta(seconds=usual)
        elif alone and behind:
            turn = _begin(behind[0]) - timedelta(seconds=usual)
        elif alone and before:
            turn = _begin(before[0]) + timedelta(seconds=usual)
        elif not behind and before and number - 1 not in apart and _same_stay(before[0], row):
            jump = (_begin(row) - _begin(before[0])).total_seconds() - usual
            hours = round(jump / HOUR_S)
            if len(gaps) > LEAST_GAPS and hours > 0 and abs(jump - hours * HOUR_S) <= NEAR_S:
                turn = _begin(row) - timedelta(seconds=jump)
        off = (_begin(row) - turn).total_seconds()
        results.append(Timed(row, client, turn, off, _lag_s(row), by_arrival=False, astray=number in apart))
    return results


def _same_stay(one: Measured, other: Measured) -> bool:
    names = ("device_id", "device", "spot", "attenuation_db")
    return all(one.values.get(name) == other.values.get(name) for name in names) and one.place[1] == other.place[1]


def _out_of_order(rows: Sequence[Measured]) -> set[int]:
    """The fewest rows without which the others begin one after the other, by number."""
    best: list[tuple[int, int]] = []  # how many logs follow each other up to each one, and which comes before it
    for number, row in enumerate(rows):
        ends = [other for other in range(number) if _begin(rows[other]) <= _begin(row)]
        # Of equally many the nearest in time: a clock that is off jumps.
        other = max(ends, key=lambda end: (best[end][0], _begin(rows[end])), default=-1)
        best.append((best[other][0] + 1 if ends else 1, other))
    if not best:
        return set()

    def end(number: int) -> tuple[int, float]:
        count, other = best[number]
        return count, (_begin(rows[other]) - _begin(rows[number])).total_seconds() if other >= 0 else 0.0

    at = max(range(len(best)), key=end)
    kept = set()
    while at >= 0:
        kept.add(at)
        at = best[at][1]
    return set(range(len(rows))) - kept


def usual_delay(measured: Sequence[Measured]) -> Mapping[tuple[str, str], float]:
    """How long after its end each client's logs come; below 0 where its clock is ahead. [s]

    Of those with two logs or more; of those whose logs come late, with three that come equally late: logs that are
    copied together do not.
    """
    clients: dict[tuple[str, str], list[Measured]] = defaultdict(list)
    for row in measured:
        if row.ended is not None and row.arrived is not None:
            clients[of_client(row)].append(row)
    delays = {}
    for client, rows in clients.items():
        delay = _usual(rows) if len(rows) > 1 else None
        steady = [row for row in rows if delay is not None and abs(_lag_s(row) - delay) <= STEADY_S]
        if delay is not None and (delay < 0 or (len(steady) > LEAST_STEADY and 2 * len(steady) > len(rows))):
            delays[client] = delay
    return delays


def _usual(rows: Sequence[Measured]) -> float | None:
    """The middle delay, if more than half of the logs came so; None where they were copied at any time."""
    lags = [_lag_s(row) for row in rows if row.arrived is not None and row.ended is not None]
    if not lags:
        return None
    possible = [lag for lag in lags if lag >= -AHEAD_S]
    # Of two the smaller: a log that came late is no proof against one that came at once.
    middle = statistics.median_low(possible if 2 * len(possible) >= len(lags) else lags)
    near = sum(abs(lag - middle) <= REGULAR_S for lag in lags)
    return middle if 2 * near >= len(lags) else None


def out_of_turn(one: Timed, every: Sequence[Timed], *, apart_from: Timed | None = None) -> bool:
    """Whether a log begins before a run that came before it in the plan, or after one that came after it.

    Only runs of its client whose own clocks are right are asked.
    """
    others = [other for other in every if other is not one and other is not apart_from]
    return any(_sound_beside(one, other) for other in others) and not _fits(one.row.started, one, others)


def after_later(one: Timed, every: Sequence[Timed]) -> bool:
    """Whether a log begins after one that came after it in the plan; only clocks that are right are asked."""
    assert one.row.started is not None
    begin = one.row.started - timedelta(seconds=AHEAD_S)
    later = [other for other in every if other.row.order > one.row.order and _sound_beside(one, other)]
    return any(other.row.started is not None and begin > other.row.started for other in later)


def came_in_turn(one: Timed, every: Sequence[Timed]) -> bool:
    """Whether a log came after all that the plan has before it, and before all behind it; not of a single one."""
    others = [other for other in every if other is not one and _sound_beside(one, other)]
    assert one.row.arrived is not None
    sides = [
        (other.row.arrived <= one.row.arrived) == (other.row.order < one.row.order)
        for other in others
        if other.row.arrived is not None
    ]
    return bool(sides) and all(sides)


def _sound_beside(place: Timed, other: Timed) -> bool:
    return abs(other.off_s) <= USUAL_WITHIN_S and not other.astray and other.client == place.client


def in_turn_of(one: Timed, other: Timed, every: Sequence[Timed]) -> bool:
    """Whether a log begins when it was the other's turn: between the runs around that in the plan."""
    return _fits(one.row.started, other, [third for third in every if third is not one and third is not other])


def _fits(begin: datetime | None, place: Timed, others: Sequence[Timed]) -> bool:
    sound = [one for one in others if _sound_beside(place, one)]
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
