"""Logs of one multi-client run on common time: every client writes its own, by its own clock and zone."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping

from catalog.checking.known import Row
from catalog.checking.rows import TypedRow, TypedTable
from catalog.checking.troubles import Trouble
from catalog.reading.logs import Log

SKEW_S = 2.0


def align(stations: Iterable[tuple[TypedTable, TypedRow, Row, Log, dict[str, float]]]) -> None:
    """Add the common time of each mix to the digests of its logs (common_s [s]).

    Logs that start more than 2 s apart are listed; logs that do not overlap at all hold their rows. A log
    that states no instants starts at its row's time.
    """
    mixes: dict[str, list[tuple[TypedTable, TypedRow, Row, Log, dict[str, float]]]] = {}
    spans_of: dict[str, list[tuple[dt.datetime, dt.datetime]]] = {}
    for item in stations:
        table, typed, row, log, _ = item
        if typed.held:
            continue
        try:
            span = _span(row, log)
        except OverflowError:
            beyond = Trouble("The log would end beyond the year 9999.", "Correct the time of the row.", "not-a-time")
            table.hold(typed, "when", beyond)
            continue
        mixes.setdefault(row["mix_id"], []).append(item)
        spans_of.setdefault(row["mix_id"], []).append(span)
    for mix, members in mixes.items():
        spans = spans_of[mix]
        begin, end = max(first for first, _ in spans), min(last for _, last in spans)
        common = (end - begin).total_seconds()
        if len(members) > 1 and common <= 0:
            _hold_apart(mix, members, spans)
            continue
        earliest = min(first for first, _ in spans)
        for (table, typed, _, _, digest), (first, _) in zip(members, spans, strict=True):
            digest["common_s"] = common
            late = (first - earliest).total_seconds()
            if late > SKEW_S:
                skew = Trouble(
                    f"This log of {mix} starts {late:.1f} s after the first one.", "Do the clocks agree?", "skew"
                )
                table.warn(typed, "log", skew)


def _hold_apart(
    mix: str,
    members: list[tuple[TypedTable, TypedRow, Row, Log, dict[str, float]]],
    spans: list[tuple[dt.datetime, dt.datetime]],
) -> None:
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


def _span(row: Mapping[str, object], log: Log) -> tuple[dt.datetime, dt.datetime]:
    """First and last instant of a log. Raises OverflowError for one that the calendar does not have."""
    start = log.started or dt.datetime.fromisoformat(str(row["at_utc"]))
    first, last = int(log.t_us[0]), int(log.t_us[-1])
    if log.span_us is not None:
        last += int(log.span_us[-1])
    return start + dt.timedelta(microseconds=first), start + dt.timedelta(microseconds=last)
