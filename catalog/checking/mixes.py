"""Logs of one multi-client run on common time: every client writes its own, by its own clock and zone."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import replace

from catalog.checking.known import Row
from catalog.checking.rows import TypedRow, TypedTable
from catalog.checking.settled_logs import another_clock, hold_another_row
from catalog.checking.troubles import Trouble
from catalog.dates import earliest_instant, has_clock
from catalog.digesting.logs import Log

SKEW_S = 2.0
_Member = tuple[TypedTable, TypedRow, Row, Log, dict[str, float]]
_Span = tuple[dt.datetime, dt.datetime]  # first and last request


def align(stations: Iterable[_Member]) -> None:
    """Add the common time of each mix to the digests of its logs (common_s [s]).

    Logs that do not overlap at all hold their rows; then those that lie outside their row's time. Logs that start
    more than 2 s apart are listed. A log that states no instants starts at its row's time, or with the mix where
    that is only a day or month, and so does one whose clock was off according to an answer.
    """
    stations = list(stations)
    starts: dict[str, list[dt.datetime]] = {}
    for _, _, row, log, _ in stations:
        starts.setdefault(row["mix_id"], []).extend([log.started] if log.started else [])
    mixes: dict[str, list[tuple[_Member, _Span]]] = {}
    for member in stations:
        table, typed, row, log, digest = member
        if typed.held:
            continue
        if another_clock(table, typed, row, log, planned_s=row["planned_s"]):
            member = (table, typed, row, replace(log, started=None), digest)
            digest.pop("started_epoch_s", None)
        try:
            span = _span(row, member[3], starts[row["mix_id"]])
        except OverflowError:
            beyond = Trouble("The log would end beyond the year 9999.", "Correct the time of the row.", "not-a-time")
            table.hold(typed, "when", beyond)
            continue
        mixes.setdefault(row["mix_id"], []).append((member, span))
    for mix, placed in mixes.items():
        members, spans = [member for member, _ in placed], [span for _, span in placed]
        begin, end = max(first for first, _ in spans), min(last for _, last in spans)
        if begin > min(last + _answered(log) for (_, _, _, log, _), (_, last) in placed):
            _hold_apart(mix, members, spans)
            continue
        earliest = min(first for first, _ in spans)
        for (table, typed, row, log, digest), (first, _) in placed:
            hold_another_row(table, typed, row, log, planned_s=row["planned_s"])
            digest["common_s"] = max((end - begin).total_seconds(), 0.0)
            late = (first - earliest).total_seconds()
            if late > SKEW_S and not typed.held:
                skew = Trouble(
                    f"This log of {mix} starts {late:.1f} s after the first one.", "Do the clocks agree?", "skew"
                )
                table.warn(typed, "log", skew)


def _hold_apart(mix: str, members: list[_Member], spans: list[_Span]) -> None:
    """One problem for the mix, at the log that stands apart from the first."""
    last = max(range(len(spans)), key=lambda place: spans[place][0])
    table, typed, row, _, _ = members[last]
    apart = Trouble(
        f"The logs of {mix} do not overlap: is a time zone missing? {row['client_id']} starts at "
        f"{spans[last][0]:%Y-%m-%d %H:%M:%S}Z, when another had ended at {min(end for _, end in spans):%H:%M:%S}Z.",
        "Give its times an offset, or the row a timezone.",
        "logs-apart",
    )
    table.hold(typed, "log", apart)
    for _, other, _, _, _ in members:
        other.held = True


def _span(row: Mapping[str, object], log: Log, starts: Iterable[dt.datetime]) -> _Span:
    """First and last instant of a log. Raises OverflowError for one that the calendar does not have.

    starts  of the logs of its mix that state them; a log whose row has no clock time began with the first of these
    """
    at = str(row["at_utc"])
    by_row = earliest_instant(at) if has_clock(at) else min(starts, default=earliest_instant(at))
    start = log.started or by_row
    first, last = int(log.t_us[0]), int(log.t_us[-1])
    return start + dt.timedelta(microseconds=first), start + dt.timedelta(microseconds=last)


def _answered(log: Log) -> dt.timedelta:
    """From the last request to the last answer, at most a day."""
    assert log.latency_us is not None
    late_us = int((log.t_us + log.latency_us).max() - log.t_us[-1])
    return dt.timedelta(microseconds=min(max(late_us, 0), 86_400_000_000))
