"""Rows of which only the day or the month is known: what stands beside them has to be known as well as they are."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from catalog.checking.known import Known
from catalog.checking.results import Pairs
from catalog.checking.rows import TypedTable
from catalog.checking.troubles import Trouble
from catalog.dates import earliest_instant, is_month
from catalog.digesting.logs import Log

ZONES = dt.timedelta(hours=14)  # how far any zone's clock is from UTC, at most


def hold_months(tables: Iterable[tuple[TypedTable, Pairs]], known: Known) -> None:
    """Hold rows known by their month in a session of one day, and list days in a session of a month, once for each.

    What was done on one day cancels between two devices; what was done in one month does not.
    """
    listed: set[str] = set()
    for table, pairs in tables:
        for typed, row in pairs:
            at, session = row.get("at_utc"), row.get("session_id")
            date = known.sessions[session][1] if session else ""
            if not at or not date or is_month(at) == is_month(date):
                continue
            if is_month(at):
                vague = Trouble(
                    f"Only the month of this row is known, {at}, but its session is of one day, {date}.",
                    f'Give it a session of its own with date = "{at}", or write the day.',
                    "month-in-a-day",
                )
                table.hold(typed, "when", vague)
            elif session is not None and session not in listed and not typed.held:
                listed.add(session)
                day = Trouble(
                    f"The day of this row is known, but its session {session} is of a month, {date}.",
                    "Give the day a session of its own: what one day does to all results cancels only there.",
                    "day-in-a-month",
                )
                table.warn(typed, "when", day)


def hold_months_of_bridges(tables: Iterable[tuple[TypedTable, Pairs]]) -> None:
    """Hold values of bridge tests known by their month: old and new are compared within one day."""
    for table, pairs in tables:
        for typed, row in pairs:
            if row["at_utc"] and is_month(row["at_utc"]):
                month = Trouble(
                    f"A bridge test is made on one day; {row['at_utc']} is a month.",
                    "Write the day or the time.",
                    "month-of-a-bridge",
                )
                table.hold(typed, "when", month)


def of_another_day(log: Log, path: str, at: str) -> Trouble | None:
    """A log whose instants begin outside the day or month of its row, in whatever zone."""
    if log.started is None:
        return None
    first = earliest_instant(at)
    after = first + dt.timedelta(days=31 if is_month(at) else 1)
    if first - ZONES <= log.started < after + ZONES:
        return None
    return Trouble(
        f"{path} begins {log.started:%Y-%m-%d %H:%M:%S}Z; its row is of {at}. Another row's log, or another clock?",
        "Correct the log or the time of the row.",
        "log-of-another-row",
    )
